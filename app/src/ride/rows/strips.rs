//! The rows of the run in view, placed as chosen and each with the range it is drawn in.

use std::sync::Arc;

use evenkeel_core::ride::Trace;
use leptos::prelude::*;

use super::{Placed, RowSet, Strip, joined_rows, single_rows};
use crate::store::{RideView, Store, store};

/// Every row of the run in view, shown or not, in the order chosen.
pub fn placed_rows(ride: Memo<Option<Arc<RideView>>>) -> Memo<Arc<Vec<Placed>>> {
    let store = store();
    Memo::new(move |_| Arc::new(ride.get().map(|ride| place(&ride, store)).unwrap_or_default()))
}

/// The traces of the rows that are shown.
pub fn shown_traces(store: Store) -> Vec<Trace> {
    let ride = store.ride.get();
    let placed = ride.map(|ride| place(&ride, store)).unwrap_or_default();
    placed
        .iter()
        .filter(|placed| placed.shown)
        .flat_map(|placed| &placed.row.lines)
        .map(|line| line.trace)
        .collect()
}

fn place(ride: &RideView, store: Store) -> Vec<Placed> {
    let has = |trace| ride.get(trace).is_some();
    store.rows.with(|choice| {
        choice.place(if choice.set == RowSet::Apart { single_rows(has) } else { joined_rows(has) })
    })
}

/// The rows to be drawn, top to bottom.
pub fn strips(
    ride: Memo<Option<Arc<RideView>>>,
    placed: Memo<Arc<Vec<Placed>>>,
) -> Memo<Option<Arc<Vec<Strip>>>> {
    let store = store();
    Memo::new_with_compare(
        move |_| {
            let ride = ride.get()?;
            let bike = store.day.with_untracked(|day| day.bike.clone());
            let strip = |Placed { row, weight, .. }: &Placed| Strip {
                range: row.range(&bike, |trace| ride.extremes(trace)),
                row: row.clone(),
                weight: *weight,
            };
            let shown = |placed: &&Placed| placed.shown;
            Some(Arc::new(placed.with(|placed| placed.iter().filter(shown).map(strip).collect())))
        },
        |_, _| true,
    )
}
