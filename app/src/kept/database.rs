//! Days and files as records of the browser's IndexedDB, one transaction a change.

use std::rc::Rc;

use evenkeel_core::import::Layout;
use gloo_file::File;
use idb::builder::{DatabaseBuilder, ObjectStoreBuilder};
use idb::{Database as Idb, ObjectStore, TransactionMode};
use js_sys::{Array, ArrayBuffer, Object, Reflect};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;

const NAME: &str = "evenkeel";
/// A later one migrates what it finds.
const VERSION: u32 = 1;
const DAYS: &str = "days";
const FILES: &str = "files";
/// Stands between a day's key and a file's name; no key holds it.
const BETWEEN: char = '\n';

/// One kept day.
#[derive(Clone, Debug, PartialEq)]
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
#[derive(Clone)]
pub struct Database(Rc<Idb>);

impl Database {
    /// # Errors
    /// If the browser keeps nothing, as in some private windows.
    pub async fn open() -> Result<Self, NotKept> {
        let builder = DatabaseBuilder::new(NAME)
            .version(VERSION)
            .add_object_store(ObjectStoreBuilder::new(DAYS))
            .add_object_store(ObjectStoreBuilder::new(FILES));
        Ok(Self(Rc::new(builder.build().await?)))
    }

    /// Every kept day, the last one first.
    pub async fn days(&self) -> Result<Vec<Record>, NotKept> {
        let transaction = self.0.transaction(&[DAYS], TransactionMode::ReadOnly)?;
        let store = transaction.object_store(DAYS)?;
        let mut days = Vec::new();
        for key in store.get_all_keys(None, None)?.await? {
            if let Some(day) = read_day(&store, &key.as_string().unwrap_or_default()).await? {
                days.push(day);
            }
        }
        days.sort_by(|a, b| b.at_ms.total_cmp(&a.at_ms));
        Ok(days)
    }

    /// Keeps a day if nobody else did since its revision, and gives the new revision.
    pub async fn keep_day(&self, day: &Record) -> Result<f64, NotKept> {
        let transaction = self.0.transaction(&[DAYS], TransactionMode::ReadWrite)?;
        let store = transaction.object_store(DAYS)?;
        let before = read_day(&store, &day.key).await?.map_or(0.0, |before| before.revision);
        if before > day.revision {
            return Err(NotKept::Elsewhere);
        }
        let revision = before + 1.0;
        let record = Object::new();
        set(&record, "json", &day.json.as_str().into());
        set(&record, "title", &day.title.as_str().into());
        set(&record, "id", &day.id.as_str().into());
        set(&record, "copy", &day.copy.into());
        set(&record, "at", &day.at_ms.into());
        set(&record, "revision", &revision.into());
        store.put(&record, Some(&day.key.as_str().into()))?.await?;
        transaction.commit()?.await?;
        Ok(revision)
    }

    /// The revision that is kept of a day.
    pub async fn revision(&self, key: &str) -> Result<f64, NotKept> {
        let transaction = self.0.transaction(&[DAYS], TransactionMode::ReadOnly)?;
        let day = read_day(&transaction.object_store(DAYS)?, key).await?;
        Ok(day.map_or(0.0, |day| day.revision))
    }

    /// Keeps a file of a day as it was read.
    pub async fn keep_file(&self, key: &str, file: &File, layout: Option<&Layout>) -> Result<(), NotKept> {
        let blob: &web_sys::Blob = file.as_ref();
        let at = format!("{key}{BETWEEN}{}", file.name());
        if self.put_file(&at, blob, layout).await.is_ok() {
            return Ok(());
        }
        // A private window of WebKit keeps bytes, but no files.
        let bytes = JsFuture::from(blob.array_buffer()).await;
        let bytes =
            bytes.map_err(|error| NotKept::Refused(format!("{} cannot be read: {error:?}", file.name())))?;
        self.put_file(&at, &bytes, layout).await
    }

    async fn put_file(&self, at: &str, file: &JsValue, layout: Option<&Layout>) -> Result<(), NotKept> {
        let transaction = self.0.transaction(&[FILES], TransactionMode::ReadWrite)?;
        let record = Object::new();
        set(&record, "file", file);
        let layout = layout.and_then(|layout| serde_json::to_string(layout).ok());
        set(&record, "layout", &layout.map_or(JsValue::NULL, |layout| layout.as_str().into()));
        transaction.object_store(FILES)?.put(&record, Some(&at.into()))?.await?;
        transaction.commit()?.await?;
        Ok(())
    }

    /// The files of a day, each with how it was read, in JSON.
    pub async fn files(&self, key: &str) -> Result<Vec<(File, Option<String>)>, NotKept> {
        let transaction = self.0.transaction(&[FILES], TransactionMode::ReadOnly)?;
        let store = transaction.object_store(FILES)?;
        let mut files = Vec::new();
        for at in self.keys_of(&store, key).await? {
            let name =
                at.as_string().and_then(|at| Some(at.split_once(BETWEEN)?.1.to_owned())).unwrap_or_default();
            let Some(record) = store.get(at)?.await? else { continue };
            let layout = field(&record, "layout").as_string();
            files.extend(file_in(&record, &name).map(|file| (File::from(file), layout)));
        }
        Ok(files)
    }

    /// Forgets a day with its files.
    pub async fn forget(&self, key: &str) -> Result<(), NotKept> {
        let transaction = self.0.transaction(&[DAYS, FILES], TransactionMode::ReadWrite)?;
        let files = transaction.object_store(FILES)?;
        for at in self.keys_of(&files, key).await? {
            files.delete(at)?.await?;
        }
        transaction.object_store(DAYS)?.delete(JsValue::from_str(key))?.await?;
        transaction.commit()?.await?;
        Ok(())
    }

    async fn keys_of(&self, files: &ObjectStore, key: &str) -> Result<Vec<JsValue>, NotKept> {
        let all = files.get_all_keys(None, None)?.await?;
        let of_day = |at: &JsValue| {
            at.as_string().is_some_and(|at| at.split_once(BETWEEN).is_some_and(|(day, _)| day == key))
        };
        Ok(all.into_iter().filter(of_day).collect())
    }
}

/// A file of a record, kept as it was or as its bytes.
fn file_in(record: &JsValue, name: &str) -> Option<web_sys::File> {
    let kept = field(record, "file");
    match kept.dyn_into::<web_sys::File>() {
        Ok(file) => Some(file),
        Err(bytes) if bytes.is_instance_of::<ArrayBuffer>() => {
            web_sys::File::new_with_buffer_source_sequence(&Array::of1(&bytes), name).ok()
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
