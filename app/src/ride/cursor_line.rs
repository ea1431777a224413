//! Where the cursor is: time in the log, distance along the track, section, video time.

use evenkeel_core::align::moment;
use leptos::prelude::*;

use super::video::ClipInView;
use crate::store::store;

#[component]
pub fn CursorLine() -> impl IntoView {
    let store = store();
    let ClipInView { mapping, .. } = ClipInView::new(store);
    let none = || "–".to_owned();
    let section = move || {
        let t_s = store.cursor_s.get();
        store.track.with(|track| Some(track.as_ref()?.section_at(t_s)?.to_owned())).unwrap_or_else(none)
    };
    let distance = move || {
        let t_s = store.cursor_s.get();
        let along_m = store.track.with(|track| track.as_ref()?.distance_at(t_s)).filter(|m| m.is_finite());
        along_m.map_or_else(none, |m| format!("{m:.0} m"))
    };
    let video = move || {
        let t_s = store.cursor_s.get();
        mapping.with(|mapping| {
            let mapping = mapping.as_ref().and_then(|mapping| mapping.as_ref().ok());
            mapping.map_or_else(none, |mapping| moment::format(mapping.video_from_log(t_s), 0.001))
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
            <div><dt>"Track"</dt><dd id="cursor-distance">{distance}</dd></div>
            <div class="name"><dt>"Section"</dt><dd id="cursor-section">{section}</dd></div>
            <div><dt>"Video"</dt><dd id="cursor-video">{video}</dd></div>
            {range}
        </dl>
    }
}
