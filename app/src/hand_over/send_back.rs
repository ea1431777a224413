//! Remarks back to the owner of the day.

use evenkeel_core::handover::{DayFile, View};
use leptos::prelude::*;

use super::contents::WhatLeaves;
use super::link_card::{LinkOut, Wish, made};
use super::shared::Shared;
use crate::save::{file_name, save_text};
use crate::store::store;

#[component]
pub fn SendBack() -> impl IntoView {
    let store = store();
    let none = Memo::new(move |_| store.shared.with(|shared| shared.remarks.is_empty()));
    let wish = Memo::new(move |_| {
        let Shared { id, remarks, .. } = store.shared.get();
        let day = store.day.with(|day| day.name.clone());
        (!remarks.is_empty()).then(|| Wish::View(Box::new(View { id, day, remarks, ..View::default() })))
    });
    let made = made(store, wish);
    let as_file = move || {
        let Shared { id, remarks, .. } = store.shared.get();
        DayFile::of_remarks(&id, &store.day.with(|day| day.name.clone()), remarks)
    };
    let save_file = move |_| {
        let file = untrack(as_file);
        match file.manifest().written() {
            Ok(json) => {
                let text = String::from_utf8(json).unwrap_or_default();
                save_text(&text, "application/json", &format!("remarks-{}.json", file_name(&file.day.name)));
            }
            Err(refused) => store.tell(refused.to_string()),
        }
    };
    view! {
        <section class="card" aria-label="Send back">
            <h2>"Send remarks back"</h2>
            <p class="quiet">"The owner opens the link or the file; the remarks are added to what is there, and nothing else is touched."</p>
            <Show when=move || !none.get() fallback=|| view! { <p>"There is no remark to send yet."</p> }>
                <LinkOut made/>
                <details>
                    <summary>"Or as a file"</summary>
                    {move || view! { <WhatLeaves contents=as_file().contents() who="Anybody who gets the file.".to_owned()/> }}
                    <p class="buttons"><button id="save-remarks" on:click=save_file>"Save the remarks as a file"</button></p>
                </details>
            </Show>
        </section>
        <section class="card" aria-label="Own day">
            <details>
                <summary><b>"Go on with it as a day of your own"</b></summary>
                <p class="quiet">"The day can then be changed here. Its owner's day stays as it is; remarks still find their way back."</p>
                <p class="buttons">
                    <button id="make-own" on:click=move |_| store.shared.update(|shared| shared.copy = false)>"Make it my own"</button>
                </p>
            </details>
        </section>
    }
}
