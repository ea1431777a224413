//! What goes with a day beside what is typed, and whose day it is.

use evenkeel_core::Day;
use evenkeel_core::handover::{Manifest, Remarks, SCHEMA};
use leptos::prelude::*;

use crate::store::{Place, Store, store};

/// By which a day is known to others, whether it is theirs, and what was said of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shared {
    /// Empty where it never left.
    pub id: String,
    /// It is somebody else's, to look at and to remark on.
    pub copy: bool,
    pub remarks: Remarks,
}

impl Shared {
    /// With the day that it belongs to.
    pub fn with(self, day: Day) -> Manifest {
        let Self { id, copy, remarks } = self;
        Manifest { schema: SCHEMA, id, copy, day, remarks, sources: Vec::new() }
    }
}

/// The id of the day, or the one it will have once something of it leaves.
pub fn id_to_be(store: Store) -> String {
    let known = store.shared.with(|shared| shared.id.clone());
    if known.is_empty() { store.hand_over.id_to_be.get_value() } else { known }
}

/// Something of the day leaves: what comes back will know it by its id.
pub fn leaves(store: Store) {
    let id = untrack(|| id_to_be(store));
    if store.shared.with_untracked(|shared| shared.id != id) {
        store.shared.update(|shared| shared.id = id);
    }
}

/// Whether the day is somebody else's.
pub fn is_copy(store: Store) -> bool {
    store.shared.with(|shared| shared.copy)
}

/// Whether nothing was typed or loaded yet.
pub fn is_blank(store: Store) -> bool {
    store.day.with_untracked(|day| *day == Day::default())
        && store.sources.with_untracked(Vec::is_empty)
        && store.shared.with_untracked(|shared| *shared == Shared::default())
}

/// Keeps somebody else's day as it came: whatever place of the page changes it, it is put back, and that is said.
pub fn guard(store: Store) {
    let copy = Memo::new(move |_| is_copy(store));
    Effect::new(move |_| {
        let (day, owners) = (store.day.get(), store.hand_over.owners);
        if !copy.get() {
            return owners.set_value(None);
        }
        let Some(kept) = owners.get_value() else { return owners.set_value(Some(day)) };
        let as_it_was = with_own_view(kept, &day);
        if as_it_was != day {
            store.day.set(as_it_was);
            store.tell(
                "This day is somebody else's, so it stays as it came. A remark tells its owner; in Hand-over it can be made a day of your own.",
            );
        }
    });
}

/// What belongs to looking and not to the day: the video played here, and findings' usual values, which are made anew.
fn with_own_view(mut kept: Day, now: &Day) -> Day {
    for (kept, now) in kept.runs.iter_mut().zip(&now.runs) {
        kept.video = now.video.clone();
    }
    if kept.findings.baseline.names().eq(now.findings.baseline.names()) {
        kept.findings.baseline = now.findings.baseline.clone();
    }
    kept
}

/// Changes somebody else's day by what its owner sent later.
pub fn take_from_owner(store: Store, change: impl FnOnce(&mut Day)) {
    store.hand_over.owners.set_value(None);
    store.day.update(change);
}

/// Says above every place that the day is somebody else's.
#[component]
pub fn Whose() -> impl IntoView {
    let store = store();
    let name = move || {
        let name = store.day.with(|day| day.name.clone());
        if name.is_empty() { "This day".to_owned() } else { format!("“{name}”") }
    };
    let held = move || {
        let run =
            store.hand_over.extract.with(|extract| extract.as_ref().map(|extract| extract.run.name.clone()));
        run.map(|run| format!(" It holds a piece of {run}, not the log."))
    };
    move || {
        is_copy(store).then(|| {
            view! {
                <p class="whose" role="status">
                    <span><b>{name}</b>" is somebody else's: look at everything, write remarks."{held}</span>
                    <button class="small" on:click=move |_| store.place.set(Place::HandOver)>"Remarks"</button>
                </p>
            }
        })
    }
}
