//! The worker's side of the calls: it keeps the samples and does the computing.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashSet};
use std::ops::ControlFlow;
use std::rc::Rc;
use std::sync::Arc;

use evenkeel_core::align::{ClockMatch, Grid, match_clock};
use evenkeel_core::calibrate::{Linkage, Mount, Response};
use evenkeel_core::findings::{Baseline, findings};
use evenkeel_core::import::{self, Layout, TimeBase};
use evenkeel_core::ride::{Ride, Stage, Trace, align_run, find_mount};
use evenkeel_core::track::Way;
use evenkeel_core::{
    Day, Log, NotMeasured, Place, Profile, Role, RunReadout, RunSheet, Source, Unit, analyse,
};
use evenkeel_plot::Pyramid;
use js_sys::{Array, Float32Array, Function, Object, Promise, Reflect, Uint8Array};
use serde::Serialize;
use serde_json::value::{RawValue, to_raw_value};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{Blob, DedicatedWorkerGlobalScope, MessageChannel, MessageEvent};

use super::client::set;
use super::picture::{Sketch, sketch};
use super::protocol::{Analysed, Call, News, Opened, Picture, Progress, Reply, Request, Series, SourceInfo};
use super::track;
use super::warm::warm;

/// A file is read in steps of this size, so that a Cancel is heard in between, bytes.
const STEP: f64 = 4.0 * 1024.0 * 1024.0;
/// No linkage table or split list is longer than this, bytes.
const TABLE: f64 = 1024.0 * 1024.0;

/// Why a request has no answer.
enum Stop {
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
    sources: RefCell<BTreeMap<String, Arc<Source>>>,
    cancelled: RefCell<HashSet<u32>>,
    /// The way of the run analysed last, and its index.
    way: RefCell<Option<(usize, Way)>>,
    /// The last read-out of each run, by the files of its logs.
    readouts: RefCell<BTreeMap<Vec<String>, RunReadout>>,
}

/// Answers the page's calls from now on; the worker's `main`.
pub fn answer() {
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let desk = Rc::new(Desk {
        scope: scope.clone(),
        sources: RefCell::default(),
        cancelled: RefCell::default(),
        way: RefCell::default(),
        readouts: RefCell::default(),
    });
    let on_message = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let message = event.data();
        let field = |key: &str| Reflect::get(&message, &key.into()).unwrap_or_default();
        let Ok(call) = serde_json::from_str::<Call>(&field("json").as_string().unwrap_or_default()) else {
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
    // Heard messages wait until this is done.
    warm();
}

/// An answer in JSON, and the samples that go beside it, out of this module's memory already.
type Answer = (Box<RawValue>, Vec<Float32Array>);

impl Desk {
    async fn take(&self, Call { id, request }: Call, file: Option<Blob>) {
        let answer = self.answer(id, request, file).await;
        self.cancelled.borrow_mut().remove(&id);
        match answer {
            Ok((value, buffers)) => self.post(id, News::Done(value), &buffers),
            Err(Stop::Cancelled) => self.post(id, News::Cancelled, &[]),
            Err(Stop::Problem(problem)) => self.post(id, News::Failed(problem), &[]),
        }
    }

    async fn answer(&self, id: u32, request: Request, file: Option<Blob>) -> Result<Answer, Stop> {
        match request {
            Request::Open { name, layout } => plain(&self.open(id, &name, layout, need(file)?).await?),
            Request::Close { source } => plain(&self.sources.borrow_mut().remove(&source).map(drop)),
            Request::Pictures { source, profile } => self.pictures(&source, &profile),
            Request::FindMount { day, run, place } => plain(&self.find_mount(&day, run, place)?),
            Request::FindClock { day, run, source } => plain(&self.find_clock(&day, run, &source)?),
            Request::Show { day, run } => self.show(&day, run),
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
                let (answer, buffers) = self.on_way(run, |way| track::answer(&day, sheet, way)).unzip();
                let buffers = buffers.iter().flatten().map(|buffer| Float32Array::from(buffer.as_slice()));
                Ok((to_raw_value(&answer)?, buffers.collect()))
            }
            Request::Places { day, run, places } => {
                let sheet = sheet(&day, run)?;
                let found = self.on_way(run, |way| track::places(&day, sheet, way, &places));
                plain(&found.ok_or_else(not_analysed)?)
            }
            Request::ReadSplits { day, run, name } => {
                let text = text(need(file)?).await?;
                let sheet = sheet(&day, run)?;
                let read = self.on_way(run, |way| track::read_sections(&day, sheet, way, &name, &text));
                plain(&read.ok_or_else(not_analysed)?.map_err(Stop::Problem)?)
            }
            Request::ReadLinkage { name, unit } => plain(&read_linkage(&name, unit, need(file)?).await?),
            Request::Cancel { .. } => plain(&()),
        }
    }

    /// Reports progress, lets waiting messages in, and stops if one of them called this call off.
    async fn checkpoint(&self, id: u32, what: impl Into<String>, done: f64) -> Result<(), Stop> {
        self.post(id, News::Progress(Progress { what: what.into(), done }), &[]);
        breathe().await;
        if self.cancelled.borrow().contains(&id) { Err(Stop::Cancelled) } else { Ok(()) }
    }

    async fn open(&self, id: u32, name: &str, layout: Option<Layout>, file: Blob) -> Result<Opened, Stop> {
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
        let sources = parts.iter().map(|part| SourceInfo {
            name: part.name.clone(),
            file: name.to_owned(),
            layout: part.layout.clone(),
            report: part.report.clone(),
            start_s: part.time_s.first().copied().unwrap_or_default(),
            end_s: part.time_s.last().copied().unwrap_or_default(),
            guess: Profile::guess(part),
        });
        let opened = Opened::Read(sources.collect());
        self.sources.borrow_mut().extend(parts.into_iter().map(|part| (part.name.clone(), Arc::new(part))));
        Ok(opened)
    }

    /// Each channel by its own calibration: a shock's stroke, not the travel it becomes.
    fn pictures(&self, source: &str, profile: &Profile) -> Result<Answer, Stop> {
        let source = self.source(source)?;
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
        Ok((to_raw_value(&pictures)?, buffers))
    }

    fn find_mount(&self, day: &Day, run: usize, place: Place) -> Result<Result<Mount, NotMeasured>, Stop> {
        let run = sheet(day, run)?;
        Ok(find_mount(day, run, &self.sources_of(run), place).map(|found| found.mount))
    }

    fn find_clock(
        &self,
        day: &Day,
        run: usize,
        source: &str,
    ) -> Result<Result<ClockMatch, NotMeasured>, Stop> {
        let run = sheet(day, run)?;
        Ok(match_clock(day, run, &self.sources_of(run), source))
    }

    /// Analyses a run, and keeps its read-out.
    async fn ride(&self, id: u32, day: &Day, run: usize) -> Result<Ride, Stop> {
        let run = sheet(day, run)?;
        let sources = self.sources_of(run);
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
        let ride = self.ride(id, day, index).await?;
        let traces = ride.traces.as_ref();
        self.way.replace(traces.map(|traces| (index, Way::of(traces))));
        let derived = traces.iter().flat_map(|traces| traces.derived());
        let (series, buffers) = series(traces.map(|traces| traces.grid()), derived);
        let Ride { readout, attitude, .. } = ride;
        let analysed = Analysed { readout, attitude, series };
        Ok((to_raw_value(&analysed)?, buffers))
    }

    /// The logged channels as the analysis sees them, without waiting for it.
    fn show(&self, day: &Day, run: usize) -> Result<Answer, Stop> {
        let run = sheet(day, run)?;
        let aligned = align_run(day, run, &self.sources_of(run));
        let logged = aligned.iter().flat_map(|aligned| aligned.iter());
        let logged = logged.map(|(role, channel)| (Trace::Logged(role), channel.samples.as_slice()));
        let (series, buffers) = series(aligned.as_ref().map(|aligned| aligned.grid), logged);
        Ok((to_raw_value(&series)?, buffers))
    }

    /// Something asked of a run's way, if that run was the last to be analysed.
    fn on_way<A>(&self, run: usize, ask: impl FnOnce(&Way) -> A) -> Option<A> {
        self.way.borrow().as_ref().filter(|(known, _)| *known == run).map(|(_, way)| ask(way))
    }

    /// Something asked of a run's read-out, if there is one.
    fn on_readout<A>(&self, logs: &[Log], ask: impl FnOnce(&RunReadout) -> A) -> Option<A> {
        self.readouts.borrow().get(&files(logs)).map(ask)
    }

    fn source(&self, name: &str) -> Result<Arc<Source>, Stop> {
        let missing = || Stop::Problem(format!("{name} is not loaded; drop the file again"));
        self.sources.borrow().get(name).cloned().ok_or_else(missing)
    }

    fn sources_of(&self, run: &RunSheet) -> Vec<Arc<Source>> {
        run.logs.iter().filter_map(|log| self.sources.borrow().get(&log.file).cloned()).collect()
    }

    fn post(&self, id: u32, news: News, buffers: &[Float32Array]) {
        let message = Object::new();
        let json = serde_json::to_string(&Reply { id, news }).unwrap_or_default();
        set(&message, "json", &json.into());
        let transfer: Array = buffers.iter().map(Float32Array::buffer).collect();
        set(&message, "buffers", &buffers.iter().collect::<Array>());
        if let Err(error) = self.scope.post_message_with_transfer(&message, &transfer) {
            web_sys::console::error_1(&error);
        }
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
    Ok((to_raw_value(answer)?, Vec::new()))
}

fn need(file: Option<Blob>) -> Result<Blob, Stop> {
    file.ok_or_else(|| Stop::Problem("no file came with the call; choose it again".to_owned()))
}

fn sheet(day: &Day, run: usize) -> Result<&RunSheet, Stop> {
    day.runs.get(run).ok_or_else(|| Stop::Problem("the day has no such run".to_owned()))
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

/// Bytes `from..to` of a file.
async fn bytes(file: &Blob, from: f64, to: f64) -> Result<Vec<u8>, Stop> {
    let mut bytes = Vec::new();
    Piece::ask(file, from, to)?.take(&mut bytes).await?;
    Ok(bytes)
}

/// A piece of a file that the browser is fetching.
struct Piece(JsFuture);

impl Piece {
    fn ask(file: &Blob, from: f64, to: f64) -> Result<Self, Stop> {
        let piece = file.slice_with_f64_and_f64(from, to).map_err(unreadable)?;
        Ok(Self(JsFuture::from(piece.array_buffer())))
    }

    /// Puts it in place of what is in `bytes`.
    async fn take(self, bytes: &mut Vec<u8>) -> Result<(), Stop> {
        let piece = Uint8Array::new(&self.0.await.map_err(unreadable)?);
        bytes.resize(piece.length() as usize, 0);
        piece.copy_to(bytes);
        Ok(())
    }
}

fn unreadable(error: JsValue) -> Stop {
    Stop::Problem(format!("the file cannot be read any more ({error:?}); choose it again"))
}

/// Lets the worker's waiting messages in: one to itself is heard after them, and sooner than any timer rings.
async fn breathe() {
    let Ok(channel) = MessageChannel::new() else { return };
    let heard = Promise::new(&mut |resolve: Function, _| channel.port1().set_onmessage(Some(&resolve)));
    if channel.port2().post_message(&JsValue::NULL).is_ok() {
        let _ = JsFuture::from(heard).await;
    }
    channel.port1().close();
}
