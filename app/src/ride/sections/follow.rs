//! The section in view: chosen in one place, shown in all.

use evenkeel_core::track::Stretch;
use leptos::prelude::*;

use crate::ride::chart::whole_of;
use crate::ride::view::View;
use crate::store::Store;

/// Shows a section, or the whole run; once more if it is shown already and the view was moved since.
pub fn show(store: Store, view: RwSignal<View>, name: Option<String>) {
    if store.section.with_untracked(|shown| *shown == name) {
        if let Some(section) = view_of(store, name.as_deref()) {
            view.set(section);
        }
    } else {
        store.section.set(name);
    }
}

/// Whenever another section is chosen, or the same in another run, the traces show it.
pub fn follow(store: Store, view: RwSignal<View>) {
    Effect::new(move |shown: Option<Option<(usize, Option<String>)>>| {
        let chosen = Some((store.run.get(), store.section.get()));
        // Only a choice moves the view, not a track that is found anew.
        store.track.track();
        match shown {
            Some(shown) if shown == chosen => shown,
            // A new run is shown whole already.
            None | Some(None) if store.section.with(Option::is_none) => chosen,
            Some(Some((run, _))) if run != store.run.get() && store.section.with(Option::is_none) => chosen,
            shown => {
                let name = store.section.get();
                match view_of(store, name.as_deref()) {
                    Some(section) => {
                        view.set(section);
                        chosen
                    }
                    // Its track may yet come.
                    None => shown.flatten(),
                }
            }
        }
    });
}

/// The stretch of the run in view that a section is; of none the whole run.
fn view_of(store: Store, name: Option<&str>) -> Option<View> {
    let Some(name) = name else {
        return store.ride.with_untracked(|ride| ride.as_ref().map(|ride| whole_of(Some(ride))));
    };
    store.track.with_untracked(|track| {
        let track = track.as_ref().filter(|track| track.run == store.run.get_untracked())?;
        let placed = track.sections.iter().find(|placed| placed.section.name == name)?;
        let Stretch { start_s, end_s, .. } = *placed.stretch.as_ref().ok()?;
        Some(View { start_s, end_s })
    })
}
