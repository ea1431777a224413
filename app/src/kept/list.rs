//! What is kept, said on the page: its state in the bar, the kept days in Day.

use leptos::prelude::*;
use leptos::task::spawn_local;

use super::database::{Database, Record};
use super::{Keeping, ask, refused, remember, take_over};
use crate::store::{Store, store};

/// Whether what was typed is kept.
#[component]
pub fn KeptState() -> impl IntoView {
    let store = store();
    view! {
        <span class="kept-state">
            // Not read out: it changes with every word that is typed.
            {move || match store.keeping.get() {
                Keeping::Coming => Some(view! { <span class="quiet" title="The last changes are being written in this browser.">"keeping…"</span> }.into_any()),
                Keeping::Kept => Some(view! { <span class="quiet" title="In this browser, on this computer. It comes back after a reload.">"kept"</span> }.into_any()),
                _ => None,
            }}
            <span role="status">{move || match store.keeping.get() {
                Keeping::Nothing | Keeping::Coming | Keeping::Kept => ().into_any(),
                Keeping::Refused(why) => {
                    let told = format!("Not kept: this browser refuses ({why}). What was kept before is safe. Leave this page open; forget a day that is not needed any more, or free some disk, and change anything to try again.");
                    view! { <abbr class="not-kept" tabindex="0" title=told>"▲ not kept"</abbr> }.into_any()
                }
                Keeping::Elsewhere => view! {
                    <span class="not-kept">"▲ changed in another tab; changes here are not kept "</span>
                    <button class="small" on:click=move |_| spawn_local(take_over(store))>"Take over"</button>
                }.into_any(),
                Keeping::NotAsked => view! {
                    <details class="not-asked bar-more">
                        <summary class="not-kept">"▲ not kept: why?"</summary>
                        <div>
                            <p>"This page was opened from a file. Some browsers let every page that is opened from a file on this computer read what this one keeps, so nothing is kept unless you ask for it. The day is safest saved as a file of its own."</p>
                            <button id="keep-here" on:click=move |_| ask(store)>"Keep it in this browser all the same"</button>
                        </div>
                    </details>
                }.into_any(),
            }}</span>
        </span>
    }
}

/// The days that this browser keeps.
#[component]
pub fn KeptDays() -> impl IntoView {
    let store = store();
    let days = RwSignal::new(Vec::<Record>::new());
    let read = move || {
        spawn_local(async move {
            if let Some(database) = database(store) {
                match database.days().await {
                    Ok(kept) => days.set(kept),
                    Err(problem) => store.keeping.set(refused(problem)),
                }
            }
        });
    };
    let rows = move || {
        let row = |day: Record| {
            let at = js_sys::Date::new(&day.at_ms.into());
            let at = String::from(at.to_locale_string("default", &wasm_bindgen::JsValue::UNDEFINED));
            let is_open = store.kept.with_value(|kept| kept.as_ref().is_some_and(|kept| kept.key == day.key));
            let (key, doomed) = (day.key.clone(), day.key.clone());
            let forget = move |_| {
                let doomed = doomed.clone();
                spawn_local(async move {
                    let Some(database) = database(store) else { return };
                    // Nothing of the open one is written any more, and what is being written is waited for.
                    let open = is_open.then(|| store.kept.try_update_value(Option::take)).flatten().flatten();
                    let _written = match &open {
                        Some(open) => Some(open.turn.lock().await),
                        None => None,
                    };
                    if let Err(problem) = database.forget(&doomed).await {
                        store.keeping.set(refused(problem));
                    }
                    if is_open { go_to(None) } else { read() }
                });
            };
            let open = (!is_open).then(|| {
                view! { <button class="small" on:click=move |_| go_to(Some(&key))>"Open"</button> }
            });
            view! {
                <tr>
                    <th scope="row">{day.title}{day.copy.then_some(" (somebody else's)")}{is_open.then_some(" (open)")}</th>
                    <td class="quiet">{at}</td>
                    <td class="buttons">{open}<button class="small" on:click=forget>"Forget it and its files"</button></td>
                </tr>
            }
        };
        days.get().into_iter().map(row).collect_view()
    };
    view! {
        <details class="kept-days" on:toggle=move |_| read()>
            <summary><b>"Kept in this browser"</b></summary>
            <p class="quiet">"Days and their log files stay on this computer, in this browser, until they are forgotten here. Whoever uses this browser can open them. Safari forgets them after seven days without a visit, unless Evenkeel is installed there."</p>
            <table><tbody>{rows}</tbody></table>
            <button id="new-day" on:click=move |_| go_to(None)>"Begin a new day"</button>
        </details>
    }
}

pub(super) fn database(store: Store) -> Option<Database> {
    store.kept.with_value(|kept| kept.as_ref().map(|kept| kept.database.clone()))
}

/// Opens a kept day or a new one, with nothing of the one before in any memory.
pub fn go_to(key: Option<&str>) {
    remember(key);
    let _ = window().location().reload();
}
