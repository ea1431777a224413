//! What the page knows: the day as typed, the files as read, the run in view.

use std::collections::HashMap;
use std::pin::Pin;
use std::rc::Rc;
use std::sync::Arc;
use std::time::Duration;

use evenkeel_core::align::Clock;
use evenkeel_core::import::Layout;
use evenkeel_core::{Day, Profile};
use gloo_file::File;
use leptos::prelude::*;
use serde::de::DeserializeOwned;
use web_sys::Blob;

use crate::back_to_back::{Chosen, take_archive};
use crate::day::SheetChange;
use crate::hand_over::{HandOver, Shared};
use crate::kept::{self, Keeping, keep_file, kept_files};
use crate::readouts::{Readouts, Subject};
use crate::ride::Player;
use crate::ride::RowChoice;
use crate::ride::SectionChange;
pub use crate::ride_view::RideView;
use crate::timing::{mark, rest};
use crate::track_view::TrackView;
use crate::worker::{
    Analysed, Answer, Client, EarlierDay, Events, Failure, Known, Opened, Progress, Request, Series,
    SourceInfo, TrackAnswer,
};

/// A worker that nobody has asked for anything for so long rests; one that has stopped is started again after it.
const RESTED: Duration = Duration::from_secs(1);

/// A place of the page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Place {
    #[default]
    Day,
    Check,
    Ride,
    Readout,
    BackToBack,
    HandOver,
}

/// Something the person should know: what went wrong, what was kept, what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    pub id: u32,
    pub text: String,
}

/// What the next one of the same sort makes needless.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sort {
    Analysis,
    Link,
    /// Nothing does.
    Other,
}

/// Work that goes on in the worker.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    pub call: u32,
    sort: Sort,
    /// Nobody waits for it: it is not shown.
    pub quiet: bool,
    pub progress: Option<(String, f64)>,
}

/// The page's state; a handle that copies.
#[derive(Clone, Copy)]
pub struct Store {
    /// Keys, and what is dropped on the page, are meant for another.
    pub is_unseen: bool,
    pub place: RwSignal<Place>,
    pub day: RwSignal<Day>,
    /// What goes with the day when it is handed over.
    pub shared: RwSignal<Shared>,
    pub hand_over: HandOver,
    pub sources: RwSignal<Vec<SourceInfo>>,
    /// Files that do not say how time passes, and how they are written otherwise.
    pub without_time: RwSignal<Vec<(String, Layout)>>,
    /// Index of the run in view.
    pub run: RwSignal<usize>,
    /// The run in view, as soon as its channels are there.
    pub ride: RwSignal<Option<Arc<RideView>>>,
    /// The read-out of every run.
    pub readouts: RwSignal<Readouts>,
    /// Where the run in view went, and the day's sections on it.
    pub track: RwSignal<Option<Arc<TrackView>>>,
    /// Name of the section in view, in the traces, on the track and in the numbers; none is the whole run.
    pub section: RwSignal<Option<String>>,
    /// What was done to the day's sections, to be undone.
    pub section_changes: RwSignal<Vec<SectionChange>>,
    /// What was done to the day's sheets and plans, to be undone.
    pub sheet_changes: RwSignal<Vec<SheetChange>>,
    pub cursor_s: RwSignal<f64>,
    /// A stretch that is to be shown in Ride as soon as its run is there, start and end, s.
    pub wanted_s: RwSignal<Option<[f64; 2]>>,
    /// Where the cursor is to stand in it; at its start if nothing is said.
    pub wanted_cursor_s: RwSignal<Option<f64>>,
    /// The stretch of the run in view that its reader has set, start and end, s.
    pub range_s: RwSignal<Option<[f64; 2]>>,
    /// Which rows of traces are shown, and how.
    pub rows: RwSignal<RowChoice>,
    pub notices: RwSignal<Vec<Notice>>,
    pub jobs: RwSignal<Vec<Job>>,
    pub dark: RwSignal<bool>,
    /// What is chosen in Back-to-back.
    pub compared: Chosen,
    /// The earlier days that the worker knows, and the files they came from.
    pub earlier: RwSignal<Vec<EarlierDay>>,
    pub archives: StoredValue<Vec<File>, LocalStorage>,
    /// The helmet video of the run in view.
    pub player: Player,
    /// Whether what was typed is kept.
    pub keeping: RwSignal<Keeping>,
    /// Where the browser keeps the day.
    pub kept: StoredValue<Option<kept::Place>, LocalStorage>,
    files: StoredValue<HashMap<String, File>, LocalStorage>,
    client: StoredValue<Option<Rc<Client>>, LocalStorage>,
    /// The worker's memory is large, and it is to be replaced when nothing waits for it.
    full: RwSignal<bool>,
    /// How many times a run was called up.
    showings: StoredValue<u32>,
    /// How many loads go on that will end with a search for clocks.
    loads: RwSignal<u32>,
}

impl Store {
    /// An empty day and a worker.
    pub fn new() -> Self {
        let store = Self::of(None, false);
        store.start_worker();
        store
    }

    /// Another empty day that nobody sees: it asks the same worker, and is not kept.
    pub fn unseen(self) -> Self {
        Self::of(self.client.get_value(), true)
    }

    /// Whether the page shows what it began with, and does nothing.
    pub fn is_untouched(self) -> bool {
        self.place.get_untracked() == Place::Day
            && self.day.with_untracked(|day| *day == Day::default())
            && self.jobs.with_untracked(Vec::is_empty)
            && self.loads.get_untracked() == 0
    }

    fn of(client: Option<Rc<Client>>, is_unseen: bool) -> Self {
        Self {
            is_unseen,
            place: RwSignal::default(),
            day: RwSignal::default(),
            shared: RwSignal::default(),
            hand_over: HandOver::new(),
            sources: RwSignal::default(),
            without_time: RwSignal::default(),
            run: RwSignal::default(),
            ride: RwSignal::default(),
            readouts: RwSignal::default(),
            track: RwSignal::default(),
            section: RwSignal::default(),
            section_changes: RwSignal::default(),
            sheet_changes: RwSignal::default(),
            cursor_s: RwSignal::default(),
            wanted_s: RwSignal::default(),
            wanted_cursor_s: RwSignal::default(),
            range_s: RwSignal::default(),
            rows: RwSignal::default(),
            notices: RwSignal::default(),
            jobs: RwSignal::default(),
            dark: RwSignal::default(),
            compared: Chosen::default(),
            earlier: RwSignal::default(),
            archives: StoredValue::new_local(Vec::new()),
            player: Player::new(),
            keeping: RwSignal::default(),
            kept: StoredValue::new_local(None),
            files: StoredValue::new_local(HashMap::new()),
            client: StoredValue::new_local(client),
            full: RwSignal::default(),
            showings: StoredValue::new(0),
            loads: RwSignal::default(),
        }
    }

    fn start_worker(self) {
        let stopped = move |problem| {
            self.tell(format!(
                "{problem}. It is started again and reads the files anew; what you typed is kept."
            ));
            if let Some(client) = self.client.get_value() {
                client.hold();
                leptos::task::spawn_local(self.start_again(client));
            }
        };
        let full = move || {
            if !self.full.get_untracked() {
                self.full.set(true);
                leptos::task::spawn_local(self.replace_worker());
            }
        };
        match Client::start(Events { stopped: Box::new(stopped), full: Box::new(full) }) {
            Ok(client) => self.client.set_value(Some(Rc::new(client))),
            Err(problem) => self.tell(problem),
        }
    }

    async fn start_again(self, client: Rc<Client>) {
        // One that cannot start stops at once.
        rest(RESTED).await;
        let known = self.files.get_value().into_values().filter_map(|file| self.known(file)).collect();
        if let Err(Failure::Problem(problem)) = client.start_again(known).await {
            return self.tell(problem);
        }
        for file in self.archives.get_value() {
            take_archive(self, file).await;
        }
    }

    /// Whether the worker makes room, and should not be asked for what nobody waits for.
    pub fn is_full(self) -> bool {
        self.full.get()
    }

    /// As soon as the worker has rested for a while, if what it would forget can be read again.
    async fn replace_worker(self) {
        rest(RESTED).await;
        while !self.jobs.with_untracked(Vec::is_empty) {
            rest(RESTED).await;
        }
        if let (Some(files), Some(client)) = (kept_files(self).await, self.client.get_value()) {
            let known = files.into_iter().filter_map(|file| self.known(file)).collect();
            client.replace(known).await;
        }
        self.full.set(false);
    }

    fn known(self, file: File) -> Option<Known> {
        let name = file.name();
        let layout = self.layout_of(&name)?;
        let parts = self.sources.with_untracked(|all| {
            all.iter().filter(|source| source.file == name).map(|source| source.name.clone()).collect()
        });
        Some(Known { name, layout, parts, file: (*file).clone().into() })
    }

    /// While this is kept, clocks that are not matched may yet be.
    pub fn loading(self) -> Loading {
        self.loads.update(|loads| *loads += 1);
        Loading(self.loads)
    }

    /// Whether the places of the run in view are those of its clocks: they move while one is looked for, and until the
    /// run is analysed with it.
    pub fn is_placed(self) -> bool {
        let run = self.run.get();
        let logs = self.day.with(|day| day.runs.get(run).map(|run| run.logs.clone())).unwrap_or_default();
        let unmatched = logs.iter().skip(1).any(|log| log.clock == Clock::default());
        let analysed = self.ride.with(|ride| ride.as_ref().is_some_and(|ride| ride.logs == logs));
        analysed && !(unmatched && self.is_loading())
    }

    /// Whether a load goes on that will end with a search for clocks.
    pub fn is_loading(self) -> bool {
        self.loads.get() > 0
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

    /// Goes to a stretch of a run, start and end in s, in Ride.
    pub fn show_in_ride(self, run: usize, span_s: [f64; 2]) {
        if self.run.get_untracked() != run {
            self.ride.set(None);
            self.track.set(None);
            self.run.set(run);
        }
        self.wanted_s.set(Some(span_s));
        self.place.set(Place::Ride);
    }

    /// Asks the worker; shows progress meanwhile.
    pub async fn ask<A: DeserializeOwned>(
        self,
        request: Request,
        file: Option<&File>,
    ) -> Result<(A, Vec<Vec<f32>>), Failure> {
        let heard = self.ask_all(request, file.cloned()).await?;
        Ok((heard.answer()?, heard.buffers))
    }

    /// [`ask`](Self::ask) for a file.
    pub async fn ask_for_file<A: DeserializeOwned>(self, request: Request) -> Result<(A, Blob), Failure> {
        let heard = self.ask_all(request, None).await?;
        let missing = || Failure::Problem("the worker sent no file; try again".to_owned());
        Ok((heard.answer()?, heard.file.ok_or_else(missing)?))
    }

    /// Boxed, or there would be one for every kind of answer.
    fn ask_all(self, request: Request, file: Option<File>) -> Pin<Box<dyn Future<Output = Answer>>> {
        Box::pin(self.asked(request, file))
    }

    async fn asked(self, request: Request, file: Option<File>) -> Answer {
        let jobs = self.jobs;
        let sort = match request {
            Request::Show { .. } | Request::Analyse { .. } | Request::ReadOut { .. } => Sort::Analysis,
            Request::MakeView { .. } | Request::MakeExtract { .. } => Sort::Link,
            _ => Sort::Other,
        };
        let quiet =
            matches!(request, Request::ReadOut { .. } | Request::Findings { .. } | Request::Usual { .. });
        if sort != Sort::Other {
            jobs.with_untracked(|jobs| {
                jobs.iter().filter(|job| job.sort == sort).for_each(|job| self.cancel(job.call))
            });
        }
        let call = Rc::new(std::cell::Cell::new(0));
        let reported = Rc::clone(&call);
        let on_progress = move |Progress { what, done }| {
            jobs.update(|jobs| {
                if let Some(job) = jobs.iter_mut().find(|job| job.call == reported.get()) {
                    job.progress = Some((what, done));
                }
            });
        };
        let asked = self.client.with_value(|client| {
            Some(client.as_ref()?.call(request, file.as_ref().map(AsRef::as_ref), Box::new(on_progress)))
        });
        let Some((id, answer)) = asked else {
            return Err(Failure::Problem(
                "this browser started no worker, so nothing can be computed".to_owned(),
            ));
        };
        call.set(id);
        jobs.update(|jobs| jobs.push(Job { call: id, sort, quiet, progress: None }));
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
        let request = Request::Open { name: name.clone(), layout: layout.clone() };
        let (opened, _) = self.ask::<Opened>(request, Some(&file)).await?;
        match opened {
            Opened::Read(parts) => {
                self.take_parts(file, layout, &parts);
                Ok(parts)
            }
            Opened::WithoutTime(layout) => {
                self.take_parts(file, None, &[]);
                self.without_time.update(|waiting| waiting.push((name, layout)));
                Ok(Vec::new())
            }
        }
    }

    /// Takes what the worker has read of a file, and keeps the file.
    pub fn take_parts(self, file: File, layout: Option<Layout>, parts: &[SourceInfo]) {
        let name = file.name();
        self.files.update_value(|files| {
            files.insert(name.clone(), file.clone());
        });
        keep_file(self, file, layout);
        self.without_time.update(|waiting| waiting.retain(|(waiting, _)| *waiting != name));
        if !parts.is_empty() {
            self.sources.update(|sources| {
                sources.retain(|source| {
                    source.file != name && parts.iter().all(|part| part.name != source.name)
                });
                sources.extend(parts.iter().cloned());
            });
        }
    }

    /// Every file that was read, with how its parts were.
    pub fn files_untracked(self) -> Vec<(File, Option<Layout>)> {
        self.files.with_value(|files| {
            files.values().map(|file| (file.clone(), self.layout_of(&file.name()))).collect()
        })
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

    /// Shows the channels of the run in view, then analyses it; the last result stays until the new one is
    /// there.
    pub async fn analyse(self) {
        let (day, run) = (self.day.get_untracked(), self.run.get_untracked());
        let Some(name) = day.runs.get(run).map(|run| run.name.clone()) else { return };
        let Some(subject) = untrack(|| Subject::of(self, run)) else { return };
        let settings = day.findings.clone();
        let showing = self.showings.get_value() + 1;
        self.showings.set_value(showing);
        let is_wanted = || self.showings.get_value() == showing && self.run.get_untracked() == run;

        let request = Request::Show { day: day.clone(), run };
        let Some((series, buffers)) = self.heard(self.ask::<Series>(request, None).await) else { return };
        if !is_wanted() {
            return;
        }
        self.ride.update(|ride| {
            *ride = Some(Arc::new(RideView::shown(showing, name, series, buffers, ride.as_deref())));
        });

        let Some((analysed, buffers)) =
            self.heard(self.ask::<Analysed>(Request::Analyse { day, run }, None).await)
        else {
            return;
        };
        if is_wanted() {
            let logs = subject.logs.clone();
            self.ride.update(|ride| {
                *ride = ride.as_ref().map(|ride| Arc::new(ride.analysed(analysed, buffers, logs)));
            });
            if let Some(readout) =
                self.ride.with_untracked(|ride| ride.as_ref().map(|ride| Arc::clone(&ride.readout)))
            {
                self.read_out(subject, settings, Some(readout));
            }
            mark("evenkeel:analysed");
        }
    }

    /// An answer, if there is one; what went wrong is told.
    fn heard<A>(self, answer: Result<A, Failure>) -> Option<A> {
        match answer {
            Ok(answer) => Some(answer),
            Err(Failure::Cancelled) => None,
            Err(Failure::Problem(problem)) => {
                self.tell(problem);
                None
            }
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

/// A load that goes on.
pub struct Loading(RwSignal<u32>);

impl Drop for Loading {
    fn drop(&mut self) {
        self.0.update(|loads| *loads -= 1);
    }
}

/// The page's state, from any component.
pub fn store() -> Store {
    expect_context::<Store>()
}
