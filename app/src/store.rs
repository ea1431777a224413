//! What the page knows: the day as typed, the files as read, the run in view.

use std::collections::HashMap;
use std::sync::Arc;

use evenkeel_core::import::Layout;
use evenkeel_core::ride::{SpeedSource, Trace};
use evenkeel_core::{Day, NotMeasured, Profile, RunReadout};
use gloo_file::File;
use leptos::prelude::*;
use serde::de::DeserializeOwned;

use crate::ride::SectionChange;
use crate::track_view::TrackView;
use crate::worker::{Analysed, Client, Failure, Opened, Progress, Request, SourceInfo, TrackAnswer};

/// A place of the page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Place {
    #[default]
    Day,
    Check,
    Ride,
}

/// Something the person should know: what went wrong, what was kept, what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    pub id: u32,
    pub text: String,
}

/// Work that goes on in the worker.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    pub call: u32,
    /// An analysis, which the next one makes needless.
    analysis: bool,
    pub progress: Option<(String, f64)>,
}

/// An analysed run, as the page draws it.
#[derive(Debug, PartialEq)]
pub struct RideView {
    pub readout: RunReadout,
    pub speed_source: Result<SpeedSource, NotMeasured>,
    pub attitude: Result<(), NotMeasured>,
    pub start_s: f64,
    pub rate_hz: f64,
    pub len: usize,
    traces: HashMap<Trace, Vec<f32>>,
}

impl RideView {
    fn new(analysed: Analysed, buffers: Vec<Vec<f32>>) -> Self {
        Self {
            readout: analysed.readout,
            speed_source: analysed.speed_source,
            attitude: analysed.attitude,
            start_s: analysed.start_s,
            rate_hz: analysed.rate_hz,
            len: buffers.first().map_or(0, Vec::len),
            traces: analysed.traces.into_iter().zip(buffers).collect(),
        }
    }

    /// Time of the last sample, s.
    pub fn end_s(&self) -> f64 {
        self.start_s + self.len.saturating_sub(1) as f64 / self.rate_hz
    }

    pub fn get(&self, trace: Trace) -> Option<&[f32]> {
        self.traces.get(&trace).map(Vec::as_slice)
    }

    /// The sample nearest to a time, if it is there.
    pub fn at(&self, trace: Trace, t_s: f64) -> Option<f64> {
        let index = ((t_s - self.start_s) * self.rate_hz).round();
        let sample = *self.get(trace)?.get(if index < 0.0 { return None } else { index as usize })?;
        (!sample.is_nan()).then_some(f64::from(sample))
    }
}

/// The page's state; a handle that copies.
#[derive(Clone, Copy)]
pub struct Store {
    pub place: RwSignal<Place>,
    pub day: RwSignal<Day>,
    pub sources: RwSignal<Vec<SourceInfo>>,
    /// Files that do not say how time passes, and how they are written otherwise.
    pub without_time: RwSignal<Vec<(String, Layout)>>,
    /// Index of the run in view.
    pub run: RwSignal<usize>,
    /// The run in view, analysed.
    pub ride: RwSignal<Option<Arc<RideView>>>,
    /// Where the run in view went, and the day's sections on it.
    pub track: RwSignal<Option<Arc<TrackView>>>,
    /// Name of the section in view, in the traces, on the track and in the numbers; none is the whole run.
    pub section: RwSignal<Option<String>>,
    /// What was done to the day's sections, to be undone.
    pub section_changes: RwSignal<Vec<SectionChange>>,
    pub cursor_s: RwSignal<f64>,
    /// The stretch of the run in view that its reader has set, start and end, s.
    pub range_s: RwSignal<Option<[f64; 2]>>,
    pub notices: RwSignal<Vec<Notice>>,
    pub jobs: RwSignal<Vec<Job>>,
    pub dark: RwSignal<bool>,
    files: StoredValue<HashMap<String, File>, LocalStorage>,
    client: StoredValue<Option<Client>, LocalStorage>,
}

impl Store {
    /// An empty day and a worker.
    pub fn new() -> Self {
        let store = Self {
            place: RwSignal::default(),
            day: RwSignal::default(),
            sources: RwSignal::default(),
            without_time: RwSignal::default(),
            run: RwSignal::default(),
            ride: RwSignal::default(),
            track: RwSignal::default(),
            section: RwSignal::default(),
            section_changes: RwSignal::default(),
            cursor_s: RwSignal::default(),
            range_s: RwSignal::default(),
            notices: RwSignal::default(),
            jobs: RwSignal::default(),
            dark: RwSignal::default(),
            files: StoredValue::new_local(HashMap::new()),
            client: StoredValue::new_local(None),
        };
        store.start_worker();
        store
    }

    fn start_worker(self) {
        let started = Client::start(move |problem| {
            self.tell(format!(
                "{problem}. It was started again and reads the files anew; what you typed is kept."
            ));
            self.start_worker();
            for (name, file) in self.files.get_value() {
                leptos::task::spawn_local(async move {
                    let layout = self.layout_of(&name);
                    let _ = self.open(file, layout).await;
                });
            }
        });
        match started {
            Ok(client) => self.client.set_value(Some(client)),
            Err(problem) => self.tell(problem),
        }
    }

    fn layout_of(self, file: &str) -> Option<Layout> {
        self.sources.with_untracked(|all| all.iter().find(|s| s.file == file).map(|s| s.layout.clone()))
    }

    /// Shows a notice.
    pub fn tell(self, text: impl Into<String>) {
        let text = text.into();
        self.notices.update(|notices| {
            let id = notices.last().map_or(0, |notice| notice.id) + 1;
            notices.retain(|notice| notice.text != text);
            notices.push(Notice { id, text });
        });
    }

    /// Asks the worker; shows progress meanwhile.
    pub async fn ask<A: DeserializeOwned>(
        self,
        request: Request,
        file: Option<&File>,
    ) -> Result<(A, Vec<Vec<f32>>), Failure> {
        let jobs = self.jobs;
        let analysis = matches!(request, Request::Analyse { .. });
        if analysis {
            jobs.with_untracked(|jobs| {
                jobs.iter().filter(|job| job.analysis).for_each(|job| self.cancel(job.call))
            });
        }
        let call = std::rc::Rc::new(std::cell::Cell::new(0));
        let reported = std::rc::Rc::clone(&call);
        let on_progress = move |Progress { what, done }| {
            jobs.update(|jobs| {
                if let Some(job) = jobs.iter_mut().find(|job| job.call == reported.get()) {
                    job.progress = Some((what, done));
                }
            });
        };
        let asked = self.client.with_value(|client| {
            Some(client.as_ref()?.call::<A>(request, file.map(AsRef::as_ref), Box::new(on_progress)))
        });
        let Some((id, answer)) = asked else {
            return Err(Failure::Problem(
                "this browser started no worker, so nothing can be computed".to_owned(),
            ));
        };
        call.set(id);
        jobs.update(|jobs| jobs.push(Job { call: id, analysis, progress: None }));
        let answer = answer.await;
        jobs.update(|jobs| jobs.retain(|job| job.call != id));
        answer
    }

    /// Calls a job off.
    pub fn cancel(self, call: u32) {
        self.client
            .with_value(|client| client.as_ref().map(|client| client.cancel(call)).unwrap_or_default());
    }

    /// Reads a file, anew if it is known, and gives its parts. One that does not say how time passes has
    /// none yet: it waits for its owner's word.
    pub async fn open(self, file: File, layout: Option<Layout>) -> Result<Vec<SourceInfo>, Failure> {
        let name = file.name();
        let request = Request::Open { name: name.clone(), layout };
        let (opened, _) = self.ask::<Opened>(request, Some(&file)).await?;
        self.files.update_value(|files| {
            files.insert(name.clone(), file);
        });
        self.without_time.update(|waiting| waiting.retain(|(waiting, _)| *waiting != name));
        match opened {
            Opened::Read(parts) => {
                self.sources.update(|sources| {
                    sources.retain(|source| source.file != name);
                    sources.extend(parts.iter().cloned());
                });
                Ok(parts)
            }
            Opened::WithoutTime(layout) => {
                self.without_time.update(|waiting| waiting.push((name, layout)));
                Ok(Vec::new())
            }
        }
    }

    /// The file a source was read from, to read it again another way.
    pub fn file(self, name: &str) -> Option<File> {
        self.files.with_value(|files| files.get(name).cloned())
    }

    /// A source by name.
    pub fn source(self, name: &str) -> Option<SourceInfo> {
        self.sources.track();
        self.source_untracked(name)
    }

    /// A source by name, as it is now.
    pub fn source_untracked(self, name: &str) -> Option<SourceInfo> {
        self.sources.with_untracked(|sources| sources.iter().find(|source| source.name == name).cloned())
    }

    /// How a source is read: the day's profile for its headers, else what its headers suggest.
    pub fn profile(self, source: &SourceInfo) -> Profile {
        self.day
            .with(|day| day.kept_profile(source.headers()).cloned())
            .unwrap_or_else(|| source.guess.clone())
    }

    /// Analyses the run in view; what is shown stays until the new result is there.
    pub async fn analyse(self) {
        let (day, run) = (self.day.get_untracked(), self.run.get_untracked());
        match self.ask::<Analysed>(Request::Analyse { day, run }, None).await {
            Ok((analysed, buffers)) => {
                if self.run.get_untracked() == run {
                    self.ride.set(Some(Arc::new(RideView::new(analysed, buffers))));
                }
            }
            Err(Failure::Cancelled) => {}
            Err(Failure::Problem(problem)) => self.tell(problem),
        }
    }

    /// Finds where the run in view went, and the day's sections on it.
    pub async fn find_track(self) {
        let (day, run) = (self.day.get_untracked(), self.run.get_untracked());
        match self.ask::<Option<TrackAnswer>>(Request::Track { day, run }, None).await {
            Ok((Some(answer), buffers)) if self.run.get_untracked() == run => {
                self.track.set(Some(Arc::new(TrackView::new(run, answer, buffers))));
            }
            Ok(_) | Err(Failure::Cancelled) => {}
            Err(Failure::Problem(problem)) => self.tell(problem),
        }
    }
}

/// The page's state, from any component.
pub fn store() -> Store {
    expect_context::<Store>()
}
