//! The page's side of the calls: ask, hear of progress, await the answer, call it off.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::rc::Rc;

use futures_channel::oneshot;
use js_sys::{Array, Float32Array, Object, Reflect, Uint8Array};
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::prelude::*;
use web_sys::Blob;

use super::outside::Worker;
use super::protocol::{Call, News, Progress, Reply, Request};
use crate::timing::breathe;

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

/// A worker that is asked and answers.
pub struct Client {
    worker: Worker,
    pending: Rc<RefCell<HashMap<u32, Pending>>>,
    last: Cell<u32>,
}

impl Client {
    /// Starts the worker; `on_stopped` gets a sentence if it ends by itself, after every open call
    /// has failed.
    ///
    /// # Errors
    /// A sentence, if the browser does not start workers.
    pub fn start(on_stopped: impl Fn(String) + 'static) -> Result<Self, String> {
        let pending = Rc::new(RefCell::new(HashMap::<u32, Pending>::new()));
        let heard = Rc::clone(&pending);
        let lost = Rc::clone(&pending);
        let worker = Worker::spawn(
            "worker",
            move |message| hear(&heard, &message),
            move |problem| {
                for (_, call) in lost.borrow_mut().drain() {
                    let _ = call.answer.send(Err(Failure::Problem(problem.clone())));
                }
                on_stopped(problem);
            },
        )?;
        Ok(Self { worker, pending, last: Cell::new(0) })
    }

    /// Posts a request, with a file if it needs one. Gives the call's id, for [`cancel`](Self::cancel),
    /// and its answer.
    pub fn call(
        &self,
        request: Request,
        file: Option<&Blob>,
        on_progress: Box<dyn Fn(Progress)>,
    ) -> (u32, impl Future<Output = Answer> + use<>) {
        let id = self.last.get() + 1;
        self.last.set(id);
        let (answer, settled) = oneshot::channel();
        self.pending.borrow_mut().insert(id, Pending { answer, on_progress });
        self.post(&Call { id, request }, file);
        let answer = async move {
            let (answer, arrays, file) = settled.await.unwrap_or(Err(Failure::Cancelled))?;
            Ok(Heard { answer, buffers: copies(arrays).await, file })
        };
        (id, answer)
    }

    /// Calls a call off; its answer is then [`Failure::Cancelled`].
    pub fn cancel(&self, call: u32) {
        self.post(&Call { id: 0, request: Request::Cancel { call } }, None);
    }

    fn post(&self, call: &Call, file: Option<&Blob>) {
        let message = Object::new();
        set(&message, "said", &said(call));
        if let Some(file) = file {
            set(&message, "file", file);
        }
        self.worker.post(&message);
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

fn hear(pending: &RefCell<HashMap<u32, Pending>>, message: &JsValue) {
    let field = |key: &str| Reflect::get(message, &key.into()).unwrap_or_default();
    let Ok(Reply { id, news }) = evenkeel_wire::from_bytes(&heard(&field("said"))) else {
        web_sys::console::error_2(&"the worker said something that is not a reply:".into(), message);
        return;
    };
    let settled = match news {
        News::Progress(progress) => {
            if let Some(call) = pending.borrow().get(&id) {
                (call.on_progress)(progress);
            }
            return;
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
}
