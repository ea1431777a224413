//! The sealing worker: fetched when it is first needed, ended after each piece of work.

use std::cell::RefCell;
use std::rc::Rc;

use evenkeel_seal::{Ask, Call, Reply, Told};
use futures_channel::oneshot;
use js_sys::{Array, Object, Reflect, Uint8Array};
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::Blob;

use crate::store::store;
use crate::worker::{self, Failure, Worker, said};

type Settled = Result<(Told, Option<Blob>), Failure>;

/// Seals and opens, one thing at a time; a handle that copies.
#[derive(Clone, Copy)]
pub struct Sealer {
    /// What is being done.
    going: RwSignal<Option<&'static str>>,
    /// How often something was begun.
    begun: StoredValue<u32>,
    worker: StoredValue<Option<Worker>, LocalStorage>,
}

impl Sealer {
    pub fn new() -> Self {
        Self { going: RwSignal::new(None), begun: StoredValue::new(0), worker: StoredValue::new_local(None) }
    }

    /// Asks, with a file beside the question if there is one.
    pub async fn ask(self, what: &'static str, ask: Ask, beside: Option<&Blob>) -> Settled {
        let problem = |error: JsValue| {
            Failure::Problem(format!("the file cannot be read ({error:?}); choose it again"))
        };
        if self.going.with_untracked(Option::is_some) {
            let busy = "something is being sealed or opened already; wait for it, or cancel it";
            return Err(Failure::Problem(busy.to_owned()));
        }
        self.going.set(Some(what));
        self.begun.update_value(|begun| *begun += 1);
        let this = self.begun.get_value();
        let message = Object::new();
        // A plain object takes any property.
        let _ = Reflect::set(&message, &"said".into(), &said(&Call { id: 1, ask }));
        if let Some(file) = beside {
            let bytes = JsFuture::from(file.array_buffer()).await;
            if self.going.with_untracked(Option::is_none) || self.begun.get_value() != this {
                return Err(Failure::Cancelled);
            }
            let bytes = bytes.map_err(|error| {
                self.stop();
                problem(error)
            })?;
            let _ = Reflect::set(&message, &"bytes".into(), &Uint8Array::new(&bytes));
        }
        let (sender, settled) = oneshot::channel::<Settled>();
        let sender = Rc::new(RefCell::new(Some(sender)));
        let lost = Rc::clone(&sender);
        let settle = |sender: &RefCell<Option<oneshot::Sender<Settled>>>, with: Settled| {
            if let Some(sender) = sender.take() {
                let _ = sender.send(with);
            }
        };
        let worker = Worker::spawn(
            "seal",
            move |message| settle(&sender, heard(&message)),
            move |problem| {
                let told = format!(
                    "{problem}. There may be too little memory, or its program could not be fetched; nothing was changed."
                );
                settle(&lost, Err(Failure::Problem(told)));
            },
        );
        match worker {
            Ok(worker) => {
                worker.post(&message);
                self.worker.set_value(Some(worker));
            }
            Err(problem) => {
                self.stop();
                return Err(Failure::Problem(problem));
            }
        }
        let answer = settled.await.unwrap_or(Err(Failure::Cancelled));
        self.stop();
        answer
    }

    /// Calls off what is being done, and gives back the memory that it took.
    pub fn stop(self) {
        self.worker.set_value(None);
        self.going.set(None);
    }
}

fn heard(message: &JsValue) -> Settled {
    let field = |key: &str| Reflect::get(message, &key.into()).unwrap_or_default();
    let reply = evenkeel_wire::from_bytes::<Reply>(&worker::heard(&field("said")));
    match reply
        .map_err(|error| Failure::Problem(format!("the sealing worker's answer cannot be read: {error}")))?
        .told
    {
        Told::Refused(why) => Err(Failure::Problem(why)),
        told => {
            let bytes = field("bytes").dyn_into::<Uint8Array>().ok();
            Ok((told, bytes.and_then(|bytes| Blob::new_with_u8_array_sequence(&Array::of1(&bytes)).ok())))
        }
    }
}

/// What is being done, with its Cancel, in whatever place. How far it is nobody knows: a passphrase is one piece of
/// work.
#[component]
pub fn Sealing() -> impl IntoView {
    let sealer = store().hand_over.sealer;
    view! {
        <div class="jobs sealing" aria-live="polite">
            {move || sealer.going.get().map(|what| view! {
                <p class="job">
                    <span>{what}</span>
                    <progress aria-label=what></progress>
                    <button on:click=move |_| sealer.stop()>"Cancel"</button>
                </p>
            })}
        </div>
    }
}
