//! What the worker says of the pair that is compared, asked anew whenever something changes that it depends on.

use std::collections::HashMap;
use std::sync::Arc;

use evenkeel_core::RunReadout;
use evenkeel_core::decide::{BackToBack, Plan, RunSummary};
use evenkeel_core::setup::AskedBetween;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::chosen::Pair;
use crate::store::Store;
use crate::timing::breathe;
use crate::worker::{EarlierDay, Failure, Request};

/// What the read-outs call the whole run.
const WHOLE_RUN: &str = "run";

/// One answer, with what was asked.
#[derive(Clone)]
pub struct Answer {
    pub asked: Option<AskedBetween>,
    pub said: BackToBack,
}

/// A read-out; the same only if it is one.
#[derive(Clone)]
struct Same(Arc<RunReadout>);

impl PartialEq for Same {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// What an answer depends on.
#[derive(Clone, PartialEq)]
struct Subject {
    /// The runs that are read out, in the order ridden, each with the name of its set-up.
    runs: Vec<(usize, String, Same)>,
    setups: [String; 2],
    asked: Option<AskedBetween>,
    sections: Vec<String>,
    earlier: Vec<EarlierDay>,
}

impl Subject {
    fn of(store: Store, pair: &Pair) -> Option<Self> {
        let [a, b] = pair.setups()?;
        let setup_of = |run: usize| pair.all.iter().find(|setup| setup.runs.contains(&run));
        let count = store.day.with(|day| day.runs.len());
        let runs =
            (0..count).filter_map(|run| Some((run, setup_of(run)?.name.clone(), Same(store.readout(run)?))));
        let asked = store.day.with(|day| day.asked_between([a, b]));
        let sections = match &asked {
            Some(asked) => asked.named.plan.sections.clone(),
            None => store.day.with(|day| day.sections.iter().map(|section| section.name.clone()).collect()),
        };
        Some(Self {
            runs: runs.collect(),
            setups: [a.name.clone(), b.name.clone()],
            asked,
            sections: if sections.is_empty() { vec![WHOLE_RUN.to_owned()] } else { sections },
            earlier: store.earlier.get(),
        })
    }

    /// The question, if it can be proved.
    fn plan(&self) -> Option<Plan> {
        self.asked.as_ref().filter(|asked| asked.counts()).map(|asked| asked.named.plan.clone())
    }
}

/// The answer on the pair; none until it is there.
pub fn answer(store: Store, pair: Memo<Pair>) -> RwSignal<Option<Arc<Answer>>> {
    let found = RwSignal::new(None);
    let round = StoredValue::new(0_u32);
    let summaries = StoredValue::new(HashMap::<usize, (Same, RunSummary)>::new());
    let subject = Memo::new(move |_| pair.with(|pair| Subject::of(store, pair)));
    Effect::new(move |_| {
        let subject = subject.get();
        let this = round.try_update_value(|round| {
            *round += 1;
            *round
        });
        let Some(subject) = subject else { return found.set(None) };
        spawn_local(async move {
            let mut runs = Vec::new();
            for (run, setup, readout) in &subject.runs {
                let known = summaries.try_with_value(|known| {
                    known.get(run).filter(|(of, _)| of == readout).map(|(_, summary)| summary.clone())
                });
                let summary = match known {
                    Some(Some(summary)) => summary,
                    Some(None) => {
                        // Some milliseconds each: frames go first.
                        breathe().await;
                        let summary = RunSummary::of(&readout.0, setup);
                        summaries.try_update_value(|known| {
                            known.insert(*run, (readout.clone(), summary.clone()));
                        });
                        summary
                    }
                    // The place was left.
                    None => return,
                };
                runs.push(RunSummary { setup: setup.clone(), ..summary });
            }
            let request = Request::Compare {
                runs,
                setups: subject.setups.clone(),
                plan: subject.plan(),
                sections: subject.sections.clone(),
            };
            let said = store.ask::<BackToBack>(request, None).await;
            if round.try_get_value() != this {
                return;
            }
            match said {
                Ok((said, _)) => found.set(Some(Arc::new(Answer { asked: subject.asked, said }))),
                Err(Failure::Problem(problem)) => store.tell(problem),
                Err(Failure::Cancelled) => {}
            }
        });
    });
    found
}
