//! The page's side of the calls: ask, hear of progress, await the answer, call it off.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;

use evenkeel_core::import::Layout;
use futures_channel::oneshot;
use js_sys::{Array, Float32Array, Object, Reflect, Uint8Array};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::prelude::*;
use web_sys::Blob;

use super::outside::Worker;
use super::protocol::{Call, News, Progress, Reply, Request};
use crate::timing::breathe;

/// A memory never shrinks, so a worker that has grown beyond this makes room for another when it rests, bytes.
const FULL: f64 = 256.0 * 1024.0 * 1024.0;
/// So many samples are copied in less time than a frame has.
const COPIED_AT_ONCE: u32 = 1 << 20;

/// Why a call has no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Failure {
    /// It was called off.
    Cancelled,
    /// What went wrong and what to do, for the screen.
    Problem(String),
}

/// What was heard, in the end.
pub type Answer = Result<Heard, Failure>;

/// An answer, and the samples and the file that came beside it.
pub struct Heard {
    answer: Vec<u8>,
    pub buffers: Vec<Vec<f32>>,
    pub file: Option<Blob>,
}

impl Heard {
    /// # Errors
    /// Only if the worker is of another version than the page.
    pub fn answer<A: DeserializeOwned>(&self) -> Result<A, Failure> {
        evenkeel_wire::from_bytes(&self.answer)
            .map_err(|error| Failure::Problem(format!("the worker's answer cannot be read: {error}")))
    }
}

type Settled = Result<(Vec<u8>, Array, Option<Blob>), Failure>;

struct Pending {
    answer: oneshot::Sender<Settled>,
    on_progress: Box<dyn Fn(Progress)>,
}

/// A file that was read, for a worker that has not read it.
pub struct Known {
    pub name: String,
    pub layout: Layout,
    /// Names of its sources.
    pub parts: Vec<String>,
    pub file: Blob,
}

/// What happens to a worker without being asked for.
pub struct Events {
    /// It ended by itself, with a sentence why; what it was asked has failed before.
    pub stopped: Box<dyn Fn(String)>,
    /// It has answered everything, and its memory has grown large.
    pub full: Box<dyn Fn()>,
}

/// Something to be said to a worker.
struct Said {
    call: Call,
    file: Option<Blob>,
    /// Who waits for an answer; nobody for what is not answered.
    pending: Option<Pending>,
}

/// The way to one worker.
struct Line {
    worker: Worker,
    pending: Rc<RefCell<HashMap<u32, Pending>>>,
    /// It is the one that is asked; before, its failure is nobody's but its own.
    serves: Rc<Cell<bool>>,
}

impl Line {
    fn open(events: &Rc<Events>) -> Result<Self, String> {
        let (pending, serves) = (Rc::<RefCell<HashMap<u32, Pending>>>::default(), Rc::new(Cell::new(false)));
        let (heard, serves_still, after) = (Rc::clone(&pending), Rc::clone(&serves), Rc::clone(events));
        let (lost, served, at_end) = (Rc::clone(&pending), Rc::clone(&serves), Rc::clone(events));
        let worker = Worker::spawn(
            "worker",
            move |message| {
                let is_full = hear(&heard, &message).is_some_and(|memory_bytes| memory_bytes > FULL);
                if is_full && serves_still.get() && heard.borrow().is_empty() {
                    (after.full)();
                }
            },
            move |problem| {
                for (_, call) in lost.borrow_mut().drain() {
                    let _ = call.answer.send(Err(Failure::Problem(problem.clone())));
                }
                if served.replace(false) {
                    (at_end.stopped)(problem);
                }
            },
        )?;
        Ok(Self { worker, pending, serves })
    }

    fn say(&self, Said { call, file, pending }: Said) {
        if let Some(pending) = pending {
            self.pending.borrow_mut().insert(call.id, pending);
        }
        let message = Object::new();
        set(&message, "said", &said(&call));
        if let Some(file) = file {
            set(&message, "file", &file);
        }
        self.worker.post(&message);
    }
}

/// A worker that is asked and answers.
pub struct Client {
    line: RefCell<Line>,
    events: Rc<Events>,
    last: Cell<u32>,
    /// What is said while one worker makes room for the next, which is to hear it.
    waiting: RefCell<Option<Vec<Said>>>,
}

impl Client {
    /// Starts the worker.
    ///
    /// # Errors
    /// A sentence, if the browser does not start workers.
    pub fn start(events: Events) -> Result<Self, String> {
        let events = Rc::new(events);
        let line = Line::open(&events)?;
        line.serves.set(true);
        Ok(Self { line: RefCell::new(line), events, last: Cell::new(0), waiting: RefCell::new(None) })
    }

    /// Posts a request, with a file if it needs one. Gives the call's id, for [`cancel`](Self::cancel),
    /// and its answer.
    pub fn call(
        &self,
        request: Request,
        file: Option<&Blob>,
        on_progress: Box<dyn Fn(Progress)>,
    ) -> (u32, impl Future<Output = Answer> + use<>) {
        let (call, answer) = self.asking(request, file, on_progress);
        let id = call.call.id;
        self.say(call);
        (id, answer)
    }

    /// Calls a call off; its answer is then [`Failure::Cancelled`].
    pub fn cancel(&self, call: u32) {
        self.say(Said { call: Call { id: 0, request: Request::Cancel { call } }, file: None, pending: None });
    }

    /// Puts a new worker in the place of one that rests, and gives its memory back. The new one knows what the other
    /// did, and reads `files` again when their samples are asked for; calls wait meanwhile. Where none is to be had
    /// that does, the one there is stays.
    pub async fn replace(&self, files: Vec<Known>) {
        if !self.line.borrow().pending.borrow().is_empty() || self.waiting.borrow().is_some() {
            return;
        }
        self.hold();
        // Where the one there is has stopped, calls wait on until it is started again.
        if self.follow(files).await.is_ok() || self.line.borrow().serves.get() {
            self.go_on();
        }
    }

    /// Lets calls wait for a new worker.
    pub fn hold(&self) {
        self.waiting.borrow_mut().get_or_insert_default();
    }

    /// Puts a new worker in the place of one that has stopped; it reads `files` again when their samples are asked for,
    /// and has nothing else of what the other knew.
    ///
    /// # Errors
    /// If it stops as well. Every call fails then.
    pub async fn start_again(&self, files: Vec<Known>) -> Result<(), Failure> {
        self.hold();
        let followed = self.follow(files).await;
        self.go_on();
        followed
    }

    async fn follow(&self, files: Vec<Known>) -> Result<(), Failure> {
        let next = self.successor(files).await?;
        next.serves.set(true);
        self.line.replace(next);
        Ok(())
    }

    /// A worker that knows what the one there is does.
    async fn successor(&self, files: Vec<Known>) -> Result<Line, Failure> {
        let ask = |line: &Line, request: Request, file: Option<&Blob>| {
            let (call, answer) = self.asking(request, file, Box::new(|_| {}));
            line.say(call);
            answer
        };
        let notes = {
            let line = self.line.borrow();
            line.serves.get().then(|| ask(&line, Request::WriteNotes, None))
        };
        let notes = match notes {
            Some(notes) => notes.await?.file,
            None => None,
        };
        let next = Line::open(&self.events).map_err(Failure::Problem)?;
        let mut answers: Vec<_> =
            notes.iter().map(|notes| ask(&next, Request::TakeNotes, Some(notes))).collect();
        for Known { name, layout, parts, file } in files {
            answers.push(ask(&next, Request::Know { name, layout, parts }, Some(&file)));
        }
        for answer in answers {
            answer.await?;
        }
        Ok(next)
    }

    /// Says what waits.
    fn go_on(&self) {
        for said in self.waiting.take().unwrap_or_default() {
            self.say(said);
        }
    }

    fn asking(
        &self,
        request: Request,
        file: Option<&Blob>,
        on_progress: Box<dyn Fn(Progress)>,
    ) -> (Said, impl Future<Output = Answer> + use<>) {
        let id = self.last.get() + 1;
        self.last.set(id);
        let (answer, settled) = oneshot::channel();
        let pending = Some(Pending { answer, on_progress });
        let answer = async move {
            let (answer, arrays, file) = settled.await.unwrap_or(Err(Failure::Cancelled))?;
            Ok(Heard { answer, buffers: copies(arrays).await, file })
        };
        (Said { call: Call { id, request }, file: file.cloned(), pending }, answer)
    }

    fn say(&self, said: Said) {
        let line = self.line.borrow();
        match self.waiting.borrow_mut().as_mut() {
            Some(waiting) => waiting.push(said),
            None if line.serves.get() => line.say(said),
            None => {
                if let Some(call) = said.pending {
                    let stopped = "the worker has stopped; reload the page".to_owned();
                    let _ = call.answer.send(Err(Failure::Problem(stopped)));
                }
            }
        }
    }
}

/// The samples in this module's memory, each array given up as soon as it is copied. A long run's are copied
/// piece by piece, so that no frame waits for all.
async fn copies(arrays: Array) -> Vec<Vec<f32>> {
    let mut copies = Vec::new();
    let mut copied = 0;
    while arrays.length() > 0 {
        let array = Float32Array::from(arrays.shift());
        copied += array.length();
        if copied > COPIED_AT_ONCE {
            breathe().await;
            copied = array.length();
        }
        copies.push(array.to_vec());
    }
    copies
}

/// A plain object takes any property.
pub(super) fn set(object: &Object, key: &str, value: &JsValue) {
    let _ = Reflect::set(object, &key.into(), value);
}

/// What both sides say is plain data, which always has bytes.
pub fn said(what: &impl Serialize) -> Uint8Array {
    Uint8Array::from(evenkeel_wire::to_bytes(what).unwrap_or_default().as_slice())
}

/// The bytes of what was said; none where it was something else.
pub fn heard(said: &JsValue) -> Vec<u8> {
    said.dyn_ref().map(Uint8Array::to_vec).unwrap_or_default()
}

/// Gives the size of the worker's memory, if a call is answered.
fn hear(pending: &RefCell<HashMap<u32, Pending>>, message: &JsValue) -> Option<f64> {
    let field = |key: &str| Reflect::get(message, &key.into()).unwrap_or_default();
    let Ok(Reply { id, news, memory_bytes }) = evenkeel_wire::from_bytes(&heard(&field("said"))) else {
        web_sys::console::error_2(&"the worker said something that is not a reply:".into(), message);
        return None;
    };
    let settled = match news {
        News::Progress(progress) => {
            if let Some(call) = pending.borrow().get(&id) {
                (call.on_progress)(progress);
            }
            return None;
        }
        News::Done => Ok((
            heard(&field("answer")),
            field("buffers").dyn_into().unwrap_or_default(),
            field("file").dyn_into().ok(),
        )),
        News::Cancelled => Err(Failure::Cancelled),
        News::Failed(problem) => Err(Failure::Problem(problem)),
    };
    // Settled outside the borrow: what awaits it may call again at once.
    let call = pending.borrow_mut().remove(&id);
    if let Some(call) = call {
        let _ = call.answer.send(settled);
    }
    Some(memory_bytes)
}
