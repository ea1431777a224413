//! A day file that is written before it leaves, so that what is listed is what leaves.

use evenkeel_core::handover::Content;
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::Blob;

use super::chosen_runs::chosen;
use super::shared::leaves;
use crate::store::{Store, store};
use crate::timing::breathe;
use crate::worker::{Failure, Request, Written};

/// A file that was written and has not left yet.
#[derive(Clone)]
pub struct Prepared {
    pub contents: Vec<Content>,
    pub file: Blob,
}

/// The file of a card: a choice or a change makes it anew.
#[derive(Clone, Copy)]
pub struct Preparing {
    pub prepared: RwSignal<Option<Prepared>, LocalStorage>,
    /// What went wrong.
    pub wrong: RwSignal<String>,
    store: Store,
    copy: RwSignal<bool>,
    left_out: RwSignal<Vec<usize>>,
    /// How often something was chosen otherwise.
    changes: StoredValue<u32>,
}

impl Preparing {
    /// Of the runs that are left in; a `copy` is for somebody else.
    pub fn new(copy: RwSignal<bool>, left_out: RwSignal<Vec<usize>>) -> Self {
        let (store, prepared) = (store(), RwSignal::new_local(None));
        let changes = StoredValue::new(0);
        Effect::new(move |_| {
            copy.track();
            left_out.track();
            store.day.track();
            store.shared.track();
            changes.update_value(|changes| *changes += 1);
            prepared.set(None);
        });
        Self { prepared, wrong: RwSignal::new(String::new()), store, copy, left_out, changes }
    }

    /// Writes the file, to list what is in it.
    pub fn prepare(self) {
        self.wrong.set(String::new());
        spawn_local(async move {
            match self.write().await {
                Ok(made) => drop(self.prepared.try_set(Some(made))),
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => drop(self.wrong.try_set(problem)),
            }
        });
    }

    async fn write(self) -> Result<Prepared, Failure> {
        // By its id remarks find their way back.
        leaves(self.store);
        loop {
            breathe().await;
            // The place may have been left.
            let known = self.changes.try_get_value().ok_or(Failure::Cancelled)?;
            let day = self.store.day.get_untracked();
            let runs = chosen(day.runs.len(), &self.left_out.get_untracked());
            if runs.is_empty() {
                return Err(Failure::Problem("No run is chosen.".to_owned()));
            }
            let mut shared = self.store.shared.get_untracked();
            shared.copy = self.copy.get_untracked();
            let request = Request::WriteDay { manifest: shared.with(day), runs };
            let (Written { contents }, file) = self.store.ask_for_file(request).await?;
            if self.changes.try_get_value() == Some(known) {
                return Ok(Prepared { contents, file });
            }
        }
    }
}
