//! A link that says where to look.

use evenkeel_core::handover::{RunName, View};
use leptos::prelude::*;

use super::link_out::LinkOut;
use super::wish::{Wish, made, remarks_on};
use crate::field::Choice;
use crate::hand_over::shared::id_to_be;
use crate::store::store;

/// Places that a view can open in, as a link names them.
const PLACES: [(&str, &str); 2] = [("ride", "Ride"), ("read-out", "Read-out")];

#[component]
pub fn ViewWish() -> impl IntoView {
    let store = store();
    let place = RwSignal::new(PLACES[0].0);
    let with = [(); 4].map(|()| RwSignal::new(true));
    let wish = Memo::new(move |_| {
        let (day, run) = (store.day.get(), store.run.get());
        let sheet = day.runs.get(run)?.clone();
        let taken = with.map(|with| with.get());
        let take = |which: usize| taken.get(which).copied().unwrap_or_default();
        Some(Wish::View(Box::new(View {
            id: id_to_be(store),
            day: day.name.clone(),
            place: place.get().to_owned(),
            run: Some(RunName::of(&sheet)),
            section: store.section.get(),
            cursor_s: Some(store.cursor_s.get()),
            range_s: store.range_s.get(),
            sections: if take(0) { day.sections.clone() } else { Vec::new() },
            marks: if take(1) { sheet.marks.clone() } else { Vec::new() },
            anchors: if take(2) { sheet.video.anchors } else { Vec::new() },
            remarks: if take(3) { remarks_on(store, run) } else { Default::default() },
        })))
    });
    let ticks = ["Sections", "Marks", "Video times", "Remarks"].into_iter().zip(with).map(|(name, with)| {
        view! {
            <label class="tick">
                <input type="checkbox" prop:checked=move || with.get() on:change:target=move |event| with.set(event.target().checked())/>
                {name}
            </label>
        }
    });
    let made = made(store, wish);
    view! {
        <p class="quiet">"The run in view, where its cursor stands, and the range set in Ride. Whoever opens it needs the log, or the day file."</p>
        <Choice label="Opens in" chosen=place options=PLACES.to_vec()/>
        <fieldset class="ticks"><legend>"With"</legend>{ticks.collect_view()}</fieldset>
        <LinkOut made/>
    }
}
