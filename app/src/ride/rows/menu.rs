//! The menu of rows: which are shown, in which order, how tall.

use std::sync::Arc;

use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{HtmlElement, KeyboardEvent, Node};

use super::{Placed, RowChoice, RowSet};
use crate::complaints::Complaint;
use crate::deferred::Deferred;
use crate::save_picture::SavePicture;
use crate::store::store;

#[component]
pub fn RowMenu(placed: Memo<Arc<Vec<Placed>>>) -> impl IntoView {
    let store = store();
    let menu = NodeRef::<html::Details>::new();
    let summary = NodeRef::<html::Summary>::new();
    let close = move || {
        if let Some(menu) = menu.get_untracked() {
            menu.set_open(false);
        }
    };
    // A press anywhere else closes it.
    let outside = window_event_listener(leptos::ev::pointerdown, move |event| {
        let target = event.target().and_then(|target| target.dyn_into::<Node>().ok());
        if menu.get_untracked().is_some_and(|menu| !menu.contains(target.as_ref())) {
            close();
        }
    });
    on_cleanup(move || outside.remove());
    let on_key = move |event: KeyboardEvent| {
        if event.key() == "Escape" && menu.get_untracked().is_some_and(|menu| menu.open()) {
            event.stop_propagation();
            close();
            if let Some(summary) = summary.get_untracked() {
                let _ = summary.focus();
            }
        }
    };
    let keys = Memo::new(move |_| {
        placed.with(|placed| placed.iter().map(|placed| placed.row.key.to_string()).collect::<Vec<_>>())
    });
    let choose = move |set| store.rows.update(|choice| choice.set = set);
    view! {
        <details class="rows-menu" node_ref=menu on:keydown=on_key>
            <summary id="rows" node_ref=summary>"Rows"</summary>
            <div class="sheet"><Deferred>
                <Complaints/>
                <div class="buttons">
                    <button id="rows-usual" on:click=move |_| {
                        store.rows.update(|choice| {
                            choice.set = RowSet::Usual;
                            choice.reset();
                        });
                    }>"Usual rows"</button>
                    {move || {
                        let apart = store.rows.with(|choice| choice.set == RowSet::Apart);
                        let (to, words) = if apart { (RowSet::Usual, "Back to joined rows") } else { (RowSet::Apart, "Every channel in its own row") };
                        view! { <button id="rows-apart" on:click=move |_| choose(to)>{words}</button> }
                    }}
                </div>
                <ul>
                    <For each=move || keys.get() key=Clone::clone let:key>
                        <MenuRow key placed/>
                    </For>
                </ul>
                <p class="save-traces">"The traces as they are shown: "<SavePicture name="traces" drawing=false/></p>
            </Deferred></div>
        </details>
    }
}

/// What the rider may say, first what they did say.
#[component]
fn Complaints() -> impl IntoView {
    let store = store();
    let said = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| day.runs.get(run).map(|run| run.words.clone())).unwrap_or_default()
    });
    let buttons = move || {
        let button = |(complaint, said): (Complaint, bool)| {
            let chosen = move || store.rows.with(|choice| choice.set == RowSet::For(complaint));
            let toggle = move |_| {
                let set = if chosen() { RowSet::Usual } else { RowSet::For(complaint) };
                store.rows.update(|choice| choice.set = set);
            };
            view! {
                <button class="complaint" class:said=said aria-pressed=move || chosen().to_string() on:click=toggle>
                    {complaint.words()}
                    {said.then(|| view! { <small>" – the rider's words"</small> })}
                </button>
            }
        };
        Complaint::offered(&said.get()).into_iter().map(button).collect_view()
    };
    view! {
        <fieldset>
            <legend>"Only what matters for …"</legend>
            <div class="buttons">{buttons}</div>
        </fieldset>
    }
}

#[component]
fn MenuRow(key: String, placed: Memo<Arc<Vec<Placed>>>) -> impl IntoView {
    let store = store();
    let key = StoredValue::new(key);
    let own = Memo::new(move |_| {
        let index = placed
            .with(|placed| placed.iter().position(|placed| key.with_value(|key| placed.row.key == *key)))?;
        placed.with(|placed| placed.get(index).map(|own| (index, placed.len(), own.clone())))
    });
    let of = move |what: fn(&Placed) -> bool| own.with(|own| own.as_ref().is_some_and(|(.., own)| what(own)));
    let title =
        move || own.with(|own| own.as_ref().map(|(.., own)| own.row.title.clone())).unwrap_or_default();
    let weight = move || own.with(|own| own.as_ref().map_or(1.0, |(.., own)| own.weight));
    let edit = move |change: fn(&mut RowChoice, &[Placed], &str, bool), yes: bool| {
        let rows = placed.get_untracked();
        store.rows.update(|choice| key.with_value(|key| change(choice, &rows, key, yes)));
    };
    let id = move |what: &str| key.with_value(|key| format!("row-{key}-{what}"));
    // The row's buttons go with it, and would lose their focus on the way.
    let shift = move |up: bool| {
        edit(RowChoice::shift, up);
        let id = id(if up { "up" } else { "down" });
        set_timeout(move || focus(&id), std::time::Duration::ZERO);
    };
    let edge = move |last: bool| {
        own.with(|own| {
            own.as_ref().is_some_and(|(index, count, _)| if last { index + 1 == *count } else { *index == 0 })
        })
    };
    view! {
        <li class:shown=move || of(|own| own.shown)>
            <label class="tick">
                <input
                    type="checkbox"
                    id=id("shown")
                    prop:checked=move || of(|own| own.shown)
                    on:change:target=move |event| edit(RowChoice::show, event.target().checked())
                />
                {title}
            </label>
            <button id=id("up") aria-label=move || format!("{} up", title()) aria-disabled=move || edge(false).to_string() on:click=move |_| shift(true)>"↑"</button>
            <button id=id("down") aria-label=move || format!("{} down", title()) aria-disabled=move || edge(true).to_string() on:click=move |_| shift(false)>"↓"</button>
            <button id=id("flatter") aria-label=move || format!("{} flatter", title()) on:click=move |_| edit(RowChoice::grow, false)>"−"</button>
            <output aria-label="Height">{move || format!("{}×", weight())}</output>
            <button id=id("taller") aria-label=move || format!("{} taller", title()) on:click=move |_| edit(RowChoice::grow, true)>"+"</button>
        </li>
    }
}

fn focus(id: &str) {
    let element = document().get_element_by_id(id).and_then(|element| element.dyn_into::<HtmlElement>().ok());
    if let Some(element) = element {
        let _ = element.focus();
    }
}
