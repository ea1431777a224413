//! Where the cursor is: time in the log, distance, section, video time.

use std::sync::Arc;

use evenkeel_core::align::{fit, moment};
use leptos::prelude::*;

use crate::store::{RideView, store};

#[component]
pub fn CursorLine(ride: Memo<Option<Arc<RideView>>>) -> impl IntoView {
    let store = store();
    let mapping = Memo::new(move |_| {
        let run = store.run.get();
        let anchors = store.day.with(|day| day.runs.get(run).map(|run| run.video.anchors.clone()))?;
        fit(&anchors).ok()
    });
    let none = || "–".to_owned();
    let section = move || {
        let t_s = store.cursor_s.get();
        ride.with(|ride| Some(ride.as_ref()?.section_at(t_s)?.name.clone())).unwrap_or_else(none)
    };
    let video = move || {
        let t_s = store.cursor_s.get();
        mapping.with(|mapping| {
            mapping.as_ref().map_or_else(none, |mapping| moment::format(mapping.video_from_log(t_s), 0.001))
        })
    };
    let range = move || {
        let [start_s, end_s] = store.range_s.get()?;
        Some(
            view! { <div><dt>"Range"</dt><dd id="range-length">{format!("{:.3} s", end_s - start_s)}</dd></div> },
        )
    };
    view! {
        <dl class="cursor-line" aria-label="At the cursor">
            <div><dt>"Log"</dt><dd id="cursor-log">{move || moment::format(store.cursor_s.get(), 0.001)}</dd></div>
            <div class="name"><dt>"Section"</dt><dd id="cursor-section">{section}</dd></div>
            <div><dt>"Video"</dt><dd id="cursor-video">{video}</dd></div>
            {range}
        </dl>
    }
}
