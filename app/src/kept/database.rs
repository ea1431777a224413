//! Days and files as records of the browser's IndexedDB, one transaction a change.

use std::cell::{Cell, RefCell};
use std::pin::pin;
use std::rc::Rc;
use std::time::Duration;

use evenkeel_core::import::Layout;
use futures_channel::oneshot::{self, Sender};
use futures_util::future::{Either, select};
use gloo_file::File;
use idb::builder::{DatabaseBuilder, ObjectStoreBuilder};
use idb::{Database as Idb, ObjectStore, Transaction, TransactionMode};
use js_sys::{Array, ArrayBuffer, Object, Reflect};
use leptos::prelude::{window, window_event_listener};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{FilePropertyBag, IdbTransaction};

use crate::timing::rest;

const NAME: &str = "evenkeel";
/// A later one migrates what it finds.
const VERSION: u32 = 1;
const DAYS: &str = "days";
const FILES: &str = "files";
/// Stands between a day's key and a file's name; no key holds it.
const BETWEEN: char = '\n';
/// How often a page that was put by looks whether it is shown again.
const LOOK: Duration = Duration::from_millis(100);

/// A transaction that goes on, with what is dropped when it is let go of.
type Held = (IdbTransaction, Sender<()>);

/// One kept day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// By which it is known.
    pub key: String,
    /// The day, as its file has it, without samples.
    pub json: String,
    /// By which it is known to others, where it ever left; and whether it is theirs.
    pub id: String,
    pub copy: bool,
    /// What it is called in the list.
    pub title: String,
    /// When it was last kept, ms since 1970.
    pub at_ms: f64,
    /// Counts its changes: who writes over another one than was read loses nothing unseen.
    pub revision: f64,
}

/// Why a day was not kept.
#[derive(Debug)]
pub enum NotKept {
    /// Another tab has kept a later one.
    Elsewhere,
    /// What the browser says.
    Refused(String),
}

impl From<idb::Error> for NotKept {
    fn from(error: idb::Error) -> Self {
        Self::Refused(error.to_string())
    }
}

/// The database; a handle that copies.
///
/// A browser may put a page by when another comes in its place, and show it again on the way back. What it has begun
/// here then stands still, holds up every other page in WebKit, and is not heard of again in Firefox: it is let go of
/// before, and begun anew after.
#[derive(Clone)]
pub struct Database {
    idb: Rc<Idb>,
    going_on: Rc<RefCell<Vec<Held>>>,
    is_put_by: Rc<Cell<bool>>,
}

impl Database {
    /// # Errors
    /// If the browser keeps nothing, as in some private windows.
    pub async fn open() -> Result<Self, NotKept> {
        let builder = DatabaseBuilder::new(NAME)
            .version(VERSION)
            .add_object_store(ObjectStoreBuilder::new(DAYS))
            .add_object_store(ObjectStoreBuilder::new(FILES));
        let idb = Rc::new(builder.build().await?);
        let database = Self { idb, going_on: Rc::default(), is_put_by: Rc::default() };
        // For as long as the page lives.
        let (hidden, shown) = (database.clone(), database.clone());
        window_event_listener(leptos::ev::pagehide, move |event| {
            if event.persisted() {
                hidden.is_put_by.set(true);
                // One that is being committed ends by itself.
                hidden.going_on.take().iter().for_each(|(transaction, _)| drop(transaction.abort()));
            }
        });
        window_event_listener(leptos::ev::pageshow, move |_| shown.is_put_by.set(false));
        Ok(database)
    }

    /// Does something in one transaction, and if it writes, to its end.
    async fn transact<T>(
        &self,
        stores: &[&str],
        mode: TransactionMode,
        work: impl AsyncFn(&Transaction) -> Result<T, NotKept>,
    ) -> Result<T, NotKept> {
        loop {
            self.shown().await;
            let transaction = IdbTransaction::from(self.idb.transaction(stores, mode)?);
            let (held, let_go) = oneshot::channel();
            self.going_on.borrow_mut().push((transaction.clone(), held));
            let done = pin!(carried_out(transaction.clone().into(), mode, &work));
            match select(done, let_go).await {
                Either::Left((done, _)) => {
                    if done.is_err() {
                        // All of it or nothing; mostly the browser has seen to it.
                        let _ = transaction.abort();
                    }
                    self.going_on.borrow_mut().retain(|(other, _)| *other != transaction);
                    return done;
                }
                Either::Right((_, _hears)) => {
                    self.shown().await;
                    // For what the browser has left to say of it.
                    rest(LOOK).await;
                }
            }
        }
    }

    async fn shown(&self) {
        while self.is_put_by.get() {
            rest(LOOK).await;
        }
    }

    /// Every kept day, the last one first.
    pub async fn days(&self) -> Result<Vec<Record>, NotKept> {
        let mut days = self
            .transact(&[DAYS], TransactionMode::ReadOnly, async |transaction| {
                let store = transaction.object_store(DAYS)?;
                let mut days = Vec::new();
                for key in store.get_all_keys(None, None)?.await? {
                    if let Some(day) = read_day(&store, &key.as_string().unwrap_or_default()).await? {
                        days.push(day);
                    }
                }
                Ok(days)
            })
            .await?;
        days.sort_by(|a, b| b.at_ms.total_cmp(&a.at_ms));
        Ok(days)
    }

    /// Keeps a day if nobody else did since its revision, and gives the new revision.
    pub async fn keep_day(&self, day: &Record) -> Result<f64, NotKept> {
        self.transact(&[DAYS], TransactionMode::ReadWrite, async |transaction| {
            let store = transaction.object_store(DAYS)?;
            let before = read_day(&store, &day.key).await?.unwrap_or_default();
            if before.revision > day.revision {
                // It may be what was written before it was let go of.
                let same = before.json == day.json;
                return if same { Ok(before.revision) } else { Err(NotKept::Elsewhere) };
            }
            let revision = before.revision + 1.0;
            let record = Object::new();
            set(&record, "json", &day.json.as_str().into());
            set(&record, "title", &day.title.as_str().into());
            set(&record, "id", &day.id.as_str().into());
            set(&record, "copy", &day.copy.into());
            set(&record, "at", &day.at_ms.into());
            set(&record, "revision", &revision.into());
            store.put(&record, Some(&day.key.as_str().into()))?.await?;
            Ok(revision)
        })
        .await
    }

    /// The revision that is kept of a day.
    pub async fn revision(&self, key: &str) -> Result<f64, NotKept> {
        let day = self
            .transact(&[DAYS], TransactionMode::ReadOnly, async |transaction| {
                read_day(&transaction.object_store(DAYS)?, key).await
            })
            .await?;
        Ok(day.map_or(0.0, |day| day.revision))
    }

    /// Keeps a file of a day as it was read.
    pub async fn keep_file(&self, key: &str, file: &File, layout: Option<&Layout>) -> Result<(), NotKept> {
        let own: &web_sys::File = file.as_ref();
        let record = Object::new();
        set(&record, "file", own);
        set(&record, "modified", &own.last_modified().into());
        let layout = layout.and_then(|layout| serde_json::to_string(layout).ok());
        set(&record, "layout", &layout.map_or(JsValue::NULL, |layout| layout.as_str().into()));
        let at = format!("{key}{BETWEEN}{}", file.name());
        // WebKit keeps no files in a private window, and lets go of none that it is writing.
        if !is_webkit() && self.put_file(&at, &record).await.is_ok() {
            return Ok(());
        }
        let bytes = JsFuture::from(own.array_buffer()).await;
        let bytes =
            bytes.map_err(|error| NotKept::Refused(format!("{} cannot be read: {error:?}", file.name())))?;
        set(&record, "file", &bytes);
        self.put_file(&at, &record).await
    }

    async fn put_file(&self, at: &str, record: &JsValue) -> Result<(), NotKept> {
        self.transact(&[FILES], TransactionMode::ReadWrite, async |transaction| {
            transaction.object_store(FILES)?.put(record, Some(&at.into()))?.await?;
            Ok(())
        })
        .await
    }

    /// The files of a day, each with how it was read, in JSON.
    pub async fn files(&self, key: &str) -> Result<Vec<(File, Option<String>)>, NotKept> {
        let all = self
            .transact(&[FILES], TransactionMode::ReadOnly, async |transaction| {
                keys_of(&transaction.object_store(FILES)?, key).await
            })
            .await?;
        let mut files = Vec::new();
        // One by one: where bytes are kept, those of all files need not be here at once.
        for at in all {
            let name = at.as_string().and_then(|at| Some(at.split_once(BETWEEN)?.1.to_owned()));
            let record = self
                .transact(&[FILES], TransactionMode::ReadOnly, async |transaction| {
                    Ok(transaction.object_store(FILES)?.get(at.clone())?.await?)
                })
                .await?;
            let Some(record) = record else { continue };
            let layout = field(&record, "layout").as_string();
            let file = file_in(&record, &name.unwrap_or_default());
            files.extend(file.map(|file| (File::from(file), layout)));
        }
        Ok(files)
    }

    /// Forgets a day with its files.
    pub async fn forget(&self, key: &str) -> Result<(), NotKept> {
        self.transact(&[DAYS, FILES], TransactionMode::ReadWrite, async |transaction| {
            let files = transaction.object_store(FILES)?;
            for at in keys_of(&files, key).await? {
                files.delete(at)?.await?;
            }
            transaction.object_store(DAYS)?.delete(JsValue::from_str(key))?.await?;
            Ok(())
        })
        .await
    }
}

/// By the name that the HTML standard has for it: what else tells it apart changes from version to version.
fn is_webkit() -> bool {
    field(&window().navigator(), "vendor").as_string().is_some_and(|vendor| vendor.starts_with("Apple"))
}

/// Nothing is written before the browser says that all of it is.
async fn carried_out<T>(
    transaction: Transaction,
    mode: TransactionMode,
    work: impl AsyncFn(&Transaction) -> Result<T, NotKept>,
) -> Result<T, NotKept> {
    let done = work(&transaction).await?;
    if mode == TransactionMode::ReadWrite {
        let raw = IdbTransaction::from(transaction);
        let ended = Transaction::from(raw.clone()).commit()?.await?;
        if ended.is_aborted() {
            let why = raw.error().map_or_else(|| "it was undone".to_owned(), |error| error.message());
            return Err(NotKept::Refused(why));
        }
    }
    Ok(done)
}

async fn keys_of(files: &ObjectStore, key: &str) -> Result<Vec<JsValue>, NotKept> {
    let all = files.get_all_keys(None, None)?.await?;
    let of_day = |at: &JsValue| {
        at.as_string().is_some_and(|at| at.split_once(BETWEEN).is_some_and(|(day, _)| day == key))
    };
    Ok(all.into_iter().filter(of_day).collect())
}

/// A file of a record, kept as it was or as its bytes.
fn file_in(record: &JsValue, name: &str) -> Option<web_sys::File> {
    let kept = field(record, "file");
    match kept.dyn_into::<web_sys::File>() {
        Ok(file) => Some(file),
        Err(bytes) if bytes.is_instance_of::<ArrayBuffer>() => {
            let options = FilePropertyBag::new();
            field(record, "modified").as_f64().inspect(|modified| options.set_last_modified(*modified));
            web_sys::File::new_with_buffer_source_sequence_and_options(&Array::of1(&bytes), name, &options)
                .ok()
        }
        Err(_) => None,
    }
}

async fn read_day(store: &ObjectStore, key: &str) -> Result<Option<Record>, NotKept> {
    let record = store.get(JsValue::from_str(key))?.await?;
    Ok(record.map(|record| Record {
        key: key.to_owned(),
        json: field(&record, "json").as_string().unwrap_or_default(),
        title: field(&record, "title").as_string().unwrap_or_default(),
        id: field(&record, "id").as_string().unwrap_or_default(),
        copy: field(&record, "copy").as_bool().unwrap_or_default(),
        at_ms: field(&record, "at").as_f64().unwrap_or_default(),
        revision: field(&record, "revision").as_f64().unwrap_or_default(),
    }))
}

fn field(record: &JsValue, key: &str) -> JsValue {
    Reflect::get(record, &key.into()).unwrap_or_default()
}

/// A plain object takes any property.
fn set(record: &Object, key: &str, value: &JsValue) {
    let _ = Reflect::set(record, &key.into(), value);
}
