//! One run's sheet, read and written.

use evenkeel_core::RunSheet;
use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::undo::change;
use crate::store::{Store, store};

/// The sheet of one run; a handle that copies.
#[derive(Clone, Copy)]
pub struct Sheet {
    store: Store,
    pub run: Descent,
}

impl Sheet {
    pub fn of(run: Descent) -> Self {
        Self { store: store(), run }
    }

    /// What of it is shown; blank where the run is gone.
    pub fn memo<T: PartialEq + Send + Sync + 'static>(
        self,
        part: impl Fn(&RunSheet) -> T + Send + Sync + 'static,
    ) -> Memo<T> {
        Memo::new(move |_| {
            self.store.day.with(|day| match day.sheet(self.run) {
                Some(sheet) => part(sheet),
                None => part(&RunSheet::default()),
            })
        })
    }

    /// What the run is called.
    pub fn name(self) -> String {
        self.store.day.with(|day| day.run_name(self.run))
    }

    /// Writes on it; `what` is what Undo says.
    pub fn write(self, what: impl AsRef<str>, act: impl FnOnce(&mut RunSheet)) {
        let name = self.store.day.with_untracked(|day| day.run_name(self.run));
        change(self.store, format!("{}, {name}", what.as_ref()), |day| {
            if let Some(sheet) = day.sheet_mut(self.run) {
                act(sheet);
            }
        });
    }

    /// What the ids of its fields begin with.
    pub fn key(self) -> String {
        match self.run {
            Descent::Ridden(run) => format!("run-{run}"),
            Descent::Coming(run) => format!("coming-{run}"),
        }
    }
}
