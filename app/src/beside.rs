//! What belongs to the page, beside it or within it: `boot.js` knows where.

use wasm_bindgen::prelude::*;

#[wasm_bindgen]
extern "C" {
    /// A file, by its name in the sources.
    #[wasm_bindgen(js_namespace = beside, catch)]
    pub async fn file(name: &str) -> Result<JsValue, JsValue>;

    /// A worker that runs one of the app's programs. What is posted to it waits until it listens.
    #[wasm_bindgen(js_namespace = beside, catch)]
    pub fn worker(program: &str) -> Result<web_sys::Worker, JsValue>;
}
