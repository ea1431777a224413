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

/// What was chosen, and the view that shows it.
struct Shown {
    chosen: (usize, Option<String>),
    view: View,
}

/// Whenever another section is chosen, or the same in another run, the traces show it.
pub fn follow(store: Store, view: RwSignal<View>) {
    Effect::new(move |before: Option<Option<Shown>>| {
        let (before, now) = (before.flatten(), view.get_untracked());
        let chosen = (store.run.get(), store.section.get());
        store.track.track();
        let whole = chosen.1.is_none();
        match &before {
            // A track that is found anew moves the view only where it still shows the section.
            Some(shown) if shown.chosen == chosen && (whole || shown.view != now) => return before,
            // A run is shown whole already when it comes into view.
            Some(shown) if whole && shown.chosen.0 != chosen.0 => return Some(Shown { chosen, view: now }),
            None if whole => return Some(Shown { chosen, view: now }),
            _ => {}
        }
        // Its track may yet come.
        let Some(section) = view_of(store, chosen.1.as_deref()) else { return before };
        if section != now {
            view.set(section);
        }
        Some(Shown { chosen, view: section })
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
