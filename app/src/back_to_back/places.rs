//! From a number to its place in Ride.

use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use crate::store::{Store, store};

/// Start and end of a section in a run, s.
fn span_of(store: Store, run: usize, section: &str) -> Option<[f64; 2]> {
    let readout = store.readout(run)?;
    let section = readout.sections.iter().find(|known| known.name == section)?;
    Some([section.start_s, section.end_s])
}

/// A section in both runs that are laid over each other, each one click away.
#[component]
pub fn RideLinks(#[prop(into)] section: String, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let store = store();
    let link = move |side: usize, letter: &'static str| {
        let section = section.clone();
        let words = {
            let section = section.clone();
            move || {
                let run = laid.get().map(|runs| runs[side]);
                let name = run.map(|run| store.day.with(|day| day.run_name(Descent::Ridden(run))));
                format!("{} of {} in Ride", section, name.unwrap_or_default())
            }
        };
        let go = move |_| {
            let run = laid.get_untracked().map(|runs| runs[side]);
            if let Some((run, span_s)) =
                run.and_then(|run| Some((run, untrack(|| span_of(store, run, &section))?)))
            {
                store.show_in_ride(run, span_s);
            }
        };
        view! {
            <button class="small" title=words.clone() aria-label=words on:click=go>{letter}</button>
        }
    };
    view! { {link(0, "A")}{link(1, "B")} }
}
