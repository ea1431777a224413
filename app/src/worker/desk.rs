//! The worker's side of the calls: it keeps the samples and does the computing.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashSet};
use std::ops::ControlFlow;
use std::rc::Rc;
use std::sync::Arc;

use evenkeel_core::align::{ClockMatch, Grid, match_clock};
use evenkeel_core::calibrate::{Linkage, Mount, Response};
use evenkeel_core::decide::{Archive, ArchivedDay, back_to_back};
use evenkeel_core::findings::{Baseline, findings};
use evenkeel_core::handover::{self, DayFile, Link, MAX_UNPACKED, Manifest, ZIP_MARK};
use evenkeel_core::import::{self, Layout, TimeBase};
use evenkeel_core::ride::{Ride, Stage, Trace, Traces, align_run, find_mount};
use evenkeel_core::setup::Descent;
use evenkeel_core::track::{Course, Way};
use evenkeel_core::{
    Day, Log, NotMeasured, Place, Profile, Role, RunReadout, RunSheet, Source, Unit, analyse,
};
use evenkeel_plot::Pyramid;
use js_sys::{Array, ArrayBuffer, Float32Array, Object, Reflect, Uint8Array};
use serde::Serialize;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::spawn_local;
use web_sys::{Blob, DedicatedWorkerGlobalScope, MessageEvent};

use super::client::{heard, said, set};
use super::handed;
use super::laid::{self, LaidRun, Subject};
use super::picture::{Sketch, sketch};
use super::pieces::{Piece, blob, bytes, whole};
use super::protocol::{
    Analysed, Call, DayRead, EarlierDay, KeptDay, LinkRead, News, Opened, Picture, Progress, Reply, Request,
    Series, SourceInfo, Table, Written,
};
use super::shelf::{Away, Shelf};
use super::track;
use crate::timing::breathe;

/// A file is read in steps of this size, so that a Cancel is heard in between, bytes.
const STEP: f64 = 4.0 * 1024.0 * 1024.0;
/// No linkage table or split list is longer than this, bytes.
const TABLE: f64 = 1024.0 * 1024.0;
/// No archive is longer than this, bytes: a run takes some 50 000.
const ARCHIVE: f64 = 128.0 * 1024.0 * 1024.0;

/// Why a request has no answer.
pub enum Stop {
    Cancelled,
    Problem(String),
}

impl<E: std::error::Error> From<E> for Stop {
    fn from(error: E) -> Self {
        Self::Problem(error.to_string())
    }
}

/// The worker's memory.
struct Desk {
    scope: DedicatedWorkerGlobalScope,
    sources: Shelf,
    cancelled: RefCell<HashSet<u32>>,
    /// The way of the run analysed last, and the files of its logs.
    way: RefCell<Option<(Vec<String>, Way)>>,
    /// Runs that were laid over others, the last at the end.
    laid: RefCell<Vec<Rc<LaidRun>>>,
    archive: RefCell<Archive>,
    /// The last read-out of each run, by the files of its logs.
    readouts: RefCell<BTreeMap<Vec<String>, RunReadout>>,
    /// The run that an extract was last made of, as its day was.
    extracted: RefCell<Option<(Day, usize, Rc<Traces>)>>,
}

/// Answers the page's calls from now on; the worker's `main`.
pub fn answer() {
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let desk = Rc::new(Desk {
        scope: scope.clone(),
        sources: Shelf::default(),
        cancelled: RefCell::default(),
        way: RefCell::default(),
        laid: RefCell::default(),
        archive: RefCell::default(),
        readouts: RefCell::default(),
        extracted: RefCell::default(),
    });
    let on_message = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let message = event.data();
        let field = |key: &str| Reflect::get(&message, &key.into()).unwrap_or_default();
        let Ok(call) = evenkeel_wire::from_bytes::<Call>(&heard(&field("said"))) else {
            web_sys::console::error_2(&"the page said something that is not a call:".into(), &message);
            return;
        };
        if let Request::Cancel { call } = call.request {
            desk.cancelled.borrow_mut().insert(call);
            return;
        }
        let desk = Rc::clone(&desk);
        let file = field("file").dyn_into::<Blob>().ok();
        spawn_local(async move { desk.take(call, file).await });
    });
    scope.set_onmessage(Some(on_message.as_ref().unchecked_ref()));
    on_message.forget();
}

/// An answer, and the samples that go beside it, out of this module's memory already.
type Answer = (Uint8Array, Vec<Float32Array>);

impl Desk {
    async fn take(&self, Call { id, request }: Call, file: Option<Blob>) {
        let answer = match request {
            Request::WriteDay { .. }
            | Request::WriteNumbers { .. }
            | Request::WriteParquet { .. }
            | Request::WriteNotes => {
                self.write(id, request).await.map(|(value, file)| (value, Vec::new(), Some(file)))
            }
            _ => self.answer(id, request, file).await.map(|(value, buffers)| (value, buffers, None)),
        };
        self.cancelled.borrow_mut().remove(&id);
        match answer {
            Ok((answer, buffers, file)) => self.hand_in(id, &answer, &buffers, file.as_ref()),
            Err(Stop::Cancelled) => self.tell(id, News::Cancelled),
            Err(Stop::Problem(problem)) => self.tell(id, News::Failed(problem)),
        }
    }

    /// What is answered with a file.
    async fn write(&self, id: u32, request: Request) -> Result<(Uint8Array, Blob), Stop> {
        match request {
            Request::WriteDay { manifest, runs } => {
                let day = self.day_file(id, manifest, &runs).await?;
                let written =
                    day.write_while(async |done| self.between(id, "Writing the day file", done).await);
                let bytes = written.await?.ok_or(Stop::Cancelled)?;
                Ok((said(&Written { contents: day.contents() }), blob(&bytes)?))
            }
            Request::WriteNumbers { day } => {
                let known = self.readouts.borrow();
                let runs: Vec<(String, &RunReadout)> = day
                    .runs
                    .iter()
                    .enumerate()
                    .filter_map(|(index, run)| {
                        Some((day.run_name(Descent::Ridden(index)), known.get(&files(&run.logs))?))
                    })
                    .collect();
                let table = handover::numbers_as_csv(runs.iter().map(|(name, run)| (name.as_str(), *run)));
                Ok((said(&Table { runs: runs.len() }), blob(table.as_bytes())?))
            }
            Request::WriteParquet { today } => {
                let mut archive = self.archive.borrow().clone();
                archive.take(Archive { days: vec![today] });
                let runs = archive.days.iter().map(|day| day.runs.len()).sum();
                Ok((said(&Table { runs }), blob(&handover::parquet(&archive)?)?))
            }
            Request::WriteNotes => {
                let notes = evenkeel_wire::to_bytes(&(&self.archive, &self.readouts, &self.way))?;
                Ok((said(&()), blob(&notes)?))
            }
            _ => Err(Stop::Problem("nothing is written for this call".to_owned())),
        }
    }

    async fn answer(&self, id: u32, request: Request, file: Option<Blob>) -> Result<Answer, Stop> {
        match request {
            Request::Open { name, layout } => plain(&self.open(id, &name, layout, need(file)?).await?),
            Request::Forget { file } => {
                let others = |logs: &[String]| !logs.contains(&file);
                self.sources.forget(&file);
                self.readouts.borrow_mut().retain(|logs, _| others(logs));
                self.way.replace_with(|way| way.take().filter(|(logs, _)| others(logs)));
                plain(&())
            }
            Request::Pictures { source, profile } => self.pictures(id, &source, &profile).await,
            Request::FindMount { day, run, place } => plain(&self.find_mount(id, &day, run, place).await?),
            Request::FindClock { day, run, source } => plain(&self.find_clock(id, &day, run, &source).await?),
            Request::Show { day, run } => self.show(id, &day, run).await,
            Request::Analyse { day, run } => self.analyse(id, &day, run).await,
            Request::ReadOut { day, run } => {
                self.ride(id, &day, run).await?;
                self.on_readout(&sheet(&day, run)?.logs, plain).ok_or_else(not_analysed)?
            }
            Request::Findings { day, logs } => {
                plain(&self.on_readout(&logs, |run| findings(run, &day.bike, &day.findings)))
            }
            Request::Usual { logs } => plain(&self.on_readout(&logs, |run| Baseline::of_readouts([run]))),
            Request::Track { day, run } => {
                let sheet = sheet(&day, run)?;
                let (answer, buffers) = self.on_way(sheet, |way| track::answer(&day, sheet, way)).unzip();
                let buffers = buffers.iter().flatten().map(|buffer| Float32Array::from(buffer.as_slice()));
                Ok((said(&answer), buffers.collect()))
            }
            Request::Places { day, run, places } => {
                let sheet = sheet(&day, run)?;
                let found = self.on_way(sheet, |way| track::places(&day, sheet, way, &places));
                plain(&found.ok_or_else(not_analysed)?)
            }
            Request::ReadSplits { day, run, name } => {
                let text = text(need(file)?).await?;
                let sheet = sheet(&day, run)?;
                let read = self.on_way(sheet, |way| track::read_sections(&day, sheet, way, &name, &text));
                plain(&read.ok_or_else(not_analysed)?.map_err(Stop::Problem)?)
            }
            Request::ReadLinkage { name, unit } => plain(&read_linkage(&name, unit, need(file)?).await?),
            Request::Compare { runs, setups, plan, sections } => {
                let setups = setups.each_ref().map(String::as_str);
                plain(&back_to_back(&runs, setups, plan.as_ref(), &sections, &self.archive.borrow()))
            }
            Request::LayOver { day, runs, traces } => self.lay_over(id, &day, runs, &traces).await,
            Request::ReadArchive { name } => plain(&self.read_archive(&name, need(file)?).await?),
            Request::ForgetArchive => {
                self.archive.take();
                plain(&())
            }
            Request::WriteArchive { today } => plain(&self.write_archive(today)?),
            Request::ReadDay { name, keep } => {
                let day = self.read_day(id, &name, &whole(&need(file)?, &name).await?).await?;
                let manifest = day.manifest();
                let parts = if keep { self.take_sources(day, &name) } else { Vec::new() };
                plain(&DayRead { manifest, parts })
            }
            Request::ReadKept { day, layouts } => {
                let manifest = Manifest::from_json(day.as_bytes())?;
                // One that cannot be read is found anew.
                let layout = |text: Option<String>| text.and_then(|text| serde_json::from_str(&text).ok());
                plain(&KeptDay { manifest, layouts: layouts.into_iter().map(layout).collect() })
            }
            Request::MakeView { view } => plain(&handed::make(&Link::View(view)).map_err(Stop::Problem)?),
            Request::MakePointer { pointer } => {
                plain(&handed::make(&Link::Pointer(pointer)).map_err(Stop::Problem)?)
            }
            Request::MakeExtract { day, run, traces, range_s, rate_hz, characters, extract } => {
                let of = self.traces(id, day, run).await?;
                let made = handed::make_extract(&of, &traces, range_s, rate_hz, characters, extract);
                plain(&made.map_err(Stop::Problem)?)
            }
            Request::ReadLink { fragment } => {
                let handed::Read { mut link, grid, traces } =
                    handed::read(&fragment).map_err(Stop::Problem)?;
                let drawn = traces.iter().map(|(trace, samples)| (*trace, samples.as_slice()));
                let (drawn, buffers) = series(grid, drawn);
                if let LinkRead::Extract { series, .. } = &mut link {
                    *series = drawn;
                }
                Ok((said(&link), buffers))
            }
            Request::TakeNotes => {
                let file = need(file)?;
                let notes = bytes(&file, 0.0, file.size()).await?;
                let (archive, readouts, way) = evenkeel_wire::from_bytes(&notes)?;
                self.archive.replace(archive);
                self.readouts.replace(readouts);
                self.way.replace(way);
                plain(&())
            }
            Request::Know { name, layout, parts } => {
                self.sources.put_away(parts, Away { name, layout, file: need(file)? });
                plain(&())
            }
            Request::WriteDay { .. }
            | Request::WriteNumbers { .. }
            | Request::WriteParquet { .. }
            | Request::WriteNotes => Err(Stop::Problem("this is answered with a file".to_owned())),
            Request::Cancel { .. } => plain(&()),
        }
    }

    /// Reports progress, lets waiting messages in, and stops if one of them called this call off.
    async fn checkpoint(&self, id: u32, what: impl Into<String>, done: f64) -> Result<(), Stop> {
        self.tell(id, News::Progress(Progress { what: what.into(), done }));
        breathe().await;
        if self.cancelled.borrow().contains(&id) { Err(Stop::Cancelled) } else { Ok(()) }
    }

    /// The same for work that breaks off by itself.
    async fn between(&self, id: u32, what: &str, done: f64) -> ControlFlow<()> {
        match self.checkpoint(id, what, done).await {
            Ok(()) => ControlFlow::Continue(()),
            Err(_) => ControlFlow::Break(()),
        }
    }

    /// A day with the samples of these runs' logs.
    async fn day_file(&self, call: u32, manifest: Manifest, runs: &[usize]) -> Result<DayFile, Stop> {
        let Manifest { id, copy, day, remarks, .. } = manifest;
        let mut sources: Vec<Arc<Source>> = Vec::new();
        for run in runs.iter().filter_map(|&run| day.runs.get(run)) {
            for source in self.sources_of(call, run).await? {
                if !sources.iter().any(|known| known.name == source.name) {
                    sources.push(source);
                }
            }
        }
        let whole = DayFile { id, copy, day, remarks, sources };
        Ok(if runs.len() == whole.day.runs.len() { whole } else { whole.only(runs) })
    }

    async fn read_day(&self, id: u32, name: &str, bytes: &[u8]) -> Result<DayFile, Stop> {
        let what = format!("Opening {name}");
        let read = DayFile::read_while(bytes, MAX_UNPACKED, async |done| self.between(id, &what, done).await);
        let refused = |refused| Stop::Problem(format!("{name}: {refused}"));
        read.await.map_err(refused)?.ok_or(Stop::Cancelled)
    }

    /// Keeps the samples of a day file, and tells its logs.
    fn take_sources(&self, day: DayFile, file: &str) -> Vec<SourceInfo> {
        self.laid.take();
        let parts = day.sources.iter().map(|part| info(part, file)).collect();
        self.sources.put(day.sources);
        parts
    }

    /// Everything of a run that an extract can be made of: kept, since a link is made anew with every choice.
    async fn traces(&self, id: u32, day: Day, run: usize) -> Result<Rc<Traces>, Stop> {
        let known = self
            .extracted
            .borrow()
            .as_ref()
            .and_then(|(of, index, traces)| (*index == run && *of == day).then(|| Rc::clone(traces)));
        if let Some(known) = known {
            return Ok(known);
        }
        let ride = self.ride(id, &day, run).await?;
        let traces = ride.traces.map(Rc::new).ok_or_else(not_analysed)?;
        self.extracted.replace(Some((day, run, Rc::clone(&traces))));
        Ok(traces)
    }

    async fn open(&self, id: u32, name: &str, layout: Option<Layout>, file: Blob) -> Result<Opened, Stop> {
        if bytes(&file, 0.0, ZIP_MARK.len() as f64).await? == ZIP_MARK {
            let day = self.read_day(id, name, &whole(&file, name).await?).await?;
            return Ok(Opened::Read(self.take_sources(day, name)));
        }
        // A browser hands out a file by another process: what will be needed is asked for early.
        let mut coming = Piece::ask(&file, 0.0, STEP)?;
        let layout = match layout {
            Some(layout) => layout,
            None => import::sniff(&bytes(&file, 0.0, import::SNIFF_BYTES as f64).await?, name)?,
        };
        if layout.time == TimeBase::Unknown {
            return Ok(Opened::WithoutTime(layout));
        }
        let mut reader = import::Reader::new(name, layout)?;
        let size = file.size();
        reader.expect(size);
        let (mut from, mut text) = (0.0, Vec::new());
        while from < size {
            self.checkpoint(id, format!("Reading {name}"), from / size).await?;
            let piece = coming;
            from += STEP;
            coming = Piece::ask(&file, from, from + STEP)?;
            piece.take(&mut text).await?;
            reader.feed(&text)?;
        }
        let parts = reader.finish()?.parts;
        let opened = Opened::Read(parts.iter().map(|part| info(part, name)).collect());
        // A file that is read another way is another file.
        self.laid.take();
        self.sources.put(parts.into_iter().map(Arc::new));
        Ok(opened)
    }

    /// Each channel by its own calibration: a shock's stroke, not the travel it becomes.
    async fn pictures(&self, id: u32, name: &str, profile: &Profile) -> Result<Answer, Stop> {
        let missing = || Stop::Problem(format!("{name} is not loaded; drop the file again"));
        let source = self.source(id, name).await?.ok_or_else(missing)?;
        let (pictures, buffers): (Vec<Picture>, Vec<Float32Array>) = source
            .columns
            .iter()
            .zip(&profile.channels)
            .map(|(column, channel)| {
                let response = Response::of(channel).ok().filter(|_| channel.role != Role::Unused);
                let shown = |raw: &f32| {
                    let raw = column.origin + f64::from(*raw);
                    response.as_ref().map_or(raw, |response| response.si(raw)) as f32
                };
                let samples: Vec<f32> = column.values.iter().map(shown).collect();
                let Sketch { envelope, still, range } = sketch(&source.time_s, &samples);
                (Picture { si: response.is_some(), still, range }, Float32Array::from(envelope.as_slice()))
            })
            .unzip();
        Ok((said(&pictures), buffers))
    }

    async fn find_mount(
        &self,
        id: u32,
        day: &Day,
        run: usize,
        place: Place,
    ) -> Result<Result<Mount, NotMeasured>, Stop> {
        let run = sheet(day, run)?;
        Ok(find_mount(day, run, &self.sources_of(id, run).await?, place).map(|found| found.mount))
    }

    async fn find_clock(
        &self,
        id: u32,
        day: &Day,
        run: usize,
        source: &str,
    ) -> Result<Result<ClockMatch, NotMeasured>, Stop> {
        let run = sheet(day, run)?;
        Ok(match_clock(day, run, &self.sources_of(id, run).await?, source))
    }

    /// Analyses a run, and keeps its read-out.
    async fn ride(&self, id: u32, day: &Day, run: usize) -> Result<Ride, Stop> {
        let run = sheet(day, run)?;
        let sources = self.sources_of(id, run).await?;
        let ride = analyse(day, run, &sources, async |stage: Stage| {
            let done = stage as usize as f64 / Stage::ALL.len() as f64;
            match self.checkpoint(id, format!("Analysing {}", run.name), done).await {
                Ok(()) => ControlFlow::Continue(()),
                Err(_) => ControlFlow::Break(()),
            }
        })
        .await
        .map_err(|_| Stop::Cancelled)?;
        self.readouts.borrow_mut().insert(files(&run.logs), ride.readout.clone());
        Ok(ride)
    }

    async fn analyse(&self, id: u32, day: &Day, index: usize) -> Result<Answer, Stop> {
        let run = sheet(day, index)?;
        let ride = self.ride(id, day, index).await?;
        let traces = ride.traces.as_ref();
        // Another run is looked at, or this one has changed.
        self.extracted.take();
        self.way.replace(traces.map(|traces| (files(&run.logs), Way::of(traces))));
        let derived = traces.iter().flat_map(|traces| traces.derived());
        let (series, buffers) = series(traces.map(|traces| traces.grid()), derived);
        let Ride { readout, attitude, .. } = ride;
        let analysed = Analysed { readout, attitude, series };
        Ok((said(&analysed), buffers))
    }

    /// The logged channels as the analysis sees them, without waiting for it.
    async fn show(&self, id: u32, day: &Day, run: usize) -> Result<Answer, Stop> {
        let run = sheet(day, run)?;
        let aligned = align_run(day, run, &self.sources_of(id, run).await?);
        let logged = aligned.iter().flat_map(|aligned| aligned.iter());
        let logged = logged.map(|(role, channel)| (Trace::Logged(role), channel.samples.as_slice()));
        let (series, buffers) = series(aligned.as_ref().map(|aligned| aligned.grid), logged);
        Ok((said(&series), buffers))
    }

    async fn lay_over(
        &self,
        id: u32,
        day: &Day,
        [a, b]: [usize; 2],
        wanted: &[Trace],
    ) -> Result<Answer, Stop> {
        let course = day.course.as_ref();
        let laid = match self.laid(id, day, a, course, wanted).await? {
            // Without a course of the day the second run is laid over the first.
            Ok(a) => match self.laid(id, day, b, Some(course.unwrap_or(&a.own)), wanted).await? {
                Ok(b) => laid::over(day, &a, &b),
                Err(reason) => Err(reason),
            },
            Err(reason) => Err(reason),
        };
        let (answer, buffers) = match laid {
            Ok((answer, buffers)) => (Ok(answer), buffers),
            Err(reason) => (Err(reason), Vec::new()),
        };
        let buffers = buffers.iter().map(|buffer| Float32Array::from(buffer.as_slice()));
        Ok((said(&answer), buffers.collect()))
    }

    /// A run on a course, as it is kept or analysed for it.
    async fn laid(
        &self,
        id: u32,
        day: &Day,
        index: usize,
        course: Option<&Course>,
        wanted: &[Trace],
    ) -> Result<Result<Rc<LaidRun>, NotMeasured>, Stop> {
        let run = sheet(day, index)?;
        let subject = Subject::of(day, run, course, wanted);
        let known = self.laid.borrow().iter().find(|laid| laid.subject == subject).map(Rc::clone);
        if let Some(known) = known {
            return Ok(Ok(known));
        }
        // Only the traces are wanted: no section is read.
        let bare = Day { sections: Vec::new(), course: None, ..day.clone() };
        let ride = analyse(&bare, run, &self.sources_of(id, run).await?, async |stage: Stage| {
            let done = stage as usize as f64 / Stage::ALL.len() as f64;
            match self.checkpoint(id, format!("Laying {} along the track", run.name), done).await {
                Ok(()) => ControlFlow::Continue(()),
                Err(_) => ControlFlow::Break(()),
            }
        })
        .await
        .map_err(|_| Stop::Cancelled)?;
        let Some(traces) = ride.traces.as_ref() else {
            return Ok(Err(NotMeasured::because(format!("nothing that {} logged can be used", run.name))));
        };
        let made = LaidRun::of(traces, subject).map(Rc::new);
        let made = made.map_err(|reason| NotMeasured::because(format!("{}: {}", run.name, reason.0)));
        if let Ok(made) = &made {
            let mut laid = self.laid.borrow_mut();
            if laid.len() >= laid::KEPT {
                laid.remove(0);
            }
            laid.push(Rc::clone(made));
        }
        Ok(made)
    }

    async fn read_archive(&self, name: &str, file: Blob) -> Result<Vec<EarlierDay>, Stop> {
        if file.size() > ARCHIVE {
            let limit = ARCHIVE / 1024.0 / 1024.0;
            return Err(Stop::Problem(format!(
                "{name} is larger than {limit:.0} MB, which no archive of days is"
            )));
        }
        let text = bytes(&file, 0.0, file.size()).await?;
        let read: Archive = serde_json::from_slice(&text).map_err(|error| {
            Stop::Problem(format!(
                "{name} is no archive of earlier days ({error}). Choose a file that “Keep this day” wrote; the earlier days loaded before are still there."
            ))
        })?;
        let mut archive = self.archive.borrow_mut();
        archive.take(read);
        Ok(archive.days.iter().map(in_brief).collect())
    }

    fn write_archive(&self, today: ArchivedDay) -> Result<String, Stop> {
        let mut archive = self.archive.borrow().clone();
        archive.take(Archive { days: vec![today] });
        Ok(serde_json::to_string(&archive)?)
    }

    /// Something asked of a run's way, if that run was the last to be analysed.
    fn on_way<A>(&self, run: &RunSheet, ask: impl FnOnce(&Way) -> A) -> Option<A> {
        self.way.borrow().as_ref().filter(|(known, _)| *known == files(&run.logs)).map(|(_, way)| ask(way))
    }

    /// Something asked of a run's read-out, if there is one.
    fn on_readout<A>(&self, logs: &[Log], ask: impl FnOnce(&RunReadout) -> A) -> Option<A> {
        self.readouts.borrow().get(&files(logs)).map(ask)
    }

    /// A source by name, read again if it is not in memory; none if no such file was read.
    async fn source(&self, id: u32, name: &str) -> Result<Option<Arc<Source>>, Stop> {
        let _turn = self.sources.turn().await;
        if let Some(away) = self.sources.away(name) {
            self.open(id, &away.name, Some(away.layout.clone()), away.file.clone()).await?;
        }
        Ok(self.sources.get(name))
    }

    async fn sources_of(&self, id: u32, run: &RunSheet) -> Result<Vec<Arc<Source>>, Stop> {
        let mut sources = Vec::new();
        for log in &run.logs {
            sources.extend(self.source(id, &log.file).await?);
        }
        Ok(sources)
    }

    fn tell(&self, id: u32, news: News) {
        self.post(id, news, &Object::new(), &Array::new());
    }

    fn hand_in(&self, id: u32, answer: &Uint8Array, buffers: &[Float32Array], file: Option<&Blob>) {
        let message = Object::new();
        set(&message, "answer", answer);
        set(&message, "buffers", &buffers.iter().collect::<Array>());
        if let Some(file) = file {
            set(&message, "file", file);
        }
        self.post(id, News::Done, &message, &buffers.iter().map(Float32Array::buffer).collect());
    }

    fn post(&self, id: u32, news: News, message: &Object, transfer: &Array) {
        set(message, "said", &said(&Reply { id, news, memory_bytes: memory_bytes() }));
        if let Err(error) = self.scope.post_message_with_transfer(message, transfer) {
            web_sys::console::error_1(&error);
        }
    }
}

/// Size of this module's memory.
fn memory_bytes() -> f64 {
    let memory: js_sys::WebAssembly::Memory = wasm_bindgen::memory().unchecked_into();
    f64::from(memory.buffer().unchecked_ref::<ArrayBuffer>().byte_length())
}

/// A source as the page knows it.
fn info(part: &Source, file: &str) -> SourceInfo {
    SourceInfo {
        name: part.name.clone(),
        file: file.to_owned(),
        layout: part.layout.clone(),
        report: part.report.clone(),
        start_s: part.time_s.first().copied().unwrap_or_default(),
        end_s: part.time_s.last().copied().unwrap_or_default(),
        guess: Profile::guess(part),
    }
}

/// Traces on a grid, each with its pyramid.
fn series<'a>(
    grid: Option<Grid>,
    traces: impl Iterator<Item = (Trace, &'a [f32])>,
) -> (Series, Vec<Float32Array>) {
    let mut buffers = Vec::new();
    let traces = traces.map(|(trace, samples)| {
        buffers.push(Float32Array::from(samples));
        buffers.push(Float32Array::from(Pyramid::new(samples).as_slice()));
        trace
    });
    let traces = traces.collect();
    let Grid { start_s, rate_hz, len } = grid.unwrap_or(Grid { start_s: 0.0, rate_hz: 1.0, len: 0 });
    (Series { start_s, rate_hz, len, traces }, buffers)
}

fn plain<A: Serialize>(answer: &A) -> Result<Answer, Stop> {
    Ok((said(answer), Vec::new()))
}

fn need(file: Option<Blob>) -> Result<Blob, Stop> {
    file.ok_or_else(|| Stop::Problem("no file came with the call; choose it again".to_owned()))
}

fn sheet(day: &Day, run: usize) -> Result<&RunSheet, Stop> {
    day.runs.get(run).ok_or_else(|| Stop::Problem("the day has no such run".to_owned()))
}

fn in_brief(day: &ArchivedDay) -> EarlierDay {
    let setups: HashSet<&str> = day.runs.iter().map(|run| run.setup.as_str()).collect();
    EarlierDay { name: day.name.clone(), date: day.date.clone(), runs: day.runs.len(), setups: setups.len() }
}

fn files(logs: &[Log]) -> Vec<String> {
    logs.iter().map(|log| log.file.clone()).collect()
}

fn not_analysed() -> Stop {
    Stop::Problem("this run is not analysed yet; try again when its traces are there".to_owned())
}

/// A small text file; bytes that are not UTF-8 are replaced, as names of sections bear it.
async fn text(file: Blob) -> Result<String, Stop> {
    Ok(String::from_utf8_lossy(&bytes(&file, 0.0, TABLE).await?).into_owned())
}

async fn read_linkage(name: &str, unit: Unit, file: Blob) -> Result<Linkage, Stop> {
    let text = bytes(&file, 0.0, TABLE).await?;
    Ok(Linkage::from_text(name, &text, unit)?)
}
