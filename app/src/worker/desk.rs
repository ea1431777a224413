//! The worker's side of the calls: it keeps the samples and does the computing.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashSet};
use std::ops::ControlFlow;
use std::rc::Rc;
use std::sync::Arc;

use evenkeel_core::align::{ClockMatch, match_clock};
use evenkeel_core::calibrate::{Linkage, Mount, Response};
use evenkeel_core::import::{self, Layout, TimeBase};
use evenkeel_core::ride::{Stage, find_mount};
use evenkeel_core::track::Way;
use evenkeel_core::{Day, NotMeasured, Place, Profile, Role, RunSheet, Source, Unit, analyse};
use js_sys::{Array, Float32Array, Function, Object, Promise, Reflect, Uint8Array};
use serde::Serialize;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{Blob, DedicatedWorkerGlobalScope, MessageEvent};

use super::client::set;
use super::picture::{Sketch, sketch};
use super::protocol::{Analysed, Call, News, Opened, Picture, Progress, Reply, Request, SourceInfo};
use super::track;

/// A file is read in steps of this size, so that a Cancel is heard in between, bytes.
const STEP: f64 = 1024.0 * 1024.0;
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
}

/// Answers the page's calls from now on; the worker's `main`.
pub fn answer() {
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let desk = Rc::new(Desk {
        scope: scope.clone(),
        sources: RefCell::default(),
        cancelled: RefCell::default(),
        way: RefCell::default(),
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
}

/// An answer in JSON, and the samples that go beside it.
type Answer = (serde_json::Value, Vec<Vec<f32>>);

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
            Request::Analyse { day, run } => self.analyse(id, &day, run).await,
            Request::Track { day, run } => {
                let sheet = sheet(&day, run)?;
                let (answer, buffers) = self.on_way(run, |way| track::answer(&day, sheet, way)).unzip();
                Ok((serde_json::to_value(&answer)?, buffers.unwrap_or_default()))
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
        breathe(&self.scope).await;
        if self.cancelled.borrow().contains(&id) { Err(Stop::Cancelled) } else { Ok(()) }
    }

    async fn open(&self, id: u32, name: &str, layout: Option<Layout>, file: Blob) -> Result<Opened, Stop> {
        let layout = match layout {
            Some(layout) => layout,
            None => import::sniff(&bytes(&file, 0.0, import::SNIFF_BYTES as f64).await?, name)?,
        };
        if layout.time == TimeBase::Unknown {
            return Ok(Opened::WithoutTime(layout));
        }
        let mut reader = import::Reader::new(name, layout)?;
        let size = file.size();
        let mut from = 0.0;
        while from < size {
            self.checkpoint(id, format!("Reading {name}"), from / size).await?;
            reader.feed(&bytes(&file, from, from + STEP).await?)?;
            from += STEP;
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
        let (pictures, buffers): (Vec<Picture>, Vec<Vec<f32>>) = source
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
                (Picture { si: response.is_some(), still, range }, envelope)
            })
            .unzip();
        Ok((serde_json::to_value(&pictures)?, buffers))
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

    async fn analyse(&self, id: u32, day: &Day, index: usize) -> Result<Answer, Stop> {
        let run = sheet(day, index)?;
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
        self.way.replace(ride.traces.as_ref().map(|traces| (index, Way::of(traces))));
        let grid = ride.traces.as_ref().map(|traces| traces.grid());
        let (traces, buffers) = ride
            .traces
            .iter()
            .flat_map(|traces| traces.iter())
            .map(|(trace, samples)| (trace, samples.to_vec()))
            .unzip();
        let analysed = Analysed {
            readout: ride.readout,
            speed_source: ride.speed_source,
            attitude: ride.attitude,
            start_s: grid.map_or(0.0, |grid| grid.start_s),
            rate_hz: grid.map_or(1.0, |grid| grid.rate_hz),
            traces,
        };
        Ok((serde_json::to_value(&analysed)?, buffers))
    }

    /// Something asked of a run's way, if that run was the last to be analysed.
    fn on_way<A>(&self, run: usize, ask: impl FnOnce(&Way) -> A) -> Option<A> {
        self.way.borrow().as_ref().filter(|(known, _)| *known == run).map(|(_, way)| ask(way))
    }

    fn source(&self, name: &str) -> Result<Arc<Source>, Stop> {
        let missing = || Stop::Problem(format!("{name} is not loaded; drop the file again"));
        self.sources.borrow().get(name).cloned().ok_or_else(missing)
    }

    fn sources_of(&self, run: &RunSheet) -> Vec<Arc<Source>> {
        run.logs.iter().filter_map(|log| self.sources.borrow().get(&log.file).cloned()).collect()
    }

    fn post(&self, id: u32, news: News, buffers: &[Vec<f32>]) {
        let message = Object::new();
        let json = serde_json::to_string(&Reply { id, news }).unwrap_or_default();
        set(&message, "json", &json.into());
        let arrays: Array = buffers.iter().map(|samples| Float32Array::from(samples.as_slice())).collect();
        let transfer: Array = arrays.iter().map(|array| Float32Array::from(array).buffer()).collect();
        set(&message, "buffers", &arrays);
        if let Err(error) = self.scope.post_message_with_transfer(&message, &transfer) {
            web_sys::console::error_1(&error);
        }
    }
}

fn plain<A: Serialize>(answer: &A) -> Result<Answer, Stop> {
    Ok((serde_json::to_value(answer)?, Vec::new()))
}

fn need(file: Option<Blob>) -> Result<Blob, Stop> {
    file.ok_or_else(|| Stop::Problem("no file came with the call; choose it again".to_owned()))
}

fn sheet(day: &Day, run: usize) -> Result<&RunSheet, Stop> {
    day.runs.get(run).ok_or_else(|| Stop::Problem("the day has no such run".to_owned()))
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
    let unreadable = |error: JsValue| {
        Stop::Problem(format!("the file cannot be read any more ({error:?}); choose it again"))
    };
    let part = file.slice_with_f64_and_f64(from, to).map_err(unreadable)?;
    let buffer = JsFuture::from(part.array_buffer()).await.map_err(unreadable)?;
    Ok(Uint8Array::new(&buffer).to_vec())
}

/// Lets the worker's waiting messages in.
async fn breathe(scope: &DedicatedWorkerGlobalScope) {
    let later = Promise::new(&mut |resolve: Function, _| {
        if scope.set_timeout_with_callback(&resolve).is_err() {
            let _ = resolve.call0(&JsValue::NULL);
        }
    });
    let _ = JsFuture::from(later).await;
}
