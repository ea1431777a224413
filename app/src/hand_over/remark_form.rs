//! Writing a remark on the day, a run, a moment or a section.

use evenkeel_core::align::moment;
use evenkeel_core::handover::{Remark, RemarkAt, RemarkPlace, RunName};
use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::random;
use super::remarks::set_author;
use crate::field::Choice;
use crate::store::store;

/// What is remarked on.
#[derive(Clone, PartialEq)]
enum About {
    Moment,
    Run,
    Section(String),
    Day,
}

#[component]
pub fn RemarkForm() -> impl IntoView {
    let store = store();
    let author = store.hand_over.author;
    let words = RwSignal::new(String::new());
    let about = RwSignal::new(About::Moment);
    let wrong = RwSignal::new(None::<&'static str>);
    let run = Memo::new(move |_| {
        let run = store.run.get();
        store
            .day
            .with(|day| day.runs.get(run).map(|_| day.run_name(Descent::Ridden(run))))
            .unwrap_or_default()
    });
    let sections = Memo::new(move |_| {
        let here = store.track.with(|track| {
            track.as_ref().map(|track| {
                track.sections.iter().map(|placed| placed.section.name.clone()).collect::<Vec<_>>()
            })
        });
        let days = || store.day.with(|day| day.sections.iter().map(|section| section.name.clone()).collect());
        here.filter(|here| !here.is_empty()).unwrap_or_else(days)
    });
    let places = Signal::derive(move || {
        let (run, at) = (run.get(), moment::format(store.cursor_s.get(), 0.1));
        let sections = sections.get().into_iter();
        let sections = sections.map(|name| (About::Section(name.clone()), format!("{run}, {name}")));
        [(About::Moment, format!("{run}, {at} (cursor)")), (About::Run, format!("{run}, all of it"))]
            .into_iter()
            .chain(sections)
            .chain([(About::Day, "the whole day".to_owned())])
            .collect::<Vec<_>>()
    });
    let add = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        if author.with_untracked(|author| author.trim().is_empty()) {
            return wrong.set(Some("Say who you are, so that others know."));
        }
        if words.with_untracked(|words| words.trim().is_empty()) {
            return wrong.set(Some("There is nothing to say yet."));
        }
        wrong.set(None);
        let named = || {
            let run = store.run.get_untracked();
            store.day.with_untracked(|day| day.runs.get(run).map(RunName::of))
        };
        let at = match about.get_untracked() {
            About::Day => None,
            About::Run => Some(RemarkAt::Whole),
            About::Moment => Some(RemarkAt::time_s(store.cursor_s.get_untracked())),
            About::Section(name) => Some(RemarkAt::Section(name)),
        };
        let place = at.map(|at| RemarkPlace { run: named(), at }).unwrap_or_default();
        let remark = Remark {
            written_ms: js_sys::Date::now() as i64,
            id: random::id(),
            author: author.get_untracked().trim().to_owned(),
            words: words.get_untracked().trim().to_owned(),
            place,
        };
        store.shared.update(|shared| shared.remarks.add(remark));
        words.set(String::new());
    };
    view! {
        <form class="fields remark-form" on:submit=add>
            <label class="field wide">
                <span>"Remark"</span>
                <textarea class="remark-words" rows="2" prop:value=move || words.get() on:input:target=move |event| words.set(event.target().value())></textarea>
            </label>
            <Choice label="About" chosen=about options=places/>
            <label class="field">
                <span>"By"</span>
                <input class="remark-author" autocomplete="name" placeholder="your name" prop:value=move || author.get() on:change:target=move |event| set_author(store, event.target().value())/>
            </label>
            <button class="main add-remark">"Add"</button>
            <p class="wrong" role="alert">{move || wrong.get()}</p>
        </form>
    }
}
