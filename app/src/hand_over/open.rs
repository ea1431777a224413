//! Files and links that somebody sent: days, remarks, sealed or open.

use evenkeel_core::handover::ZIP_MARK;
use gloo_file::File;
use js_sys::Uint8Array;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, HtmlInputElement};

use super::arrive::{arrive, hold, tell_remarks};
use super::shared::{Shared, is_blank};
use crate::day::list_files;
use crate::kept::{add_remarks, go_to, keep_beside, known, settled};
use crate::store::{Place, Store, store};
use crate::worker::{DayRead, Failure, Request};

/// What tells a file by its beginning.
const LOOKED_AT: f64 = 40.0;
/// A sealed file written as text, which is refused with a reason.
const SEALED_AS_TEXT: &[u8] = b"-----BEGIN AGE";

enum Kind {
    Day,
    Sealed,
}

async fn kind(file: &File) -> Option<Kind> {
    let blob: &Blob = file.as_ref();
    let beginning = blob.slice_with_f64_and_f64(0.0, LOOKED_AT).ok()?;
    let bytes = Uint8Array::new(&JsFuture::from(beginning.array_buffer()).await.ok()?).to_vec();
    if evenkeel_seal::is_sealed(&bytes) || bytes.starts_with(SEALED_AS_TEXT) {
        return Some(Kind::Sealed);
    }
    let is_json = bytes.trim_ascii_start().starts_with(b"{");
    (bytes.starts_with(ZIP_MARK) || is_json).then_some(Kind::Day)
}

/// Takes a file if it is a day, remarks or something sealed; false for a log.
pub async fn take(store: Store, file: &File) -> bool {
    match kind(file).await {
        Some(Kind::Day) => open_day(store, file.clone()).await,
        Some(Kind::Sealed) => {
            if let Some(first) = store.hand_over.sealed.get_untracked() {
                store.tell(format!(
                    "{} waits its turn: choose it again once {} is open.",
                    file.name(),
                    first.name()
                ));
            } else {
                store.hand_over.sealed.set(Some(file.clone()));
            }
            store.place.set(Place::HandOver);
        }
        None => return false,
    }
    true
}

/// The name of what is in a sealed file.
pub fn unsealed(name: &str) -> String {
    let name = name.rsplit('/').next().unwrap_or(name);
    name.strip_suffix(".age").unwrap_or(name).to_owned()
}

/// Opens a day file: remarks are added to the day they are on, anything else becomes a day in the list.
pub async fn open_day(store: Store, file: File) {
    let here = is_blank(store);
    let request = Request::ReadDay { name: file.name(), keep: here };
    let DayRead { manifest, parts } = match store.ask::<DayRead>(request, Some(&file)).await {
        Ok((read, _)) => read,
        Err(Failure::Cancelled) => return,
        Err(Failure::Problem(problem)) => {
            return store.tell(format!("{problem}. All that was here before is still here."));
        }
    };
    let alone = manifest.has_remarks_alone();
    let open = store.shared.get_untracked();
    let is_open = !manifest.id.is_empty() && open.id == manifest.id;
    let came = manifest.remarks.iter().len();
    if is_open && (alone || (manifest.copy && !open.copy)) {
        let mut new = 0;
        store.shared.update(|shared| new = shared.remarks.merge(&manifest.remarks));
        tell_remarks(store, new, came);
        return store.place.set(Place::HandOver);
    }
    if manifest.copy
        && let Some((key, copy)) = known(store, &manifest.id).await
        && (alone || !copy)
    {
        return match add_remarks(store, &key, &manifest.remarks).await {
            Ok((title, new)) => store.tell(format!(
                "{new} new of {came} remarks were added to “{title}”, which is kept here: open it in Day."
            )),
            Err(problem) => store.tell(format!("The remarks could not be added: {problem}.")),
        };
    }
    if alone {
        return store.tell(format!(
            "{} holds remarks on the day “{}”, which this browser does not keep. Open that day first, then this file again.",
            file.name(),
            manifest.day.name
        ));
    }
    // What was typed or loaded meanwhile is not written over.
    if here && is_blank(store) {
        let shared = Shared { id: manifest.id, copy: manifest.copy, remarks: manifest.remarks };
        store.shared.set(shared);
        store.day.set(manifest.day);
        if !parts.is_empty() {
            store.take_parts(file, None, &parts);
        }
        store.run.set(0);
        return store.place.set(Place::Day);
    }
    match keep_beside(store, None, &manifest, (!manifest.sources.is_empty()).then_some(&file)).await {
        Ok(key) => {
            settled(store).await;
            go_to(Some(&key));
        }
        Err(problem) => store.tell(format!(
            "{} was not opened, since the day that is open would have to go: {problem}. Save this day first, or open the file in another window.",
            file.name()
        )),
    }
}

/// Where files and links that somebody sent are opened.
#[component]
pub fn OpenCard() -> impl IntoView {
    let store = store();
    let link = RwSignal::new(String::new());
    let wrong = RwSignal::new(None::<&'static str>);
    let chosen = move |input: HtmlInputElement| {
        let files = input.files().map(|list| list_files(&list)).unwrap_or_default();
        input.set_value("");
        spawn_local(async move {
            for file in files {
                if !take(store, &file).await {
                    store.tell(format!(
                        "{} is no day file and nothing sealed. A log is loaded in Day.",
                        file.name()
                    ));
                }
            }
        });
    };
    let open_link = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let pasted = link.get_untracked();
        let Some(at) = pasted.find('#') else {
            return wrong.set(Some("There is no # in it: copy the whole link."));
        };
        wrong.set(None);
        link.set(String::new());
        hold(store, pasted[at..].trim());
        spawn_local(arrive(store));
    };
    view! {
        <section class="card" aria-label="Open">
            <h2>"Open what somebody sent"</h2>
            <p class="quiet">"A day file, sealed or not, or remarks. It becomes a day of its own, listed in Day; nothing that is here is replaced."</p>
            <label class="file">
                <span>"Choose a file…"</span>
                <input id="open-file" type="file" multiple on:change:target=move |event| chosen(event.target())/>
            </label>
            <form class="fields" on:submit=open_link>
                <label class="field wide">
                    <span>"Or a link, pasted"</span>
                    <input
                        id="open-link"
                        autocomplete="off"
                        prop:value=move || link.get()
                        on:input:target=move |event| link.set(event.target().value())
                    />
                </label>
                <button id="open-link-button">"Open the link"</button>
            </form>
            <p class="wrong" role="alert">{move || wrong.get()}</p>
        </section>
    }
}
