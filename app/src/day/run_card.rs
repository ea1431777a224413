//! One run that was ridden: what the rider said, what was changed, how the bike was set up, its files.

use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::changed::Changed;
use super::files::FileRow;
use super::question::Question;
use super::sheet_form::SheetForm;
use super::written::Sheet;
use crate::hand_over::is_copy;
use crate::store::{Place, store};

#[component]
pub fn RunCard(run: usize) -> impl IntoView {
    let store = store();
    let sheet = Sheet::of(Descent::Ridden(run));
    let name = sheet.memo(|sheet| sheet.name.clone());
    let time_of_day = sheet.memo(|sheet| sheet.time_of_day.clone());
    let words = sheet.memo(|sheet| sheet.words.clone());
    let change_words = sheet.memo(|sheet| sheet.setup.words.clone());
    let logs = sheet.memo(|sheet| sheet.logs.clone());
    let copy = move || is_copy(store);
    let go = move |place| {
        move |_| {
            store.run.set(run);
            store.place.set(place);
        }
    };
    view! {
        <article class="run" aria-label=move || sheet.name()>
            <div class="run-head">
                <input
                    class="run-name"
                    aria-label="Name of the run"
                    readonly=copy
                    prop:value=move || name.get()
                    on:change:target=move |e| sheet.write("name", |sheet| sheet.name = e.target().value())
                />
                <label class="ridden-at">
                    <span>"ridden at"</span>
                    <input
                        autocomplete="off"
                        readonly=copy
                        prop:value=move || time_of_day.get()
                        on:change:target=move |e| sheet.write("time of day", |sheet| sheet.time_of_day = e.target().value())
                    />
                </label>
                <span class="buttons">
                    <button on:click=go(Place::Check)>"Check"</button>
                    <button on:click=go(Place::Readout)>"Read-out"</button>
                    <button class="main" on:click=go(Place::Ride)>"Open in Ride"</button>
                </span>
            </div>
            <fieldset class="as-it-came" disabled=copy>
            <div class="run-words">
                <label class="field wide">
                    <span>"Rider said"</span>
                    <textarea
                        rows="2"
                        prop:value=move || words.get()
                        on:change:target=move |e| sheet.write("the rider's words", |sheet| sheet.words = e.target().value())
                    ></textarea>
                </label>
                <label class="field wide">
                    <span>"Changed before this run, in your words"</span>
                    <textarea
                        rows="2"
                        prop:value=move || change_words.get()
                        on:change:target=move |e| sheet.write("what was changed", |sheet| sheet.setup.words = e.target().value())
                    ></textarea>
                </label>
            </div>
            <Changed run=sheet.run/>
            <SheetForm sheet/>
            <Question sheet/>
            <table class="files">
                <thead>
                    <tr><th>"File"</th><th>"Time"</th><th>"Rate"</th><th>"Rows"</th><th>"Gaps"</th><th>"Run"</th></tr>
                </thead>
                <tbody>
                    {move || logs.get().into_iter().map(|log| view! { <FileRow run log/> }).collect_view()}
                </tbody>
            </table>
            </fieldset>
        </article>
    }
}
