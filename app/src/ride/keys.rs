//! Keys of the Ride.

use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{Element, KeyboardEvent};

use super::history::History;
use super::marks::{add_mark, next_mark};
use super::span::Span;
use super::tools::{go_to, set_range_end, show_range, show_section, whole, zoom};
use super::view::View;
use crate::store::Store;

/// What the keys act on.
#[derive(Clone, Copy)]
pub struct Keyboard {
    pub store: Store,
    pub view: RwSignal<View>,
    pub history: History,
    pub span: Span,
    pub help: RwSignal<bool>,
    /// Whether keys without Shift, Ctrl or the like do anything: who speaks to their computer may not want it.
    pub letters: RwSignal<bool>,
}

const KEYS: &[(&str, &str)] = &[
    ("← →", "cursor by one sample"),
    ("Shift + ← →", "cursor by one video frame"),
    ("Space", "play or pause the video"),
    ("Home, End", "cursor to the start, to the end"),
    ("[  ]", "range starts, ends at the cursor"),
    ("z", "zoom to the range"),
    ("m", "mark at the cursor"),
    ("n  p", "next, previous mark"),
    ("+  −", "zoom about the cursor"),
    (",  .", "a tenth of the picture back, forward"),
    ("Page Up, Page Down", "one picture back, forward"),
    ("0", "whole run"),
    ("s", "the section at the cursor"),
    ("Backspace", "last view"),
    ("v", "lowest, mean and highest values over the range"),
    ("?", "this list"),
    ("Esc", "close it; clear the range"),
];

/// Hears keys while the Ride is shown; typing in a field is left alone.
pub fn listen(keyboard: Keyboard) {
    if keyboard.store.is_unseen {
        return;
    }
    let handle = window_event_listener(leptos::ev::keydown, move |event| {
        let held = event.ctrl_key() || event.meta_key() || event.alt_key();
        if !held && !event.default_prevented() && !is_typing(&event) && keyboard.act(&event) {
            event.prevent_default();
        }
    });
    on_cleanup(move || handle.remove());
}

fn target(event: &KeyboardEvent) -> Option<Element> {
    event.target().and_then(|target| target.dyn_into::<Element>().ok())
}

/// A tick box takes no text.
fn is_typing(event: &KeyboardEvent) -> bool {
    let fields = "input:not([type=checkbox]), select, textarea";
    target(event).is_some_and(|target| target.matches(fields).unwrap_or(false))
}

/// Where these keys scroll what holds the focus.
fn is_scrolling(event: &KeyboardEvent) -> bool {
    let scrolls = ["PageUp", "PageDown", "Home", "End"].contains(&event.key().as_str());
    let boxes = ".side, .sheet, dialog";
    scrolls && target(event).is_some_and(|target| target.closest(boxes).ok().flatten().is_some())
}

impl Keyboard {
    /// Whether the key means something here.
    fn act(self, event: &KeyboardEvent) -> bool {
        let Self { store, view, history, span, help, letters } = self;
        let key = event.key();
        if key == "?" {
            help.update(|help| *help = !*help);
            return true;
        }
        // The list of keys stands in front of everything.
        if help.get_untracked() || is_scrolling(event) {
            return false;
        }
        let Some((rate_hz, start_s, end_s)) = store
            .ride
            .with_untracked(|ride| ride.as_ref().map(|ride| (ride.rate_hz, ride.start_s, ride.end_s())))
        else {
            return false;
        };
        if key.chars().count() == 1 && !letters.get_untracked() {
            return false;
        }
        if store.player.key(event) {
            return true;
        }
        let frame_s = || {
            let run = store.run.get_untracked();
            let rate = store.day.with_untracked(|day| day.runs.get(run).and_then(|run| run.video.frame_rate));
            rate.map_or(1.0 / 30.0, |rate| 1.0 / rate.hz())
        };
        let step = |sign: f64| {
            let step_s = if event.shift_key() { frame_s() } else { 1.0 / rate_hz };
            go_to(store, view, store.cursor_s.get_untracked() + sign * step_s);
        };
        let pan = |share: f64| view.update(|view| *view = view.panned(share * view.span_s(), whole(store)));
        let jump = |later| next_mark(store, later).into_iter().for_each(|t_s| go_to(store, view, t_s));
        let zoom_there = |factor| {
            go_to(store, view, store.cursor_s.get_untracked());
            zoom(store, view, factor);
        };
        match key.as_str() {
            "ArrowLeft" => step(-1.0),
            "ArrowRight" => step(1.0),
            "Home" => go_to(store, view, start_s),
            "End" => go_to(store, view, end_s),
            "[" => set_range_end(store, view, false),
            "]" => set_range_end(store, view, true),
            "z" => show_range(store, view),
            "m" => add_mark(store),
            "n" => jump(true),
            "p" => jump(false),
            "+" | "=" => zoom_there(0.5),
            "-" => zoom_there(2.0),
            "," => pan(-0.1),
            "." => pan(0.1),
            "PageUp" => pan(-1.0),
            "PageDown" => pan(1.0),
            "0" => view.set(whole(store)),
            "s" => show_section(store, view),
            "Backspace" => history.back(),
            "v" => span.shown.update(|shown| *shown = !*shown),
            "Escape" if store.range_s.with_untracked(Option::is_some) => store.range_s.set(None),
            _ => return false,
        }
        true
    }
}

#[component]
pub fn KeyList(help: RwSignal<bool>, letters: RwSignal<bool>) -> impl IntoView {
    let rows = KEYS.iter().map(|(key, what)| view! { <dt>{*key}</dt><dd>{*what}</dd> });
    let dialog = NodeRef::<html::Dialog>::new();
    Effect::new(move || {
        let open = help.get();
        match dialog.get() {
            Some(dialog) if open && !dialog.open() => drop(dialog.show_modal()),
            Some(dialog) if !open => dialog.close(),
            _ => {}
        }
    });
    view! {
        <dialog class="key-list" node_ref=dialog aria-label="Keys" on:close=move |_| help.set(false)>
            <h2>"Keys"</h2>
            <dl>{rows.collect_view()}</dl>
            <p class="quiet">"Mouse: click sets the cursor, drag moves the picture, Shift and drag sets the range, the wheel zooms about the pointer, Shift and wheel moves along. Touch: tap, one finger, two fingers."</p>
            <label class="tick">
                <input type="checkbox" id="letter-keys" prop:checked=move || letters.get() on:change:target=move |e| letters.set(e.target().checked())/>
                "Letters and signs act as keys"
            </label>
            <button on:click=move |_| help.set(false)>"Close"</button>
        </dialog>
    }
}
