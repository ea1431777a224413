//! Where a worker keeps the samples, and where it finds those again that the worker before it had.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::Arc;

use evenkeel_core::Source;
use evenkeel_core::import::Layout;
use futures_util::lock::{Mutex, MutexGuard};
use web_sys::Blob;

/// A file to be read again when its samples are asked for.
pub struct Away {
    pub name: String,
    pub layout: Layout,
    pub file: Blob,
}

/// Sources by name.
#[derive(Default)]
pub struct Shelf {
    here: RefCell<BTreeMap<String, Arc<Source>>>,
    away: RefCell<BTreeMap<String, Rc<Away>>>,
    fetching: Mutex<()>,
}

impl Shelf {
    /// A source that is in memory.
    pub fn get(&self, name: &str) -> Option<Arc<Source>> {
        self.here.borrow().get(name).cloned()
    }

    pub fn put(&self, parts: impl IntoIterator<Item = Arc<Source>>) {
        for part in parts {
            self.away.borrow_mut().remove(&part.name);
            self.here.borrow_mut().insert(part.name.clone(), part);
        }
    }

    pub fn forget(&self, name: &str) {
        self.here.borrow_mut().remove(name);
    }

    /// The file that holds a source which is not in memory.
    pub fn away(&self, name: &str) -> Option<Rc<Away>> {
        self.away.borrow().get(name).cloned()
    }

    /// Says where sources are to be found.
    pub fn put_away(&self, parts: Vec<String>, away: Away) {
        let away = Rc::new(away);
        self.away.borrow_mut().extend(parts.into_iter().map(|part| (part, Rc::clone(&away))));
    }

    /// Two that ask for the same file wait for one reading of it.
    pub async fn turn(&self) -> MutexGuard<'_, ()> {
        self.fetching.lock().await
    }
}
