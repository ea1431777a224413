//! Views that were looked at, to go back to.

use std::time::Duration;

use leptos::prelude::*;

use super::span::rested;
use super::view::View;

/// How long a view must stay to be one that was looked at.
const LOOKED_AT: Duration = Duration::from_millis(400);
/// How many are kept.
const KEPT: usize = 100;

#[derive(Clone, Copy)]
pub struct History {
    view: RwSignal<View>,
    /// Every view that rested, the last one where it is or was until just now.
    seen: StoredValue<Vec<View>>,
}

impl History {
    pub fn new(view: RwSignal<View>) -> Self {
        let seen = StoredValue::new(Vec::<View>::new());
        let settled = rested(move || view.get(), LOOKED_AT);
        Effect::new(move || {
            let now = settled.get();
            seen.update_value(|seen| {
                if now != View::default() && seen.last() != Some(&now) {
                    seen.push(now);
                    if seen.len() > KEPT {
                        seen.remove(0);
                    }
                }
            });
        });
        Self { view, seen }
    }

    /// Nothing to go back to: another run is in view.
    pub fn clear(self) {
        self.seen.set_value(Vec::new());
    }

    /// Shows the view before this one again.
    pub fn back(self) {
        let now = self.view.get_untracked();
        let before = self.seen.try_update_value(|seen| {
            if seen.last() == Some(&now) {
                seen.pop();
            }
            seen.last().copied()
        });
        if let Some(before) = before.flatten() {
            self.view.set(before);
        }
    }
}
