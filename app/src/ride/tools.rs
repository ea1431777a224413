//! The buttons above the traces: what is in view, the range, a mark.

use leptos::prelude::*;

use super::chart::whole_of;
use super::history::History;
use super::marks::add_mark;
use super::sections::show;
use super::span::Span;
use super::view::View;
use crate::store::{Store, store};

/// Smallest range that can be set, s.
const SHORTEST_S: f64 = 1e-3;

#[component]
pub fn Tools(view: RwSignal<View>, history: History, span: Span) -> impl IntoView {
    let store = store();
    let no_range = move || store.range_s.with(Option::is_none).then_some("true");
    view! {
        <div class="tools" role="group" aria-label="View, range and marks">
            <button
                id="range-values"
                title="Every line's lowest, mean and highest value over the range, or over what is in view"
                aria-pressed=move || span.shown.get().to_string()
                on:click=move |_| span.shown.update(|shown| *shown = !*shown)
            >
                "Values"
            </button>
            <span role="group" aria-label="View">
                <button aria-label="Zoom in" on:click=move |_| zoom(store, view, 0.5)>"+"</button>
                <button aria-label="Zoom out" on:click=move |_| zoom(store, view, 2.0)>"−"</button>
                <button on:click=move |_| view.set(whole(store))>"Whole run"</button>
                <button id="view-section" title="The section the cursor is in" on:click=move |_| show_section(store, view)>"Section"</button>
                <button id="view-back" on:click=move |_| history.back()>"Last view"</button>
            </span>
            <span role="group" aria-label="Range">
                <button id="range-start" title="The range starts at the cursor" on:click=move |_| set_range_end(store, view, false)>"Range from"</button>
                <button id="range-end" title="The range ends at the cursor" on:click=move |_| set_range_end(store, view, true)>"to"</button>
                <button id="range-zoom" aria-disabled=no_range title="Show the range alone" on:click=move |_| show_range(store, view)>"Zoom"</button>
                <button id="range-clear" aria-disabled=no_range aria-label="Clear the range" title="Clear the range" on:click=move |_| store.range_s.set(None)>"×"</button>
            </span>
            <button id="mark" title="A mark at the cursor" on:click=move |_| add_mark(store)>"Mark"</button>
        </div>
    }
}

pub fn whole(store: Store) -> View {
    store.ride.with_untracked(|ride| whole_of(ride.as_deref()))
}

/// Zooms about the cursor if it can be seen, else about the middle.
pub fn zoom(store: Store, view: RwSignal<View>, factor: f64) {
    let cursor = store.cursor_s.get_untracked();
    view.update(|view| {
        let place = view.place(cursor);
        *view = view.zoomed(factor, if (0.0..=1.0).contains(&place) { place } else { 0.5 }, whole(store));
    });
}

/// Puts the cursor at a time of the run, and that time into view.
pub fn go_to(store: Store, view: RwSignal<View>, t_s: f64) {
    let whole = whole(store);
    let t_s = t_s.clamp(whole.start_s, whole.end_s);
    store.cursor_s.set(t_s);
    view.update(|view| *view = view.showing(t_s, whole));
}

/// Shows the section in which the cursor is.
pub fn show_section(store: Store, view: RwSignal<View>) {
    let cursor = store.cursor_s.get_untracked();
    let section = store.track.with_untracked(|track| Some(track.as_ref()?.section_at(cursor)?.to_owned()));
    if section.is_some() {
        show(store, view, section);
    }
}

/// Shows the range alone.
pub fn show_range(store: Store, view: RwSignal<View>) {
    if let Some([start_s, end_s]) = store.range_s.get_untracked() {
        view.set(View::of(start_s, end_s, whole(store)));
    }
}

/// Sets one end of the range at the cursor. The other stays, or is the end of what is in view.
pub fn set_range_end(store: Store, view: RwSignal<View>, end: bool) {
    let (cursor, view) = (store.cursor_s.get_untracked(), view.get_untracked());
    let [start_s, end_s] = store.range_s.get_untracked().unwrap_or([view.start_s, view.end_s]);
    let whole = whole(store);
    let range = match end {
        false if cursor + SHORTEST_S > end_s => [cursor, view.end_s.max(whole.end_s)],
        false => [cursor, end_s],
        true if cursor - SHORTEST_S < start_s => [view.start_s.min(whole.start_s), cursor],
        true => [start_s, cursor],
    };
    if range[1] - range[0] >= SHORTEST_S {
        store.range_s.set(Some(range));
    }
}
