//! Typed video time to cursor, and back.

use evenkeel_core::align::{AnchorError, FrameRate, Mapping, moment};
use leptos::prelude::*;

use super::super::chart::whole_of;
use super::super::view::View;
use super::{ClipInView, edit_clip};
use crate::store::store;

pub fn video_words(
    mapping: Option<Result<Mapping, AnchorError>>,
    log_s: f64,
    rate: Option<FrameRate>,
) -> String {
    match mapping {
        Some(Ok(mapping)) => {
            let video_s = mapping.video_from_log(log_s);
            let code =
                rate.filter(|_| video_s >= 0.0).map(|rate| format!("  ({})", time_code(rate, video_s)));
            format!("{}{}", moment::format(video_s, 0.001), code.unwrap_or_default())
        }
        _ => "no match yet".to_owned(),
    }
}

/// Label of the frame shown at a video time; drop-frame where the rate has such labels.
fn time_code(rate: FrameRate, video_s: f64) -> String {
    let frame = (video_s * rate.hz()).floor() as u64;
    rate.drop_frame_label(frame).unwrap_or_else(|| rate.label(frame))
}

#[component]
pub fn FrameRateChoice(in_view: ClipInView) -> impl IntoView {
    let store = store();
    let rate = move || in_view.clip.with(|clip| clip.frame_rate);
    let options = FrameRate::ALL.iter().enumerate().map(|(i, option)| {
        view! { <option value=i selected=move || rate() == Some(*option)>{format!("{:.2} frames/s", option.hz())}</option> }
    });
    let choose = move |value: String| {
        let rate = value.parse().ok().and_then(|i: usize| FrameRate::ALL.get(i).copied());
        edit_clip(store, |clip| clip.frame_rate = rate);
    };
    view! {
        <label class="field">
            <span>"Frame rate, for time code"</span>
            <select id="frame-rate" on:change:target=move |e| choose(e.target().value())>
                <option value="" selected=move || rate().is_none()>"not needed"</option>
                {options.collect_view()}
            </select>
        </label>
    }
}

/// Typed video time to cursor.
#[component]
pub fn GoTo(in_view: ClipInView, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let typed = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let go = move || {
        problem.set(None);
        let seen = match moment::parse(&typed.get_untracked(), untrack(|| in_view.frame_rate())) {
            Ok(seen) => seen,
            Err(error) => return problem.set(Some(error.to_string())),
        };
        let Some(Ok(mapping)) = in_view.mapping.get_untracked() else {
            // A video that is not matched yet can be looked at all the same.
            if store.player.ready.get_untracked() {
                return store.player.show(seen.seconds, false);
            }
            return problem
                .set(Some("match one moment first: log time and video time of the same event".to_owned()));
        };
        let log_s = mapping.log_from_video(seen.seconds);
        let whole = store.ride.with_untracked(|ride| whole_of(ride.as_deref()));
        if !(whole.start_s..=whole.end_s).contains(&log_s) {
            return problem.set(Some(format!(
                "that is log {}, outside this run ({} to {})",
                moment::format(log_s, 0.001),
                moment::format(whole.start_s, 0.001),
                moment::format(whole.end_s, 0.001)
            )));
        }
        store.player.apart.set(false);
        store.cursor_s.set(log_s);
        view.update(|view| *view = view.showing(log_s, whole));
    };
    view! {
        <form class="go" on:submit=move |event| { event.prevent_default(); go(); }>
            <label class="field">
                <span>"Go to video time"</span>
                <input id="video-time" placeholder="1:23.400" autocomplete="off" prop:value=typed
                    aria-invalid=move || problem.get().map(|_| "true")
                    on:input:target=move |e| typed.set(e.target().value())/>
            </label>
            <button class="main">"Go"</button>
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}</p> })}
        </form>
    }
}
