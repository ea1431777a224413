//! The sealing worker.

use evenkeel_core::handover::{KeyPair, Lock, Opener, Refused, Wants, open, seal, wants};
use evenkeel_seal::{Ask, Call, Reply, Told};
use js_sys::{Array, Object, Reflect, Uint8Array};
use wasm_bindgen::prelude::*;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

/// Answers the page's questions from now on.
fn main() {
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let answering = scope.clone();
    let on_message = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let message = event.data();
        let field = |key: &str| Reflect::get(&message, &key.into()).unwrap_or_default();
        let Ok(Call { id, ask }) = evenkeel_wire::from_bytes(&Uint8Array::new(&field("said")).to_vec())
        else {
            return;
        };
        let beside = Uint8Array::new(&field("bytes")).to_vec();
        let (told, bytes) = match answer(ask, &beside) {
            Ok(answer) => answer,
            Err(refused) => (Told::Refused(refused.to_string()), None),
        };
        post(&answering, &Reply { id, told }, bytes.as_deref());
    });
    scope.set_onmessage(Some(on_message.as_ref().unchecked_ref()));
    on_message.forget();
}

fn answer(ask: Ask, beside: &[u8]) -> Result<(Told, Option<Vec<u8>>), Refused> {
    let keys = |KeyPair { secret, public }| (Told::Keys { secret, public }, None);
    let bytes = |bytes| (Told::Bytes, Some(bytes));
    match ask {
        Ask::NewKeys => Ok(keys(KeyPair::generate())),
        Ask::KeysOf { secret } => KeyPair::of(&secret).map(keys),
        Ask::Wants => wants(beside).map(|wanted| {
            let work_factor = match wanted {
                Wants::Passphrase { work_factor } => Some(work_factor),
                Wants::Key => None,
            };
            (Told::Wants { work_factor, memory_bytes: wanted.memory_bytes() }, None)
        }),
        Ask::SealByPassphrase { passphrase } => seal(beside, Lock::Passphrase(&passphrase)).map(bytes),
        Ask::SealByKeys { keys } => {
            let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
            seal(beside, Lock::Keys(&keys)).map(bytes)
        }
        Ask::OpenByPassphrase { passphrase, most } => {
            open(beside, Opener::Passphrase(&passphrase, most)).map(bytes)
        }
        Ask::OpenByKey { secret } => open(beside, Opener::Key(&secret)).map(bytes),
    }
}

fn post(scope: &DedicatedWorkerGlobalScope, reply: &Reply, bytes: Option<&[u8]>) {
    let message = Object::new();
    let transfer = Array::new();
    // A plain object takes any property.
    let set = |key: &str, value: &JsValue| drop(Reflect::set(&message, &key.into(), value));
    set("said", &Uint8Array::from(evenkeel_wire::to_bytes(reply).unwrap_or_default().as_slice()));
    if let Some(bytes) = bytes {
        let bytes = Uint8Array::from(bytes);
        transfer.push(&bytes.buffer());
        set("bytes", &bytes);
    }
    // The page listens as long as this lives.
    let _ = scope.post_message_with_transfer(&message, &transfer);
}
