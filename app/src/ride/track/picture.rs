//! The plan of the track, drawn once, and the cursor that moves over it.

use std::sync::Arc;

use evenkeel_core::align::moment;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{Element, KeyboardEvent, MouseEvent};

use super::colours::css;
use super::frame::WIDTH;
use super::ground::Ground;
use super::names::Name;
use crate::ride::chart::whole_of;
use crate::ride::view::View;
use crate::store::{Store, store};
use crate::track_view::TrackView;
use crate::words::fixed;

/// Steps of the keys along the track, m: an arrow, with Shift, a page.
const STEPS_M: [f64; 3] = [1.0, 10.0, 100.0];

#[component]
pub fn Picture(ground: Memo<Option<Arc<Ground>>>, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let on_click = move |event: MouseEvent| {
        let picture = event.current_target().and_then(|target| target.dyn_into::<Element>().ok());
        let Some((picture, ground)) = picture.zip(ground.get_untracked()) else { return };
        let area = picture.get_bounding_client_rect();
        let px_per_px = WIDTH / area.width().max(1.0);
        let place = [f64::from(event.client_x()) - area.left(), f64::from(event.client_y()) - area.top()];
        let place_m = ground.frame.east_north_m(place.map(|px| px * px_per_px));
        if let Some(t_s) = store.track.with_untracked(|track| track.as_ref()?.nearest_s(place_m)) {
            go(store, view, t_s);
        }
    };
    let on_key = move |event: KeyboardEvent| {
        let cursor_s = store.cursor_s.get_untracked();
        if let Some(t_s) = store.track.with_untracked(|track| stepped(track.as_ref()?, cursor_s, &event)) {
            // The Ride's own keys would move it once more.
            event.stop_propagation();
            event.prevent_default();
            go(store, view, t_s);
        }
    };
    let span_m = Memo::new(move |_| {
        store.track.with(|track| track.as_ref().and_then(|track| track.span_m())).unwrap_or_default()
    });
    let along = move || {
        let t_s = store.cursor_s.get();
        store.track.with(|track| track.as_ref()?.distance_at(t_s)).map(|m| fixed(m, 1))
    };
    let words = move || {
        let t_s = store.cursor_s.get();
        let (place_m, section) = store.track.with(|track| {
            let track = track.as_ref()?;
            Some((track.distance_at(t_s), track.section_at(t_s).map(|name| format!(", {name}"))))
        })?;
        let place = place_m.map_or("off the track".to_owned(), |m| format!("{} m", fixed(m, 0)));
        Some(format!("{place}{}, {}", section.unwrap_or_default(), moment::format(t_s, 0.01)))
    };
    let part = move || {
        let name = store.section.get()?;
        let ground = ground.get()?;
        store.track.with(|track| {
            let track = track.as_ref()?;
            let placed = track.sections.iter().find(|placed| placed.section.name == name)?;
            let stretch = placed.stretch.as_ref().ok()?;
            Some(ground.part(track, [stretch.start_s, stretch.end_s]))
        })
    };
    let dot = move || {
        let t_s = store.cursor_s.get();
        let place = store.track.with(|track| track.as_ref()?.east_north_at(t_s))?;
        let [x, y] = ground.with(|ground| ground.as_ref().map(|ground| ground.frame.px(place)))?;
        Some(format!("translate({x:.2} {y:.2})"))
    };
    let dot = Memo::new(move |_| dot());
    let size = move || {
        let height = ground.with(|ground| ground.as_ref().map_or(0.0, |ground| ground.frame.height));
        format!("0 0 {WIDTH} {height:.0}")
    };
    view! {
        <div
            class="track-picture"
            data-picture
            id="track"
            tabindex="0"
            role="slider"
            aria-label="Place along the track"
            aria-valuemin=move || fixed(span_m.get()[0], 1)
            aria-valuemax=move || fixed(span_m.get()[1], 1)
            aria-valuenow=along
            aria-valuetext=words
            on:click=on_click
            on:keydown=on_key
        >
            <svg viewBox=size aria-hidden="true">
                {move || part().map(|part| view! { <path class="in-view" d=part/> })}
                {move || ground.get().map(|ground| view! { <Drawn ground/> })}
            </svg>
            <svg class="over" viewBox=size aria-hidden="true">
                <circle class="place" r="6" visibility=move || dot.with(Option::is_none).then_some("hidden") transform=move || dot.get()/>
            </svg>
        </div>
    }
}

/// Puts the cursor at a time and the time into view.
fn go(store: Store, view: RwSignal<View>, t_s: f64) {
    let whole = store.ride.with_untracked(|ride| whole_of(ride.as_deref()));
    let t_s = t_s.clamp(whole.start_s, whole.end_s);
    store.cursor_s.set(t_s);
    view.update(|view| *view = view.showing(t_s, whole));
}

/// Where a key leads along the track, s.
fn stepped(track: &TrackView, cursor_s: f64, event: &KeyboardEvent) -> Option<f64> {
    if event.ctrl_key() || event.meta_key() || event.alt_key() {
        return None;
    }
    let [from_m, to_m] = track.span_m()?;
    let here_m = track.distance_at(cursor_s).unwrap_or(from_m);
    let step_m = if event.shift_key() { STEPS_M[1] } else { STEPS_M[0] };
    let to = match event.key().as_str() {
        "ArrowRight" | "ArrowUp" => here_m + step_m,
        "ArrowLeft" | "ArrowDown" => here_m - step_m,
        "PageUp" => here_m + STEPS_M[2],
        "PageDown" => here_m - STEPS_M[2],
        "Home" => from_m,
        "End" => to_m,
        _ => return None,
    };
    track.time_at(to)
}

#[component]
fn Drawn(ground: Arc<Ground>) -> impl IntoView {
    let Ground { frame, north_up, way, coloured, missing, edges, names, ends, end_names, bar } =
        (*ground).clone();
    let colour = |(index, lines): (usize, String)| view! { <path class="value" d=lines stroke=css(index)/> };
    let name = |Name { text, at: [x, y], leader: [[x1, y1], [x2, y2]] }: Name| {
        view! { <line class="leader" x1=x1 y1=y1 x2=x2 y2=y2/><text x=x y=y>{text}</text> }
    };
    let bar_px = frame.bar_m() * frame.px_per_m;
    let base = frame.height - 8.0;
    let [start, finish] = ends;
    let left = bar[0] + 8.0;
    let bar = format!("M{left} {:.1}v6h{bar_px:.1}v-6", base - 6.0);
    view! {
        <path class="casing" d=way/>
        <path class="missing" d=missing/>
        {coloured.into_iter().map(colour).collect_view()}
        <path class="section-edge" d=edges/>
        {names.into_iter().map(name).collect_view()}
        <circle class="start-mark" cx=start[0] cy=start[1] r="4"/>
        <rect class="finish-mark" x=finish[0] - 4.0 y=finish[1] - 4.0 width="8" height="8"/>
        <text class="end-name" x=end_names[0][0] y=end_names[0][1]>"start"</text>
        <text class="end-name" x=end_names[1][0] y=end_names[1][1]>"finish"</text>
        <path class="scale-bar" d=bar/>
        <text x=left + 4.0 + bar_px y=base>{fixed(frame.bar_m(), usize::from(frame.bar_m() < 1.0))}" m"</text>
        {north_up.then(|| view! {
            <path class="north" d="M356 30V10m-4 6 4 -7 4 7"/>
            <text class="end-name" x="356" y="42">"N"</text>
        })}
    }
}
