//! Where files come in.

use leptos::html;
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::{DragEvent, HtmlInputElement};

use super::loading::{find_clocks, find_mounts, list_files, take_drop, take_file, take_files};
use crate::demo::load_demo;
use crate::field::NumberField;
use crate::store::store;
use evenkeel_core::import::Layout;

/// Files are dropped or chosen here.
#[component]
pub fn Intake() -> impl IntoView {
    let store = store();
    let over = RwSignal::new(false);
    let chosen = move |input: HtmlInputElement| {
        if let Some(list) = input.files() {
            take_files(store, list_files(&list));
        }
        // The same file chosen again is a change again.
        input.set_value("");
    };
    let files = NodeRef::<html::Input>::new();
    let folder = NodeRef::<html::Input>::new();
    let open = |input: NodeRef<html::Input>| {
        move |_| {
            if let Some(input) = input.get() {
                input.click();
            }
        }
    };
    view! {
        <section
            class="intake"
            class:over=move || over.get()
            aria-label="Load logs"
            on:dragover=move |event: DragEvent| {
                event.prevent_default();
                over.set(true);
            }
            on:dragleave=move |_| over.set(false)
            on:drop=move |event: DragEvent| {
                event.prevent_default();
                over.set(false);
                take_drop(store, event);
            }
        >
            <p>"Drop the log files of one run or of a whole day here. They stay on this computer."</p>
            <p class="buttons">
                <button class="main" on:click=open(files)>"Choose files"</button>
                <button on:click=open(folder)>"Choose a folder"</button>
                <button id="demo" on:click=move |_| spawn_local(load_demo(store))>"Load the demo day"</button>
            </p>
            <input id="files" type="file" multiple hidden node_ref=files on:change:target=move |e| chosen(e.target())/>
            <input id="folder" type="file" prop:webkitdirectory=true hidden node_ref=folder on:change:target=move |e| chosen(e.target())/>
        </section>
    }
}

/// Files that do not say how time passes: their owner types the rate.
#[component]
pub fn WithoutTime() -> impl IntoView {
    let store = store();
    let rate_hz = RwSignal::new(0.0);
    let read = move |name: String, mut layout: Layout| {
        let Some(file) = store.file(&name).filter(|_| rate_hz.get_untracked() > 0.0) else { return };
        layout.set_rate(rate_hz.get_untracked());
        spawn_local(async move {
            if take_file(store, file, Some(layout)).await {
                find_clocks(store).await;
                find_mounts(store).await;
            }
        });
    };
    view! {
        <For each=move || store.without_time.get() key=|(name, _)| name.clone() let:waiting>
            <section class="without-time">
                <p>{format!("{} has no time column and names no rate. How many rows does it hold a second?", waiting.0)}</p>
                <div class="fields">
                    <NumberField label="Rate" unit="Hz" digits=3 value=Signal::from(rate_hz) on_change=move |v| rate_hz.set(v)/>
                    <button on:click=move |_| read(waiting.0.clone(), waiting.1.clone())>"Read it"</button>
                </div>
            </section>
        </For>
    }
}
