//! Two runs, laid over each other by the worker whenever one of them changes.

use std::sync::Arc;

use evenkeel_core::NotMeasured;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::laid_view::LaidView;
use super::rows::overlaid;
use crate::readouts::Subject;
use crate::store::Store;
use crate::worker::{Failure, LaidOver, Request};

/// How far it has come.
#[derive(Clone)]
pub enum Laid {
    /// A run's numbers are not there yet, or no two runs are.
    Waiting,
    Working,
    Done(Arc<LaidView>),
    /// Why not, in a sentence.
    Not(String),
}

/// The two runs laid over each other; `again` asks once more.
pub fn laid_over(store: Store, runs: Memo<Option<[usize; 2]>>, again: RwSignal<u32>) -> RwSignal<Laid> {
    let laid = RwSignal::new(Laid::Waiting);
    let round = StoredValue::new(0_u32);
    let subject = Memo::new(move |_| {
        let runs = runs.get()?;
        // A run that is read out needs the worker no more, and its clocks are matched.
        let ready = runs.iter().all(|run| store.readout(*run).is_some() && !store.is_reading_out(*run));
        let [a, b] = runs.map(|run| Subject::of(store, run));
        ready.then_some((runs, a?, b?))
    });
    Effect::new(move |_| {
        again.track();
        let this = round.try_update_value(|round| {
            *round += 1;
            *round
        });
        let Some((runs, ..)) = subject.get() else {
            // The last picture stays while its runs are read out anew.
            let same = laid.with_untracked(|laid| match laid {
                Laid::Done(view) => runs.get_untracked() == Some(view.runs),
                _ => false,
            });
            if !same {
                laid.set(Laid::Waiting);
            }
            return;
        };
        if runs[0] == runs[1] {
            return laid.set(Laid::Not("Choose two different runs.".to_owned()));
        }
        if !laid.with_untracked(|laid| matches!(laid, Laid::Done(view) if view.runs == runs)) {
            laid.set(Laid::Working);
        }
        let wanted = overlaid().into_iter().map(|row| row.trace).collect();
        let request = Request::LayOver { day: store.day.get_untracked(), runs, traces: wanted };
        spawn_local(async move {
            let answer = store.ask::<Result<LaidOver, NotMeasured>>(request, None).await;
            if round.try_get_value() != this {
                return;
            }
            laid.set(match answer {
                Ok((Ok(over), buffers)) => match LaidView::new(runs, over, buffers) {
                    Some(view) => Laid::Done(Arc::new(view)),
                    None => Laid::Not("The two runs have no place of the track in common.".to_owned()),
                },
                Ok((Err(reason), _)) => {
                    Laid::Not(format!("These runs cannot be laid over each other: {}.", reason.0))
                }
                Err(Failure::Problem(problem)) => Laid::Not(problem),
                Err(Failure::Cancelled) => Laid::Not("This was called off.".to_owned()),
            });
        });
    });
    laid
}
