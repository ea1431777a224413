//! The Ride: one run's traces, attitude and video time under one cursor.

mod attitude;
mod chart;
mod cursor_line;
mod flags;
mod history;
mod keys;
mod labels;
mod marks;
mod painting;
mod panel;
mod pointers;
mod rows;
mod scales;
mod sections;
mod span;
mod tools;
mod track;
mod video;
mod view;

use leptos::prelude::*;

use crate::day::take_drops;
use crate::hand_over::RemarksHere;
use crate::numbers::Numbers;
use crate::store::store;
use attitude::AttitudeViews;
use chart::Chart;
pub use chart::watch_size;
use history::History;
use keys::{KeyList, Keyboard, listen};
use marks::Marks;
pub use painting::{Colors, put};
use panel::Panel;
pub use rows::{Row, RowChoice, RowSet, catalogue, joined_rows};
pub use sections::SectionChange;
use sections::{SectionsPanel, follow};
use span::Span;
pub use span::rested;
use track::TrackPanel;
pub use video::Player;
use video::VideoPanel;
use view::View;

#[component]
pub fn Ride() -> impl IntoView {
    let store = store();
    let view = RwSignal::new(View::default());
    let help = RwSignal::new(false);
    let letters = RwSignal::new(true);
    let history = History::new(view);
    let span = Span::new(view, move |span| {
        let mut wanted = if span.extremes.get() { attitude::EXTREME_TRACES.to_vec() } else { Vec::new() };
        if span.shown.get() {
            wanted.extend(rows::shown_traces(store));
        }
        wanted
    });
    // A new run is shown whole, its cursor where the bike starts to roll, which the analysis finds.
    // Until its reader has moved it, the cursor follows what is found of that start.
    Effect::new(move |before: Option<Option<(String, Option<f64>)>>| {
        let ride = store.ride.get()?;
        let name = format!("{} {}", store.run.get_untracked(), ride.readout.name);
        let known = before.flatten().filter(|(before, _)| *before == name);
        if known.is_none() {
            view.set(View { start_s: ride.start_s, end_s: ride.end_s() });
            store.range_s.set(None);
            history.clear();
        }
        let cursor = store.cursor_s.get_untracked();
        let untouched = known.is_some_and(|(_, set_s)| set_s == Some(cursor));
        if !untouched && (ride.start_s..=ride.end_s()).contains(&cursor) {
            return Some((name, None));
        }
        let start = ride.readout.sections.first().map_or(ride.start_s, |section| section.start_s);
        store.cursor_s.set(start);
        Some((name, Some(start)))
    });
    // What was asked for elsewhere comes into view with a little of what is around it.
    Effect::new(move |_| {
        let (Some([from_s, to_s]), Some(ride)) = (store.wanted_s.get(), store.ride.get()) else { return };
        store.wanted_s.set(None);
        let around_s = 0.25 * (to_s - from_s) + 0.5;
        let whole = View { start_s: ride.start_s, end_s: ride.end_s() };
        view.set(View::of(from_s - around_s, to_s + around_s, whole));
        store.range_s.set(Some([from_s, to_s]));
        // The next sample: a section's first may lie a hair before it.
        let cursor_s = store.wanted_cursor_s.try_update(Option::take).flatten();
        store.cursor_s.set(cursor_s.unwrap_or(from_s + 1.0 / ride.rate_hz));
    });
    let go = Callback::new(move |t_s: f64| {
        if let Some(ride) = store.ride.get_untracked() {
            let whole = View { start_s: ride.start_s, end_s: ride.end_s() };
            view.update(|view| *view = view.showing(t_s, whole));
            store.cursor_s.set(t_s);
        }
    });
    let called_up = Memo::new(move |_| {
        let run = store.run.get();
        if store.hand_over.extract.with(Option::is_some) {
            return Some(run);
        }
        let logs = store.day.with(|day| day.runs.get(run).map(|sheet| sheet.logs.clone()))?;
        logs.iter().any(|log| store.source(&log.file).is_some()).then_some(run)
    });
    follow(store, view);
    listen(Keyboard { store, view, history, span, help, letters });
    take_drops(store);
    view! {
        <Show when=move || called_up.get().is_none()>
            <p class="empty">
                {move || match store.day.with(|day| day.runs.is_empty()) {
                    true => "No run yet. Load its log files in Day, or the demo day.",
                    false => "None of this run's log files is read yet.",
                }}
            </p>
        </Show>
        // Built while the worker reads, and anew for another run.
        <For each=move || called_up.get() key=|run| *run let:_run>
            <div class="ride">
                <Chart view history span/>
                <div class="side">
                    <Panel title="Attitude"><AttitudeViews view span/></Panel>
                    <Panel title="Track"><TrackPanel view/></Panel>
                    <Panel title="Video"><VideoPanel view/></Panel>
                    <Panel title="Sections"><SectionsPanel view/></Panel>
                    <Panel title="Marks"><Marks view/></Panel>
                    <Panel title="Remarks"><RemarksHere/></Panel>
                    <Panel title="Numbers"><Numbers go/></Panel>
                    <button class="keys-button" on:click=move |_| help.set(true)>"Keys"</button>
                </div>
            </div>
        </For>
        <KeyList help letters/>
    }
}
