//! Links that the page is opened with: taken out of the address at once, then shown.

use evenkeel_core::handover::{MAX_FRAGMENT, View};
use gloo_file::File;
use js_sys::Array;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, Response};

use super::shared::{is_copy, take_from_owner};
use super::{extract, open};
use crate::kept::{go_to, known, settled};
use crate::store::{Place, Store, store};
use crate::worker::{Failure, LinkRead, Request};
use evenkeel_seal::Ask;

/// Where a link waits while another day is opened for it, and the day that is.
const ARRIVED: &str = "evenkeel-arrived";
const SENT_TO: &str = "evenkeel-arrived-for";
/// What a link of this page begins with.
const KINDS: [&str; 3] = ["#view=", "#extract=", "#sealed="];
/// No day lasts so long, s.
const LONG_S: f64 = 1e6;
/// What is shown on both sides of a moment, s.
const AROUND_S: f64 = 3.0;

/// Takes links out of the address, the one that the page was opened with and those that follow.
pub fn listen(store: Store) {
    take_fragment(store);
    let changed = window_event_listener(leptos::ev::hashchange, move |_| {
        if take_fragment(store) {
            spawn_local(arrive(store));
        }
    });
    on_cleanup(move || changed.remove());
    // A view waits until its day is opened.
    Effect::new(move |_| {
        let waiting = store.hand_over.waiting;
        store.day.track();
        store.shared.track();
        if let Some(view) = waiting.get()
            && is_of(store, &view)
        {
            waiting.set(None);
            show(store, &view);
        }
    });
}

/// Nobody reads a link off the screen, and no reload opens it twice.
fn take_fragment(store: Store) -> bool {
    let location = window().location();
    let hash = location.hash().unwrap_or_default();
    if !KINDS.iter().any(|kind| hash.starts_with(kind)) {
        return false;
    }
    let address = location.pathname().unwrap_or_default() + &location.search().unwrap_or_default();
    if let Ok(history) = window().history() {
        let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&address));
    }
    hold(store, &hash);
    true
}

/// Keeps a link until it is shown.
pub fn hold(store: Store, fragment: &str) {
    // Longer ones are refused all the same.
    let held: String = fragment.chars().take(MAX_FRAGMENT + 16).collect();
    if let Some(session) = session() {
        let _ = session.set_item(ARRIVED, &held);
    }
    store.hand_over.arrived.set_value(Some(held));
}

fn session() -> Option<web_sys::Storage> {
    window().session_storage().ok().flatten()
}

/// It was shown, or cannot be.
pub fn forget() {
    if let Some(session) = session() {
        let _ = session.remove_item(ARRIVED);
        let _ = session.remove_item(SENT_TO);
    }
}

/// Opens a kept day for the link that waits; false if that was tried before.
pub async fn sent_to(store: Store, key: &str) -> bool {
    let tried = session().and_then(|session| session.get_item(SENT_TO).ok().flatten());
    if tried.as_deref() == Some(key) {
        return false;
    }
    if let Some(session) = session() {
        let _ = session.set_item(SENT_TO, key);
    }
    settled(store).await;
    go_to(Some(key));
    true
}

/// Shows the link that came in, if one did.
pub async fn arrive(store: Store) {
    let kept = session().and_then(|session| session.get_item(ARRIVED).ok().flatten());
    let Some(fragment) = store.hand_over.arrived.get_value().or(kept) else { return };
    store.hand_over.arrived.set_value(None);
    match store.ask::<LinkRead>(Request::ReadLink { fragment: fragment.clone() }, None).await {
        Ok((LinkRead::View(view), _)) => open_view(store, view).await,
        Ok((LinkRead::Extract { extract, series }, buffers)) => {
            extract::open(store, &fragment, extract, series, buffers).await;
        }
        Ok((LinkRead::Pointer(pointer), _)) => {
            forget();
            store.hand_over.pointer.set(Some(pointer));
            store.place.set(Place::HandOver);
        }
        Err(Failure::Cancelled) => {}
        Err(Failure::Problem(problem)) => {
            forget();
            store.tell(format!("The link cannot be opened: {problem}. Nothing here was changed."));
        }
    }
}

async fn open_view(store: Store, view: View) {
    let is_open = is_of(store, &view);
    if !is_open
        && let Some((key, _)) = known(store, &view.id).await
        && sent_to(store, &key).await
    {
        return;
    }
    forget();
    if is_open {
        show(store, &view);
    } else {
        store.hand_over.waiting.set(Some(view));
        store.place.set(Place::HandOver);
    }
}

/// Whether a view is of the day that is open.
fn is_of(store: Store, view: &View) -> bool {
    store.shared.with_untracked(|shared| !view.id.is_empty() && shared.id == view.id)
}

/// Whether the day, which nobody else knows by another id, has a log of the name that a view is of.
fn may_be_of(store: Store, view: &View) -> bool {
    let id = store.shared.with(|shared| shared.id.clone());
    let of_log = |run: &evenkeel_core::RunSheet, log: &str| run.logs.iter().any(|known| known.file == log);
    let named = view.run.as_ref().filter(|run| !run.log.is_empty());
    named.is_some_and(|named| store.day.with(|day| day.runs.iter().any(|run| of_log(run, &named.log))))
        && id.is_empty()
}

/// Goes where a view points, and adds what it says.
fn show(store: Store, view: &View) {
    let mut new = 0;
    store.shared.update(|shared| {
        if shared.id.is_empty() {
            shared.id.clone_from(&view.id);
        }
        new = shared.remarks.merge(&view.remarks);
    });
    if is_copy(store) {
        take_from_owner(store, |day| add(view, day));
    }
    tell_remarks(store, new, view.remarks.iter().len());
    let run = view.run.as_ref().and_then(|run| store.day.with_untracked(|day| run.index_in(day)));
    let Some(run) = run else {
        return store.place.set(Place::HandOver);
    };
    if view.section.is_some() {
        store.section.set(view.section.clone());
    }
    look(store, run, view.range_s, view.cursor_s);
    match view.place.as_str() {
        "read-out" => store.place.set(Place::Readout),
        "back-to-back" => store.place.set(Place::BackToBack),
        "day" => store.place.set(Place::Day),
        _ => {}
    }
}

/// What the owner of a day has marked since it was sent.
fn add(view: &View, day: &mut evenkeel_core::Day) {
    if day.course.is_some() {
        let new = view
            .sections
            .iter()
            .filter(|section| day.sections.iter().all(|known| known.name != section.name));
        let new: Vec<_> = new.cloned().collect();
        day.sections.extend(new);
    }
    let run = view.run.as_ref().and_then(|run| run.index_in(day)).and_then(|run| day.runs.get_mut(run));
    if let Some(run) = run {
        for mark in &view.marks {
            if run.marks.iter().all(|known| known.time_s != mark.time_s) {
                run.marks.push(mark.clone());
            }
        }
        run.marks.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        if run.video.anchors.is_empty() {
            run.video.anchors.clone_from(&view.anchors);
        }
    }
}

/// Says how many of the remarks that came are new.
pub fn tell_remarks(store: Store, new: usize, came: usize) {
    match (new, came) {
        (_, 0) => {}
        (0, _) => store.tell("The remarks that came are here already."),
        (1, _) => store.tell("One new remark came; it stands in Hand-over and in Ride."),
        (new, _) => store.tell(format!("{new} new remarks came; they stand in Hand-over and in Ride.")),
    }
}

/// Goes to a moment or a stretch of a run in Ride, as far as what came makes sense.
pub fn look(store: Store, run: usize, range_s: Option<[f64; 2]>, cursor_s: Option<f64>) {
    let sane = |t_s: f64| t_s.is_finite() && t_s.abs() < LONG_S;
    let cursor_s = cursor_s.filter(|t_s| sane(*t_s));
    let range_s = range_s.filter(|[from_s, to_s]| sane(*from_s) && sane(*to_s) && from_s < to_s);
    let around = cursor_s.map(|t_s| [t_s - AROUND_S, t_s + AROUND_S]);
    match range_s.or(around) {
        Some(span_s) => {
            store.wanted_cursor_s.set(cursor_s);
            store.show_in_ride(run, span_s);
        }
        None => {
            store.run.set(run);
            store.place.set(Place::Ride);
        }
    }
}

/// A view whose log is not here: what it says, and that it is shown once the log is there.
#[component]
pub fn WaitingCard() -> impl IntoView {
    let store = store();
    let waiting = store.hand_over.waiting;
    // Names of logs are much alike: whether it is that one its reader knows.
    let here = move |_| {
        if let Some(view) = waiting.try_update(Option::take).flatten() {
            show(store, &view);
        }
    };
    move || {
        let view = waiting.get()?;
        let run = view.run.as_ref().map(|run| (run.name.clone(), run.log.clone()));
        let at = view.cursor_s.map(|t_s| evenkeel_core::align::moment::format(t_s, 0.1));
        let (name, log) = run.unwrap_or_default();
        let remarks = view.remarks.iter().map(|remark| {
            view! { <li><b>{remark.author.clone()}": "</b><span class="said">{remark.words.clone()}</span></li> }
        });
        Some(view! {
            <section class="card arrived" aria-label="Link received">
                <h2>"A link that needs its log"</h2>
                <p>{format!("It shows where to look in “{}”: {name}{}. It carries no samples.", view.day, at.map(|at| format!(", at {at}")).unwrap_or_default())}</p>
                <p>{if log.is_empty() {
                    "Open its day file here, and it is shown.".to_owned()
                } else {
                    format!("Open its day file here, or load its log {log} in Day, and it is shown.")
                }}</p>
                <ul>{remarks.collect_view()}</ul>
                {may_be_of(store, &view).then(|| view! { <p>"The day that is open has a log of that name."</p> })}
                <p class="buttons">
                    {may_be_of(store, &view).then(|| view! { <button class="main" id="show-here" on:click=here>"It is that log: show it"</button> })}
                    <button on:click=move |_| waiting.set(None)>"Leave it"</button>
                </p>
            </section>
        })
    }
}

/// A link to a sealed file on this host: nothing is fetched before its reader says so.
#[component]
pub fn PointerCard() -> impl IntoView {
    let store = store();
    let pointer = store.hand_over.pointer;
    let sealer = store.hand_over.sealer;
    let wrong = RwSignal::new(String::new());
    let fetch_it = move |_| {
        let Some(at) = pointer.get_untracked() else { return };
        wrong.set(String::new());
        spawn_local(async move {
            let opened = async {
                let sealed = fetch(&at.file).await?;
                let ask = Ask::OpenByKey { secret: at.key };
                match sealer.ask("Opening the sealed file", ask, Some(&sealed)).await {
                    Ok((_, bytes)) => bytes.ok_or_else(|| "the sealed file is empty".to_owned()),
                    Err(Failure::Cancelled) => Err("called off".to_owned()),
                    Err(Failure::Problem(problem)) => Err(problem),
                }
            };
            match opened.await {
                Ok(bytes) => match named(&bytes, &open::unsealed(&at.file)) {
                    Ok(file) => {
                        pointer.set(None);
                        open::open_day(store, file).await;
                    }
                    Err(problem) => drop(wrong.try_set(problem)),
                },
                Err(problem) => drop(wrong.try_set(problem)),
            }
        });
    };
    move || {
        let at = pointer.get()?;
        Some(view! {
            <section class="card arrived" aria-label="Link received">
                <h2>"A link to a sealed file on this host"</h2>
                <p>{format!("The file is {}; its key came with the link. It is fetched from where this page came from when you say so, and from nowhere else.", at.file)}</p>
                <p class="buttons">
                    <button class="main" id="fetch-sealed" on:click=fetch_it>"Fetch and open it"</button>
                    <button on:click=move |_| pointer.set(None)>"Leave it"</button>
                </p>
                <p class="wrong" role="alert">{move || wrong.get()}</p>
            </section>
        })
    }
}

async fn fetch(path: &str) -> Result<Blob, String> {
    let failed =
        |error: JsValue| format!("{path} cannot be fetched ({error:?}); try again when you are online");
    let response: Response =
        JsFuture::from(window().fetch_with_str(path)).await.map_err(failed)?.unchecked_into();
    if !response.ok() {
        return Err(format!("{path} is not on this host (status {}); ask for the file", response.status()));
    }
    let blob = JsFuture::from(response.blob().map_err(failed)?).await.map_err(failed)?;
    Ok(blob.unchecked_into())
}

/// Bytes as a file with a name.
pub fn named(bytes: &Blob, name: &str) -> Result<File, String> {
    let file = web_sys::File::new_with_blob_sequence(&Array::of1(bytes), name);
    file.map(File::from).map_err(|error| format!("the file cannot be taken ({error:?})"))
}
