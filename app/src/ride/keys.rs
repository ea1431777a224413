//! Keys of the Ride.

use leptos::prelude::*;
use web_sys::{Element, KeyboardEvent};

use super::chart::whole_of;
use super::view::View;
use crate::store::Store;

const KEYS: &[(&str, &str)] = &[
    ("← →", "cursor by one sample"),
    ("Shift + ← →", "cursor by one video frame"),
    ("Space", "play or pause the video"),
    ("Page Up, Page Down", "one picture back, forward"),
    ("+ −", "zoom about the cursor"),
    ("0", "whole run"),
    ("Home, End", "cursor to the start, to the end"),
    ("?", "this list"),
    ("Esc", "close it"),
];

/// Hears keys while the Ride is shown; typing in a field is left alone.
pub fn listen(store: Store, view: RwSignal<View>, help: RwSignal<bool>) {
    let handle = window_event_listener(leptos::ev::keydown, move |event| {
        if !is_typing(&event)
            && !event.ctrl_key()
            && !event.meta_key()
            && !event.alt_key()
            && act(store, view, help, &event)
        {
            event.prevent_default();
        }
    });
    on_cleanup(move || handle.remove());
}

fn is_typing(event: &KeyboardEvent) -> bool {
    use wasm_bindgen::JsCast;
    let target = event.target().and_then(|target| target.dyn_into::<Element>().ok());
    target.is_some_and(|target| ["INPUT", "SELECT", "TEXTAREA"].contains(&target.tag_name().as_str()))
}

fn act(store: Store, view: RwSignal<View>, help: RwSignal<bool>, event: &KeyboardEvent) -> bool {
    let Some(ride) = store.ride.get_untracked() else { return false };
    if store.player.key(event) {
        return true;
    }
    let whole = whole_of(Some(&ride));
    let run = store.run.get_untracked();
    let frame_s = store.day.with_untracked(|day| {
        day.runs.get(run).and_then(|run| run.video.frame_rate).map_or(1.0 / 30.0, |rate| 1.0 / rate.hz())
    });
    let step_s = if event.shift_key() { frame_s } else { 1.0 / ride.rate_hz };
    let cursor = store.cursor_s.get_untracked();
    let to = |t_s: f64| {
        let t_s = t_s.clamp(whole.start_s, whole.end_s);
        store.cursor_s.set(t_s);
        view.update(|view| *view = view.showing(t_s, whole));
    };
    let zoom = |factor: f64| {
        view.update(|view| *view = view.showing(cursor, whole));
        view.update(|view| *view = view.zoomed(factor, view.place(cursor), whole));
    };
    match event.key().as_str() {
        "ArrowLeft" => to(cursor - step_s),
        "ArrowRight" => to(cursor + step_s),
        "PageUp" => view.update(|view| *view = view.panned(-view.span_s(), whole)),
        "PageDown" => view.update(|view| *view = view.panned(view.span_s(), whole)),
        "+" | "=" => zoom(0.5),
        "-" => zoom(2.0),
        "0" => view.set(whole),
        "Home" => to(whole.start_s),
        "End" => to(whole.end_s),
        "?" => help.update(|help| *help = !*help),
        "Escape" => help.set(false),
        _ => return false,
    }
    true
}

#[component]
pub fn KeyList(help: RwSignal<bool>) -> impl IntoView {
    let rows = KEYS.iter().map(|(key, what)| view! { <dt>{*key}</dt><dd>{*what}</dd> });
    view! {
        <div class="key-list" role="dialog" aria-label="Keys">
            <h2>"Keys"</h2>
            <dl>{rows.collect_view()}</dl>
            <p class="quiet">"Mouse: click sets the cursor, drag moves the picture, the wheel zooms about the pointer, Shift and wheel moves along."</p>
            <button on:click=move |_| help.set(false)>"Close"</button>
        </div>
    }
}
