//! The day and its files are kept in the browser as they change, and come back after a reload or a crash.

mod beside;
mod database;
mod list;

use std::collections::HashMap;
use std::pin::pin;
use std::rc::Rc;
use std::time::Duration;

use evenkeel_core::Day;
use evenkeel_core::handover::Manifest;
use evenkeel_core::import::Layout;
use futures_channel::oneshot;
use futures_util::future::{Either, select};
use futures_util::lock::Mutex;
use gloo_file::File;
use js_sys::Reflect;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsValue;

use crate::hand_over::{self, Shared};
use crate::store::Store;
use crate::timing::rest;
use crate::worker::{Failure, KeptDay, Request};
pub use beside::{add_remarks, is_kept, keep_beside, known};
use database::{Database, NotKept, Record};
pub use list::{KeptDays, KeptState, go_to};

/// So long after a change it is kept; changes that come together are kept together.
const SOON: Duration = Duration::from_millis(250);
/// A browser that gives nothing back for so long is not going to soon.
const PATIENCE: Duration = Duration::from_secs(10);
/// Where the browser remembers which of its days is open.
const OPEN: &str = "evenkeel-open-day";
/// Where it remembers that a page opened from a file was asked to keep days.
const ASKED: &str = "evenkeel-keep-from-file";

/// Size and time of change of a file: loggers give the same name to every card.
type Edition = [f64; 2];

fn edition(file: &File) -> Edition {
    let file: &web_sys::File = file.as_ref();
    [file.size(), file.last_modified()]
}

/// How a file was kept last.
#[derive(Clone, Copy)]
struct KeptFile {
    edition: Edition,
    /// Counts writes: one that another has followed has nothing to do or say any more.
    write: u32,
}

/// How it stands with keeping the day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Keeping {
    /// Nothing to keep yet.
    #[default]
    Nothing,
    /// The last changes or files are being written.
    Coming,
    /// All that was typed and loaded up to now.
    Kept,
    /// Not the last changes, and why.
    Refused(String),
    /// Another tab has changed the day since.
    Elsewhere,
    /// The page was opened from a file, where others may read what it keeps: only if it is asked to.
    NotAsked,
}

impl Keeping {
    /// Whether what is typed now would be gone with the page.
    fn loses(&self) -> bool {
        matches!(self, Self::Refused(_) | Self::Elsewhere | Self::NotAsked)
    }
}

/// The open day's place in the browser.
#[derive(Clone)]
pub struct Place {
    database: Database,
    key: String,
    revision: f64,
    /// What was kept last: a day that is only looked at is not written again, which other tabs would take for a change.
    json: String,
    /// Files that are kept already.
    files: HashMap<String, KeptFile>,
    /// How many of them are still being written.
    writing: usize,
    /// They are written one after the other: a large one may take longer to read than a later one.
    turn: Rc<Mutex<()>>,
    /// A save goes on, or waits for its time: two at once would take each other for another tab.
    busy: bool,
    /// Something changed since it began.
    again: bool,
}

/// Brings back the day that was open last, and from then on keeps what changes.
pub fn keep(store: Store) {
    let may = window().location().protocol().is_ok_and(|protocol| protocol != "file:")
        || local().is_some_and(|local| local.get_item(ASKED).is_ok_and(|asked| asked.is_some()));
    if may {
        begin(store);
    } else {
        store.keeping.set(Keeping::NotAsked);
        spawn_local(hand_over::arrive(store));
    }
    let unload = window_event_listener(leptos::ev::beforeunload, move |event| {
        let is_empty = store.day.with_untracked(|day| *day == Day::default());
        let writes_files = store.kept.with_value(|kept| kept.as_ref().is_some_and(|place| place.writing > 0));
        let loses = writes_files || store.keeping.with_untracked(Keeping::loses);
        if !is_empty && loses && is_used() {
            event.prevent_default();
        }
    });
    // The way back to a page that was put by leads to its day, whatever was opened meanwhile.
    let shown = window_event_listener(leptos::ev::pageshow, move |event| {
        let key = store.kept.with_value(|kept| kept.as_ref().map(|place| place.key.clone()));
        if event.persisted() && key.is_some() {
            remember(key.as_deref());
        }
    });
    on_cleanup(move || {
        unload.remove();
        shown.remove();
    });
}

/// Whether anybody has clicked or typed here: browsers ask nobody about leaving a page that was not used.
fn is_used() -> bool {
    let of = |object: JsValue, name: &str| Reflect::get(&object, &name.into());
    let used = of(window().navigator().into(), "userActivation").and_then(|said| of(said, "hasBeenActive"));
    used.map_or(true, |used| used.as_bool() != Some(false))
}

/// Keeps days from now on, though the page was opened from a file.
fn ask(store: Store) {
    if let Some(local) = local() {
        // Where the browser does not remember it, it is asked again next time.
        let _ = local.set_item(ASKED, "");
    }
    store.keeping.set(Keeping::Nothing);
    begin(store);
}

fn begin(store: Store) {
    spawn_local(async move {
        bring_back(store).await;
        hand_over::arrive(store).await;
    });
}

/// The browser's days; whether they come or not, the page goes on after a while.
async fn days(store: Store) -> Result<(Database, Vec<Record>), NotKept> {
    let silent = || Keeping::Refused("it gives nothing back".to_owned());
    let (came, comes) = oneshot::channel();
    spawn_local(async move {
        if let Either::Right(_) = select(comes, pin!(rest(PATIENCE))).await {
            store.keeping.set(silent());
            store.tell(
                "This browser does not give back what it keeps. Close its other windows with Evenkeel and reload this \
                 page, or start the browser anew. What was kept before is safe.",
            );
            hand_over::arrive(store).await;
        }
    });
    let days = async {
        let database = Database::open().await?;
        let days = database.days().await?;
        Ok((database, days))
    };
    let days = days.await;
    let _ = came.send(());
    if store.keeping.with_untracked(|keeping| *keeping == silent()) {
        store.keeping.set(Keeping::Nothing);
    }
    days
}

async fn bring_back(store: Store) {
    let (database, days) = match days(store).await {
        Ok(came) => came,
        Err(problem) => return store.keeping.set(refused(problem)),
    };
    if let Err(problem) = restore(store, &database, &days).await {
        store.keeping.set(refused(problem));
    }
    if store.kept.with_value(Option::is_none) {
        let nothing = Record { key: new_key(), ..Record::default() };
        settle(store, database, &nothing, HashMap::new());
    }
    let files = store.files_untracked();
    for (file, layout) in files {
        keep_file(store, file, layout);
    }
    Effect::new(move |_| {
        store.day.track();
        store.shared.track();
        soon(store);
    });
}

fn settle(store: Store, database: Database, kept: &Record, files: HashMap<String, KeptFile>) {
    remember(Some(&kept.key));
    store.kept.set_value(Some(Place {
        database,
        key: kept.key.clone(),
        revision: kept.revision,
        json: kept.json.clone(),
        files,
        writing: 0,
        turn: Rc::default(),
        busy: false,
        again: false,
    }));
}

async fn restore(store: Store, database: &Database, days: &[Record]) -> Result<(), NotKept> {
    let wanted = remembered();
    let Some(kept) = days.iter().find(|day| wanted.as_ref() == Some(&day.key)) else { return Ok(()) };
    let (files, layouts): (Vec<_>, _) = database.files(&kept.key).await?.into_iter().unzip();
    let read = read(store, kept.json.clone(), layouts).await;
    let KeptDay { manifest: Manifest { id, copy, day, remarks, .. }, layouts } = match read {
        Ok(read) => read,
        Err(why) => {
            store.tell(format!(
                "The kept day “{}” cannot be read by this version ({why}). It is still kept; nothing was written over it.",
                kept.title
            ));
            return Ok(());
        }
    };
    // What came in while this was read is not written over.
    if store.day.with_untracked(|now| !now.runs.is_empty() || !now.coming.is_empty()) {
        return Ok(());
    }
    let editions =
        files.iter().map(|file| (file.name(), KeptFile { edition: edition(file), write: 0 })).collect();
    settle(store, database.clone(), kept, editions);
    store.shared.set(Shared { id, copy, remarks });
    store.day.set(day);
    store.keeping.set(Keeping::Kept);
    spawn_local(async move {
        let _loading = store.loading();
        for (file, layout) in files.into_iter().zip(layouts) {
            if hand_over::is_extract(&file) {
                hand_over::show_extract(store, file).await;
            } else if let Err(Failure::Problem(problem)) = store.open(file, layout).await {
                store.tell(problem);
            }
        }
    });
    Ok(())
}

/// A day that was kept, and how its files were read.
pub async fn read(store: Store, day: String, layouts: Vec<Option<String>>) -> Result<KeptDay, String> {
    match store.ask(Request::ReadKept { day, layouts }, None).await {
        Ok((read, _)) => Ok(read),
        Err(Failure::Cancelled) => Err("reading it was called off".to_owned()),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}

/// Keeps the day a little later.
fn soon(store: Store) {
    if !is_nothing(store) {
        say_coming(store);
    }
    let is_free = store.kept.try_update_value(|kept| {
        let Some(place) = kept else { return false };
        place.again = true;
        !std::mem::replace(&mut place.busy, true)
    });
    if is_free != Some(true) {
        return;
    }
    let then_save = async move {
        save(store).await;
        let again = store.kept.try_update_value(|kept| {
            let Some(place) = kept else { return false };
            place.busy = false;
            place.again
        });
        if again == Some(true) {
            soon(store);
        }
        say_kept(store);
    };
    set_timeout(move || spawn_local(then_save), SOON);
}

/// Whether there is nothing that anybody would look for again.
fn is_nothing(store: Store) -> bool {
    store.kept.with_value(|kept| kept.as_ref().is_none_or(|place| place.revision == 0.0))
        && store.day.with_untracked(|day| *day == Day::default())
}

fn say_coming(store: Store) {
    if store.keeping.with_untracked(|keeping| matches!(keeping, Keeping::Nothing | Keeping::Kept)) {
        store.keeping.set(Keeping::Coming);
    }
}

/// Says that all is kept, once it is.
fn say_kept(store: Store) {
    let is_coming = store.keeping.with_untracked(|keeping| *keeping == Keeping::Coming);
    if is_coming && !writes(store) && not_kept(store).is_empty() {
        store.keeping.set(Keeping::Kept);
    }
}

fn writes(store: Store) -> bool {
    store.kept.with_value(|kept| kept.as_ref().is_some_and(|place| place.busy || place.writing > 0))
}

async fn save(store: Store) {
    let Some(place) = store.kept.get_value() else { return };
    let (day, shared) = (store.day.get_untracked(), store.shared.get_untracked());
    store.kept.update_value(|kept| {
        if let Some(place) = kept {
            place.again = false;
        }
    });
    let elsewhere = store.keeping.with_untracked(|keeping| *keeping == Keeping::Elsewhere);
    if elsewhere || is_nothing(store) {
        return;
    }
    let kept = match record(place.key, place.revision, &shared.with(day)) {
        Ok(kept) => kept,
        Err(why) => return store.keeping.set(Keeping::Refused(why)),
    };
    let is_there = kept.json == place.json
        && place.database.revision(&kept.key).await.is_ok_and(|revision| revision == place.revision);
    if store.kept.with_value(Option::is_none) {
        // It is being forgotten.
        return;
    }
    let written = if is_there { Ok(place.revision) } else { place.database.keep_day(&kept).await };
    match written {
        Ok(revision) => {
            store.kept.update_value(|place| {
                if let Some(place) = place {
                    (place.revision, place.json) = (revision, kept.json);
                }
            });
            // A file that was refused before may have room now.
            let left = not_kept(store);
            if left.is_empty() {
                store.keeping.set(Keeping::Coming);
            }
            left.into_iter().for_each(|(file, layout)| keep_file(store, file, layout));
            if place.revision == 0.0 {
                stay();
            }
        }
        Err(problem) => store.keeping.set(refused(problem)),
    }
}

fn record(key: String, revision: f64, day: &Manifest) -> Result<Record, String> {
    if !evenkeel_wire::is_finite(day) {
        return Err("the day holds a number that is none; type that number anew".to_owned());
    }
    let json = day.written().map_err(|refused| refused.to_string())?;
    let title = if key.starts_with(hand_over::OF_LINK) {
        let run = day.day.runs.first().map(|run| run.name.clone()).unwrap_or_default();
        format!("{}: a piece of {run}", title(&day.day))
    } else {
        title(&day.day)
    };
    Ok(Record {
        key,
        json: String::from_utf8(json).unwrap_or_default(),
        id: day.id.clone(),
        copy: day.copy,
        title,
        at_ms: js_sys::Date::now(),
        revision,
    })
}

/// Gives the open day, while nothing is kept of it yet, the key by which another like it is known.
pub fn rename(store: Store, key: String) {
    store.kept.update_value(|kept| {
        if let Some(place) = kept.as_mut().filter(|place| place.revision == 0.0) {
            remember(Some(&key));
            place.key = key;
        }
    });
}

/// Whether the day that is kept by this key is the open one.
pub fn is_open(store: Store, key: &str) -> bool {
    store.kept.with_value(|kept| kept.as_ref().is_some_and(|place| place.key == key && place.revision > 0.0))
}

/// Waits until what was typed and loaded is kept, but no longer than anybody would.
pub async fn settled(store: Store) {
    for _ in 0..80 {
        if !writes(store) {
            return;
        }
        rest(SOON).await;
    }
}

/// Whether a reload would bring back all that was typed.
pub fn all_is_kept(store: Store) -> bool {
    let is_empty = store.day.with_untracked(|day| *day == Day::default());
    is_empty || (!writes(store) && store.keeping.with_untracked(|keeping| *keeping == Keeping::Kept))
}

fn not_kept(store: Store) -> Vec<(File, Option<Layout>)> {
    let mut files = store.files_untracked();
    store.kept.with_value(|kept| {
        files.retain(|(file, _)| {
            kept.as_ref().is_some_and(|place| {
                place.files.get(&file.name()).map(|kept| kept.edition) != Some(edition(file))
            })
        })
    });
    files
}

/// The files that were read, as they are kept: the card of a logger may be out by now. None if one is not kept.
pub async fn kept_files(store: Store) -> Option<Vec<File>> {
    settled(store).await;
    let place = store.kept.get_value()?;
    let kept = place.database.files(&place.key).await.ok()?;
    let own = store.files_untracked().into_iter().map(|(file, _)| {
        let same = |kept: &&File| kept.name() == file.name() && edition(kept) == edition(&file);
        kept.iter().map(|(kept, _)| kept).find(same).cloned()
    });
    own.collect()
}

/// Keeps a file that was read, with how it was read.
pub fn keep_file(store: Store, file: File, layout: Option<Layout>) {
    let name = file.name();
    let place = store.kept.try_update_value(|kept| {
        let place = kept.as_mut()?;
        let edition = edition(&file);
        let before = place.files.get(&name);
        let is_new = before.is_none_or(|before| before.edition != edition);
        let write = before.map_or(0, |before| before.write) + 1;
        // One read anew another way is kept anew.
        (is_new || layout.is_some()).then(|| {
            place.files.insert(name.clone(), KeptFile { edition, write });
            place.writing += 1;
            (place.clone(), write)
        })
    });
    let Some((place, write)) = place.flatten() else { return };
    say_coming(store);
    spawn_local(async move {
        let is_last =
            move |place: &Place, name: &str| place.files.get(name).is_some_and(|kept| kept.write == write);
        let turn = place.turn.lock().await;
        let is_wanted =
            store.kept.with_value(|kept| kept.as_ref().is_some_and(|place| is_last(place, &name)));
        let written = match is_wanted {
            true => place.database.keep_file(&place.key, &file, layout.as_ref()).await,
            false => Ok(()),
        };
        drop(turn);
        store.kept.update_value(|kept| {
            let Some(place) = kept else { return };
            place.writing = place.writing.saturating_sub(1);
            if written.is_err() && is_last(place, &name) {
                place.files.remove(&name);
            }
        });
        match written {
            Err(problem) => store.keeping.set(refused(problem)),
            Ok(()) if store.keeping.with_untracked(|keeping| matches!(keeping, Keeping::Refused(_))) => {
                soon(store)
            }
            Ok(()) => say_kept(store),
        }
    });
}

/// Takes the day over from another tab: what is here is kept from now on.
pub async fn take_over(store: Store) {
    let Some(place) = store.kept.get_value() else { return };
    match place.database.revision(&place.key).await {
        Ok(revision) => {
            store.kept.update_value(|kept| {
                if let Some(place) = kept {
                    place.revision = revision;
                    place.json.clear();
                }
            });
            store.keeping.set(Keeping::Coming);
            soon(store);
        }
        Err(problem) => store.keeping.set(refused(problem)),
    }
}

fn refused(problem: NotKept) -> Keeping {
    match problem {
        NotKept::Elsewhere => Keeping::Elsewhere,
        NotKept::Refused(why) => Keeping::Refused(why),
    }
}

fn title(day: &Day) -> String {
    if !day.name.trim().is_empty() {
        return day.name.clone();
    }
    let first = day.runs.first().map(|run| run.name.clone()).unwrap_or_default();
    if first.is_empty() { "a day without a name".to_owned() } else { format!("the day of {first}") }
}

fn new_key() -> String {
    format!("day-{}", js_sys::Date::now())
}

fn local() -> Option<web_sys::Storage> {
    window().local_storage().ok().flatten()
}

fn remembered() -> Option<String> {
    local()?.get_item(OPEN).ok().flatten()
}

/// Which day opens next; `None` begins a new one.
fn remember(key: Option<&str>) {
    let Some(local) = local() else { return };
    // A browser that refuses opens a new day next time; the kept ones stand in the list.
    let _ = match key {
        Some(key) => local.set_item(OPEN, key),
        None => local.remove_item(OPEN),
    };
}

/// Asks the browser not to clear this away when its disk fills. Its answer changes nothing.
fn stay() {
    let _ = window().navigator().storage().persist();
}
