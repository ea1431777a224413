//! The page's side: start a worker, talk to it.

use wasm_bindgen::prelude::*;
use web_sys::{ErrorEvent, MessageEvent};

use crate::beside;

/// A running worker; dropping it ends it at once, whatever it is doing.
pub struct Worker {
    worker: web_sys::Worker,
    _on_message: Closure<dyn FnMut(MessageEvent)>,
    _on_error: Closure<dyn FnMut(ErrorEvent)>,
}

impl Worker {
    /// Starts a worker that runs a program. `on_answer` gets what it posts, `on_failure` a sentence if it stops or
    /// cannot start.
    pub fn spawn(
        program: &str,
        mut on_answer: impl FnMut(JsValue) + 'static,
        mut on_failure: impl FnMut(String) + 'static,
    ) -> Result<Self, String> {
        let worker =
            beside::worker(program).map_err(|error| format!("the worker cannot start: {error:?}"))?;
        let on_message = Closure::new(move |event: MessageEvent| on_answer(event.data()));
        let on_error = Closure::new(move |event: ErrorEvent| {
            on_failure(format!("the worker stopped: {}", event.message()));
        });
        worker.set_onmessage(Some(on_message.as_ref().unchecked_ref()));
        worker.set_onerror(Some(on_error.as_ref().unchecked_ref()));
        Ok(Self { worker, _on_message: on_message, _on_error: on_error })
    }

    /// Posts a message; what cannot be cloned (a function) is reported on the console and not sent.
    pub fn post(&self, message: &JsValue) {
        if let Err(error) = self.worker.post_message(message) {
            web_sys::console::error_1(&error);
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.worker.set_onmessage(None);
        self.worker.set_onerror(None);
        self.worker.terminate();
    }
}
