//! One run to come: what is planned for it, and what it is to show.

use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::changed::Changed;
use super::question::Question;
use super::sheet_form::SheetForm;
use super::undo::change;
use super::written::Sheet;
use crate::store::store;

#[component]
pub fn ComingCard(run: usize) -> impl IntoView {
    let store = store();
    let sheet = Sheet::of(Descent::Coming(run));
    let words = sheet.memo(|sheet| sheet.setup.words.clone());
    let remove = move |_| {
        let name = store.day.with_untracked(|day| day.run_name(sheet.run));
        change(store, format!("{name} no longer planned"), |day| {
            if run < day.coming.len() {
                day.coming.remove(run);
            }
        });
    };
    view! {
        <article class="coming" aria-label=move || format!("{}, planned", sheet.name())>
            <div class="run-head">
                <h3>{move || sheet.name()}" "<span class="quiet">"planned"</span></h3>
                <button class="small" on:click=remove>"Remove"</button>
            </div>
            <Changed run=sheet.run/>
            <label class="field wide">
                <span>"In your words"</span>
                <textarea
                    rows="1"
                    prop:value=move || words.get()
                    on:change:target=move |e| sheet.write("what is planned", |sheet| sheet.setup.words = e.target().value())
                ></textarea>
            </label>
            <SheetForm sheet open=true/>
            <Question sheet/>
        </article>
    }
}
