//! The read-out of every run of the day: those out of view are made in the background, one after another.

use std::sync::Arc;

use evenkeel_core::findings::{Baseline, Finding, FindingSettings};
use evenkeel_core::track::{Course, Passage, Section};
use evenkeel_core::{Bike, Log, Profile, RunReadout};
use leptos::prelude::*;

use crate::store::Store;
use crate::worker::{Failure, Request, SourceInfo};

/// What a run's numbers depend on.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    pub run: usize,
    pub logs: Vec<Log>,
    sources: Vec<SourceInfo>,
    bike: Bike,
    profiles: Vec<Profile>,
    sections: Vec<Section>,
    course: Option<Course>,
    passages: Vec<Passage>,
}

impl Subject {
    /// `None` for a run of which no log is read.
    pub fn of(store: Store, run: usize) -> Option<Self> {
        let (logs, passages) =
            store.day.with(|day| day.runs.get(run).map(|run| (run.logs.clone(), run.passages.clone())))?;
        let sources: Vec<_> = logs.iter().filter_map(|log| store.source(&log.file)).collect();
        let subject = store.day.with(|day| Self {
            run,
            logs,
            sources,
            bike: day.bike.clone(),
            profiles: day.profiles.clone(),
            sections: day.sections.clone(),
            course: day.course.clone(),
            passages,
        });
        (!subject.sources.is_empty()).then_some(subject)
    }
}

/// What is known of one run.
#[derive(Clone, Debug)]
struct Known {
    subject: Subject,
    settings: FindingSettings,
    /// None if its analysis failed.
    readout: Option<Arc<RunReadout>>,
}

impl Known {
    fn is_of(&self, logs: &[Log]) -> bool {
        self.subject.logs.iter().map(|log| &log.file).eq(logs.iter().map(|log| &log.file))
    }
}

/// The read-outs, each with what it was made from. A run is known by its logs: runs may change places.
#[derive(Clone, Debug, Default)]
pub struct Readouts(Vec<Known>);

impl Readouts {
    fn of(&self, logs: &[Log]) -> Option<&Known> {
        self.0.iter().find(|known| known.is_of(logs))
    }

    fn put(&mut self, known: Known) {
        self.remove(&known.subject.logs);
        self.0.push(known);
    }

    fn remove(&mut self, logs: &[Log]) {
        self.0.retain(|known| !known.is_of(logs));
    }
}

/// The next thing to do so that every read-out is as the day is now.
#[derive(Clone, Debug, PartialEq)]
enum Task {
    ReadOut(Subject),
    Findings(Subject),
}

impl Store {
    /// The read-out of a run of the day, as soon as there is one: the last one made, while a new one is on its way.
    pub fn readout(self, run: usize) -> Option<Arc<RunReadout>> {
        let logs = self.day.with(|day| day.runs.get(run).map(|run| run.logs.clone()))?;
        self.readouts.with(|readouts| readouts.of(&logs)?.readout.clone())
    }

    /// Whether the read-out of a run is being made, or made anew.
    pub fn is_reading_out(self, run: usize) -> bool {
        Subject::of(self, run).is_some_and(|subject| {
            self.readouts
                .with(|readouts| readouts.of(&subject.logs).is_none_or(|known| known.subject != subject))
        })
    }

    /// Keeps a read-out.
    pub fn read_out(self, subject: Subject, settings: FindingSettings, readout: Option<Arc<RunReadout>>) {
        let name = readout.as_ref().map(|readout| readout.name.clone());
        let run = subject.run;
        self.readouts.update(|readouts| readouts.put(Known { subject, settings, readout }));
        let is_usual = self.day.with_untracked(|day| {
            name.is_some_and(|name| day.findings.baseline.names().any(|usual| usual == name))
        });
        if is_usual {
            leptos::task::spawn_local(self.take_as_usual(run));
        }
    }

    /// Takes a run that felt right, as it is read out now, as what other runs are compared with.
    pub async fn take_as_usual(self, run: usize) {
        let Some(logs) = self.day.with_untracked(|day| day.runs.get(run).map(|run| run.logs.clone())) else {
            return;
        };
        if let Ok((Some(usual), _)) = self.ask::<Option<Baseline>>(Request::Usual { logs }, None).await {
            self.day.update(|day| day.findings.baseline.add(usual));
        }
    }

    /// The next run whose numbers or findings are not as the day is.
    fn task(self) -> Option<Task> {
        let in_view = self.run.get();
        let runs = self.day.with(|day| day.runs.len());
        let settings = self.day.with(|day| day.findings.clone());
        let subjects: Vec<_> = (0..runs).filter_map(|run| Subject::of(self, run)).collect();
        self.readouts.with(|readouts| {
            // The run in view is analysed whenever it changes, its traces too.
            let stale = |subject: &&Subject| {
                subject.run != in_view
                    && readouts.of(&subject.logs).is_none_or(|known| known.subject != **subject)
            };
            let read = subjects.iter().find(stale).cloned().map(Task::ReadOut);
            read.or_else(|| {
                let judged_otherwise = |subject: &&Subject| {
                    readouts
                        .of(&subject.logs)
                        .is_some_and(|known| known.readout.is_some() && known.settings != settings)
                };
                subjects.iter().find(judged_otherwise).cloned().map(Task::Findings)
            })
        })
    }

    /// Makes the read-outs that are missing or out of date whenever the worker has nothing else to do.
    pub fn keep_readouts(self) {
        let task = Memo::new(move |_| self.task());
        Effect::new(move |_| {
            let task = task.get();
            let idle = self.jobs.with(Vec::is_empty) && !self.is_loading() && !self.is_full();
            if let Some(task) = task.filter(|_| idle) {
                leptos::task::spawn_local(self.make(task));
            }
        });
    }

    async fn make(self, task: Task) {
        let day = self.day.get_untracked();
        let settings = day.findings.clone();
        match task {
            Task::ReadOut(subject) => {
                let request = Request::ReadOut { run: subject.run, day };
                let readout = match self.ask::<RunReadout>(request, None).await {
                    Ok((readout, _)) => Some(Arc::new(readout)),
                    // Called off by something more urgent; it is asked for again.
                    Err(Failure::Cancelled) => return,
                    Err(Failure::Problem(problem)) => {
                        self.tell(problem);
                        None
                    }
                };
                self.read_out(subject, settings, readout);
            }
            Task::Findings(subject) => {
                let request = Request::Findings { day, logs: subject.logs.clone() };
                let Ok((findings, _)) = self.ask::<Option<Vec<Finding>>>(request, None).await else { return };
                let Some(findings) = findings else {
                    // The worker that knew its numbers has stopped since.
                    if subject.run == self.run.get_untracked() {
                        return self.analyse().await;
                    }
                    return self.readouts.update(|readouts| readouts.remove(&subject.logs));
                };
                self.readouts.update(|readouts| {
                    let Some(mut known) = readouts.of(&subject.logs).cloned() else { return };
                    known.settings = settings;
                    known.readout =
                        known.readout.map(|readout| Arc::new(RunReadout { findings, ..(*readout).clone() }));
                    readouts.put(known);
                });
            }
        }
    }
}
