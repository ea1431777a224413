//! Whether the app itself is kept for want of a network, and a newer version of it offered: never forced over what is
//! not kept, or under another tab.

use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::prelude::*;

use crate::kept::all_is_kept;
use crate::store::store;

#[wasm_bindgen]
extern "C" {
    /// `offline.js`: tells how it stands, now and whenever that changes.
    #[wasm_bindgen(js_namespace = offline)]
    fn begin(told: &Closure<dyn FnMut(String)>);

    /// Changes to the newer version if no other tab has the app open; gives the number of tabs.
    #[wasm_bindgen(js_namespace = offline)]
    async fn take() -> JsValue;

    /// Asks the host for a newer version; says whether there is one, `None` if the host cannot be reached.
    #[wasm_bindgen(js_namespace = offline)]
    async fn look() -> JsValue;
}

/// Said in the bar.
#[component]
pub fn OfflineState() -> impl IntoView {
    let store = store();
    let state = RwSignal::new(String::new());
    let told = Closure::new(move |now| state.set(now));
    begin(&told);
    // It is told as long as the page lives.
    told.forget();
    let change = move |_| {
        if !all_is_kept(store) {
            return store.tell(
                "The new version would lose what is not kept in this browser. Save the day as a file first, then reload.",
            );
        }
        spawn_local(async move {
            if take().await.as_f64().is_some_and(|tabs| tabs > 1.0) {
                store.tell("Evenkeel is open in another tab or window too. Close it there, then take the new version.");
            }
        });
    };
    let ask = move |_| {
        spawn_local(async move {
            store.tell(match look().await.as_bool() {
                Some(true) => {
                    "There is a newer version: it is being fetched, and offered in the bar once it is here."
                }
                Some(false) => "This is the newest version.",
                None => "Whether there is a newer version could not be asked. Is there a network?",
            });
        });
    };
    view! {
        <span class="offline-state" role="status">
            {move || match state.get().as_str() {
                "kept" => view! {
                    <details class="bar-more">
                        <summary class="quiet">"works offline"</summary>
                        <div>
                            <p>"The app is kept in this browser: it opens without a network. Where there is one, it looks for a newer version at each opening, and when you say so."</p>
                            <button id="look-for-newer" on:click=ask>"Look for a newer version"</button>
                        </div>
                    </details>
                }.into_any(),
                "newer" => view! { <button class="small" id="newer" on:click=change>"New version: reload"</button> }.into_any(),
                "not kept" => view! { <span class="quiet" title="This browser did not keep the app: it needs the network to open again.">"needs a network"</span> }.into_any(),
                _ => ().into_any(),
            }}
        </span>
    }
}
