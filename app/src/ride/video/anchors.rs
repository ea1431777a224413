//! Matches: moments that are seen both in the log and on the video.

use evenkeel_core::align::{Anchor, AnchorError, Mapping, Moment, moment};
use leptos::prelude::*;

use super::{ClipInView, edit_clip};
use crate::store::store;

/// A frame's time is written in milliseconds, everything coarser as it was typed.
fn as_typed(moment: Moment) -> String {
    moment::format(moment.seconds, if moment.resolution_s < 0.1 { 0.001 } else { moment.resolution_s })
}

pub fn mapping_words(mapping: Option<Result<Mapping, AnchorError>>, log_s: f64) -> String {
    match mapping {
        None => "Set the cursor on something seen on the video, type the time seen, match. A second match late in the run finds the drift.".to_owned(),
        Some(Err(problem)) => problem.to_string(),
        Some(Ok(mapping)) => {
            let sure = format!("sure to ±{:.0} ms at the cursor", mapping.interval_at(log_s) * 1e3);
            match mapping.drift_sd {
                None => format!("One match: offset only, drift unknown; {sure}."),
                Some(sd) if mapping.clock.drift == 0.0 => format!("No drift that can be told from none (± {:.0} ppm); {sure}.", sd * 1e6),
                Some(sd) => format!("Drift {:+.1} ± {:.1} ppm; {sure}.", mapping.clock.drift * 1e6, sd * 1e6),
            }
        }
    }
}

/// The matches of the clip in view, and how far each is off.
#[component]
pub fn Anchors(in_view: ClipInView) -> impl IntoView {
    let store = store();
    let rows = move || {
        let residuals = in_view.mapping().map(|mapping| mapping.residuals_s).unwrap_or_default();
        let anchors = in_view.clip.get().anchors.into_iter().enumerate();
        anchors
            .map(|(i, anchor)| view! {
                <tr>
                    <td>{as_typed(anchor.log)}</td>
                    <td>{as_typed(anchor.video)}</td>
                    <td class="number">{residuals.get(i).map(|s| format!("{:+.0} ms", s * 1e3))}</td>
                    <td><button aria-label="Remove this match" on:click=move |_| edit_clip(store, |clip| { clip.anchors.remove(i); })>"×"</button></td>
                </tr>
            })
            .collect_view()
    };
    view! {
        <table class="anchors" hidden=move || in_view.clip.with(|clip| clip.anchors.is_empty())>
            <thead><tr><th>"Log"</th><th>"Video"</th><th>"Off by"</th><th></th></tr></thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

/// A new match: the log time is the cursor's, unless typed; the video's is typed, or that of the frame shown.
#[component]
pub fn AddAnchor(in_view: ClipInView) -> impl IntoView {
    let store = store();
    let player = store.player;
    let log = RwSignal::new(String::new());
    let seen = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let log_moment = move || match log.get_untracked() {
        text if text.trim().is_empty() => {
            Ok(Moment { seconds: store.cursor_s.get_untracked(), resolution_s: 0.001 })
        }
        text => moment::parse(&text, None),
    };
    let add = move |video: Result<Moment, String>| match (log_moment(), video) {
        (Ok(log_moment), Ok(video)) => {
            edit_clip(store, |clip| clip.anchors.push(Anchor { log: log_moment, video }));
            player.apart.set(false);
            problem.set(None);
            log.set(String::new());
            seen.set(String::new());
        }
        (Err(error), _) => problem.set(Some(format!("log time: {error}"))),
        (_, Err(error)) => problem.set(Some(format!("video time: {error}"))),
    };
    let add_typed = move || {
        let rate = untrack(|| in_view.frame_rate());
        add(moment::parse(&seen.get_untracked(), rate).map_err(|error| error.to_string()));
    };
    let add_shown = move |_| {
        if let Some(seconds) = player.shown_s.get_untracked() {
            add(Ok(Moment { seconds, resolution_s: player.frame_s() }));
        }
    };
    view! {
        <Show when=move || player.ready.get()>
            <div class="match-frame">
                <label class="tick" title="To find the frame of an event, the video moves alone and the cursor stays on it.">
                    <input
                        id="apart"
                        type="checkbox"
                        disabled=move || in_view.mapping.get().is_none()
                        prop:checked=move || player.apart.get() || in_view.mapping.get().is_none()
                        on:change:target=move |event| player.apart.set(event.target().checked())
                    />
                    "Move the video alone"
                </label>
                <button id="anchor-frame" on:click=add_shown>"This frame is at the cursor"</button>
            </div>
        </Show>
        <form class="match" on:submit=move |event| { event.prevent_default(); add_typed(); }>
            <label class="field">
                <span>"Log time (empty: the cursor)"</span>
                <input id="anchor-log" autocomplete="off" prop:value=log
                    placeholder=move || moment::format(store.cursor_s.get(), 0.001)
                    on:input:target=move |e| log.set(e.target().value())/>
            </label>
            <label class="field">
                <span>"is video time"</span>
                <input id="anchor-video" placeholder="0:41.250" autocomplete="off" prop:value=seen
                    on:input:target=move |e| seen.set(e.target().value())/>
            </label>
            <button id="anchor-add">"Match"</button>
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}</p> })}
        </form>
    }
}
