//! What the traces come to over the set range, or over what is in view: found once the view rests, off
//! the way of the frames.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use evenkeel_core::ride::Trace;
use evenkeel_core::signal::{Stretch, Summary};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::view::View;
use crate::store::{RideView, store};
use crate::timing::breathe;

/// How long a view must stay before it is summed up.
const REST: Duration = Duration::from_millis(100);

/// A value once it has not changed for a while.
pub fn rested<T: Clone + PartialEq + Send + Sync + 'static>(
    value: impl Fn() -> T + Send + Sync + 'static,
    rest: Duration,
) -> RwSignal<T> {
    let settled = RwSignal::new(untrack(&value));
    Effect::new(move |timer: Option<Option<TimeoutHandle>>| {
        if let Some(timer) = timer.flatten() {
            timer.clear();
        }
        let value = value();
        let settle = move || {
            // Nothing to settle where the place has been left meanwhile.
            if settled.try_with_untracked(|known| *known != value) == Some(true) {
                settled.set(value);
            }
        };
        set_timeout_with_handle(settle, rest).ok()
    });
    settled
}

type Stretches = Arc<HashMap<Trace, Stretch>>;

/// The stretch that is summed up, and what each trace asked for comes to there.
#[derive(Clone, Copy)]
pub struct Span {
    /// The range where one is set, else what is in view.
    pub over: RwSignal<View>,
    /// Whether every line's lowest, highest and mean value is shown beside it.
    pub shown: RwSignal<bool>,
    /// Whether the attitude's extremes are shown.
    pub extremes: RwSignal<bool>,
    found: RwSignal<Stretches>,
}

/// Of one run, by trace.
type Known = (Option<Arc<RideView>>, HashMap<Trace, Arc<Summary>>);

impl Span {
    /// `wanted` are the traces to be summed up.
    pub fn new(view: RwSignal<View>, wanted: impl Fn(Self) -> Vec<Trace> + Send + Sync + 'static) -> Self {
        let store = store();
        let range = move || {
            let range = store.range_s.get().map(|[start_s, end_s]| View { start_s, end_s });
            range.unwrap_or_else(|| view.get())
        };
        let span = Self {
            over: rested(range, REST),
            shown: RwSignal::new(false),
            extremes: RwSignal::new(true),
            found: RwSignal::default(),
        };
        let known = StoredValue::new(Known::default());
        let round = StoredValue::new(0_u32);
        Effect::new(move || {
            let over = span.over.get();
            let (wanted, ride) = (wanted(span), store.ride.get());
            let this = round.try_update_value(|round| {
                *round += 1;
                *round
            });
            let Some(ride) = ride else { return };
            spawn_local(async move {
                let mut found = HashMap::new();
                for trace in wanted {
                    if let Some(stretch) = sum_up(known, &ride, trace, over).await {
                        found.insert(trace, stretch);
                    }
                    // Another stretch is asked for, or the Ride has been left.
                    if round.try_get_value() != this {
                        return;
                    }
                }
                span.found.set(Arc::new(found));
            });
        });
        span
    }

    /// What a trace comes to, if it was asked for and is there.
    pub fn get(self, trace: Trace) -> Option<Stretch> {
        self.found.with(|found| found.get(&trace).copied())
    }
}

async fn sum_up(
    known: StoredValue<Known>,
    ride: &Arc<RideView>,
    trace: Trace,
    over: View,
) -> Option<Stretch> {
    let samples = ride.get(trace)?;
    let kept = known.try_update_value(|(of, summaries)| {
        if !of.as_ref().is_some_and(|of| Arc::ptr_eq(of, ride)) {
            (*of, *summaries) = (Some(Arc::clone(ride)), HashMap::new());
        }
        summaries.get(&trace).cloned()
    })?;
    let summary = match kept {
        Some(summary) => summary,
        None => {
            // Reading a long trace whole takes some milliseconds: frames go first.
            breathe().await;
            let summary = Arc::new(Summary::of(samples));
            known.try_update_value(|(_, summaries)| summaries.insert(trace, Arc::clone(&summary)));
            summary
        }
    };
    let index = |t_s: f64| ((t_s - ride.start_s) * ride.rate_hz).max(0.0);
    // The samples from the start to the end, both included; a hair's breadth beside one is on it.
    let (from, to) = (index(over.start_s) - 1e-6, index(over.end_s) + 1e-6);
    summary.over(samples, from.ceil() as usize..to.floor() as usize + 1)
}
