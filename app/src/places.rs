//! The place that is shown, and what follows from the day while any is.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::day::DayPlace;
use crate::later::{Later, Part};
use crate::readouts::Subject;
use crate::store::{Place, Store, store};

#[component]
pub fn Places(later: Later) -> impl IntoView {
    let store = store();
    // Going to where one is builds nothing anew.
    let place = Memo::new(move |_| store.place.get());
    view! {
        <main>
            {move || match place.get() {
                Place::Day => view! { <DayPlace/> }.into_any(),
                Place::Check => later.show(Part::Check),
                Place::Ride => later.show(Part::Ride),
                Place::Readout => later.show(Part::Readout),
                Place::BackToBack => later.show(Part::BackToBack),
                Place::HandOver => later.show(Part::HandOver),
            }}
        </main>
    }
}

/// Keeps the run in view analysed, and the day's sections found in it.
pub fn follow(store: Store) {
    // What the day's sections are made of, in the run in view.
    let on_track = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| {
            let passages = day.runs.get(run).map(|sheet| sheet.passages.clone());
            (day.sections.clone(), day.course.clone(), passages)
        })
    });
    // Found again, and faster than the numbers, whenever one of them changes.
    Effect::new(move |_| {
        on_track.track();
        if store.ride.with(Option::is_some) {
            spawn_local(store.find_track());
        }
    });
    // The run in view is analysed anew whenever something is typed that its numbers depend on.
    let subject = Memo::new(move |_| Subject::of(store, store.run.get()));
    Effect::new(move |before: Option<Option<usize>>| {
        let run = subject.with(|subject| subject.as_ref().map(|subject| subject.run));
        if before.flatten() != run {
            store.ride.set(None);
            store.track.set(None);
        }
        if run.is_some() {
            spawn_local(store.analyse());
        }
        run
    });
}
