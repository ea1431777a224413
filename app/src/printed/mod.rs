//! The printed sheet: one page of one run, for the van's wall and the coach's folder.

mod findings;
mod setup;

use std::sync::Arc;

use evenkeel_core::align::moment;
use evenkeel_core::setup::Descent;
use evenkeel_core::{Day, RunReadout, SectionReadout};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::later::{Later, Part};
use crate::numbers;
use crate::readout;
use crate::store::store;
use crate::timing::breathe;
use findings::findings;
use setup::setup;

/// So many sections have room.
const SECTIONS: usize = 12;

/// Whether the sheet of the run in view lies in the page, to be printed.
#[derive(Clone, Copy)]
pub struct Printing(RwSignal<bool>);

/// The sheet, which only paper shows: it is made when the browser is about to print, from whatever place.
#[component]
pub fn Printed(later: Later) -> impl IntoView {
    let printing = RwSignal::new(false);
    provide_context(Printing(printing));
    let begins = window_event_listener_untyped("beforeprint", move |_| printing.set(true));
    let ends = window_event_listener_untyped("afterprint", move |_| printing.set(false));
    on_cleanup(move || {
        begins.remove();
        ends.remove();
    });
    move || printing.get().then(|| later.show(Part::Sheet))
}

/// The sheet of the run in view.
#[component]
pub fn Sheet() -> impl IntoView {
    let store = store();
    move || {
        let run = store.run.get();
        let readout = store.readout(run)?;
        Some(store.day.with(|day| sheet(day, run, &readout)))
    }
}

/// Prints the run in view.
#[component]
pub fn PrintButton() -> impl IntoView {
    let printing = expect_context::<Printing>();
    let print = move |_| {
        spawn_local(async move {
            // A page that prints itself is not asked before: it must lie there already.
            printing.0.set(true);
            breathe().await;
            let _ = window().print();
        });
    };
    view! { <button class="small" id="print" title="One page: set-up, findings, numbers and pictures of this run." on:click=print>"Print this run"</button> }
}

fn sheet(day: &Day, run: usize, readout: &Arc<RunReadout>) -> AnyView {
    let (Some(written), Some(whole)) = (day.runs.get(run), readout.sections.first()) else {
        return ().into_any();
    };
    let of_day = [day.name.as_str(), day.bike.name.as_str()].map(|name| fitting(name, 60));
    let at = (!written.time_of_day.trim().is_empty())
        .then(|| format!("ridden at {}", fitting(&written.time_of_day, 20)));
    // Places in the log are told by its own time, which need not begin with the run.
    let [time, start] = [(whole.time_s, 0.01), (whole.start_s, 0.1)].map(|(t_s, to)| moment::format(t_s, to));
    let time = format!("{time} long, from {start} of its log");
    let facts = of_day.into_iter().filter(|name| !name.is_empty()).chain(at).chain([time]);
    let words = written.words.trim();
    view! {
        <article class="printed">
            <header>
                <h1>{fitting(&written.name, 50)}</h1>
                <p>{facts.collect::<Vec<_>>().join(" · ")}</p>
            </header>
            <div class="printed-columns">
                <div>
                    {(!words.is_empty()).then(|| view! { <h2>"Rider said"</h2><p>{fitting(words, 220)}</p> })}
                    {setup(day, Descent::Ridden(run))}
                </div>
                {findings(&readout.findings)}
            </div>
            {numbers::in_brief(whole)}
            {times(&readout.sections)}
            {readout::on_paper(whole)}
            <div class="printed-notes"><p>"Notes"</p></div>
            <footer>
                <span>"Measurements advise; they do not decide. One change at a time, inside the makers' limits, at low speed first."</span>
                <span>"Evenkeel"</span>
            </footer>
        </article>
    }
    .into_any()
}

/// How long each section of the day took.
fn times(sections: &[SectionReadout]) -> AnyView {
    let parts = sections.get(1..).unwrap_or_default();
    if parts.is_empty() {
        return ().into_any();
    }
    let more = parts.len().saturating_sub(SECTIONS);
    let time = |part: &SectionReadout| {
        let (name, time) = (fitting(&part.name, 24), moment::format(part.time_s, 0.01));
        view! { <span>{name}" "<b>{time}</b></span> }
    };
    view! {
        <p class="printed-times">
            {parts.iter().take(SECTIONS).map(time).collect_view()}
            {(more > 0).then(|| view! { <span>{format!("{more} more on the screen")}</span> })}
        </p>
    }
    .into_any()
}

/// As much of a text as a sheet has room for; what is left out is said to be.
fn fitting(text: &str, most: usize) -> String {
    let text = text.trim();
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most).collect();
    format!("{} … (more on the screen)", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_that_is_cut_says_so() {
        assert_eq!(fitting(" harsh in the rocks ", 20), "harsh in the rocks");
        assert_eq!(fitting("ab cd", 3), "ab … (more on the screen)");
    }
}
