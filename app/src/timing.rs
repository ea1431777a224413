//! Time: room for the browser between two pieces of work, and moments that a profile shows.

use std::time::Duration;

use futures_channel::oneshot;
use js_sys::{Function, Promise};
use leptos::prelude::set_timeout;
use wasm_bindgen::JsValue;
use wasm_bindgen_futures::JsFuture;
use web_sys::MessageChannel;

/// Lets the browser draw and hear what is waiting: a message to oneself is heard after it, and sooner than any timer
/// rings.
pub async fn breathe() {
    let Ok(channel) = MessageChannel::new() else { return };
    let heard = Promise::new(&mut |resolve: Function, _| channel.port1().set_onmessage(Some(&resolve)));
    if channel.port2().post_message(&JsValue::NULL).is_ok() {
        let _ = JsFuture::from(heard).await;
    }
    channel.port1().close();
}

/// Does nothing for a while.
pub async fn rest(time: Duration) {
    let (done, later) = oneshot::channel();
    set_timeout(move || done.send(()).unwrap_or_default(), time);
    later.await.unwrap_or_default();
}

/// Marks this moment on the browser's own timeline: when a file was read, a run first drawn, its numbers there.
pub fn mark(name: &str) {
    if let Some(performance) = leptos::prelude::window().performance() {
        let _ = performance.mark(name);
    }
}
