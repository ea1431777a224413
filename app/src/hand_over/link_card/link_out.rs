//! A link that is ready: what is in it, how long it is, a button to copy it.

use evenkeel_core::handover::{Fits, MAX_FRAGMENT};
use js_sys::Reflect;
use leptos::html;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen_futures::JsFuture;

use super::wish::Making;
use crate::hand_over::contents::WhatLeaves;
use crate::hand_over::shared::leaves;
use crate::store::store;

const WHO: &str = "Anybody who sees the link: whoever it is passed on to, and the messenger or mail service that carries it, unless that is sealed. Nothing of it goes to the host of this app: what stands behind # is never sent.";

/// Where the app is, for whoever opens the link.
fn address() -> String {
    let address = window().location().href().unwrap_or_default();
    address.split(['#', '?']).next().unwrap_or_default().to_owned()
}

#[component]
pub fn LinkOut(made: RwSignal<Making>) -> impl IntoView {
    let store = store();
    let at = RwSignal::new(address());
    let copied = RwSignal::new(None::<&'static str>);
    let text = NodeRef::<html::Textarea>::new();
    Effect::new(move |_| {
        made.track();
        copied.set(None);
    });
    let copy = move |_| {
        let Some(field) = text.get_untracked() else { return };
        let link = field.value();
        leaves(store);
        spawn_local(async move {
            // Not there on a page that came without encryption.
            let navigator = window().navigator();
            let has_clipboard =
                Reflect::get(&navigator, &"clipboard".into()).is_ok_and(|there| !there.is_undefined());
            let done = has_clipboard && JsFuture::from(navigator.clipboard().write_text(&link)).await.is_ok();
            field.select();
            copied.try_set(Some(if done { "Copied." } else { "This browser does not let a page copy. It is selected: copy it with the keyboard or the menu." }));
        });
    };
    let here_only = move || {
        let address = at.get();
        let here = ["file:", "http://localhost", "http://127.", "http://[::1]"];
        here.iter().any(|local| address.starts_with(local)).then(|| view! {
            <p class="quiet">"This address leads to your own computer. Put in the address at which the other opens this app."</p>
        })
    };
    move || match made.get() {
        Making::Nothing => ().into_any(),
        Making::Working => view! { <p class="quiet" role="status">"Making the link…"</p> }.into_any(),
        Making::Not(why) => view! { <p class="wrong" role="alert" id="link-wrong">{why}</p> }.into_any(),
        Making::Done(link) => {
            let fragment = StoredValue::new(link.fragment);
            let whole = move || fragment.with_value(|fragment| format!("{}#{fragment}", at.get()));
            let length = move || whole().chars().count();
            let rate = link
                .rate_hz
                .map(|rate_hz| view! { <span>{format!("{rate_hz:.0} samples a second. ")}</span> });
            view! {
                <WhatLeaves contents=link.contents who=WHO.to_owned()/>
                <div class="link-out">
                    <p id="link-length">
                        {rate}
                        <b>{move || format!("{} characters: {}.", length(), Fits::of(length()).words())}</b>
                    </p>
                    <meter
                        min="0"
                        max=MAX_FRAGMENT.to_string()
                        aria-label="Length of the link"
                        prop:value=move || length() as f64
                    ></meter>
                    <p class="scale quiet" aria-hidden="true"><span>"2 kB"</span><span>"8 kB"</span><span>"32 kB"</span></p>
                    <p class="quiet">"Any messenger takes 2 kB, most mail 8 kB, and 32 kB go only from one browser to another by copying."</p>
                    <label class="field wide">
                        <span>"Address of this app for whoever opens it"</span>
                        <input class="link-address" autocomplete="off" prop:value=move || at.get() on:input:target=move |event| at.set(event.target().value())/>
                    </label>
                    {here_only}
                    <label class="field wide">
                        <span>"The link"</span>
                        <textarea
                            id="link-text"
                            class="link-text"
                            readonly
                            rows="3"
                            node_ref=text
                            prop:value=whole
                            on:focus=move |_| leaves(store)
                        ></textarea>
                    </label>
                    <p class="buttons"><button class="main" id="copy-link" on:click=copy>"Copy the link"</button></p>
                    <p role="status">{move || copied.get()}</p>
                </div>
            }
            .into_any()
        }
    }
}
