//! Video time against log time: typed moments, no film needed.

use evenkeel_core::Video;
use evenkeel_core::align::{Anchor, AnchorError, FrameRate, Mapping, Moment, fit, moment};
use leptos::prelude::*;

use super::chart::whole_of;
use super::view::View;
use crate::store::store;

#[component]
pub fn VideoPanel(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let run = move || store.run.get();
    let video = Memo::new(move |_| {
        store.day.with(|day| day.runs.get(run()).map(|run| run.video.clone())).unwrap_or_default()
    });
    let mapping = Memo::new(move |_| {
        let anchors = video.get().anchors;
        (!anchors.is_empty()).then(|| fit(&anchors))
    });
    let edit = move |change: &dyn Fn(&mut Video)| {
        let run = store.run.get_untracked();
        store.day.update(|day| {
            if let Some(run) = day.runs.get_mut(run) {
                change(&mut run.video);
            }
        });
    };
    let log_here = move || Moment { seconds: store.cursor_s.get(), resolution_s: 0.001 };
    view! {
        <section class="video" aria-label="Video time">
            <FrameRateChoice rate=Signal::derive(move || video.get().frame_rate)
                on_change=move |rate| edit(&|video| video.frame_rate = rate)/>
            <GoTo video mapping view/>
            <p class="at-cursor">
                <b>"Video at the cursor "</b>
                <output id="video-at-cursor">{move || video_words(mapping.get(), store.cursor_s.get(), video.get().frame_rate)}</output>
            </p>
            <table class="anchors" hidden=move || video.get().anchors.is_empty()>
                <thead><tr><th>"Log"</th><th>"Video"</th><th>"Off by"</th><th></th></tr></thead>
                <tbody>
                    {move || {
                        let residuals = mapping.get().and_then(Result::ok).map(|m| m.residuals_s).unwrap_or_default();
                        video.get().anchors.into_iter().enumerate().map(|(i, anchor)| view! {
                            <tr>
                                <td>{as_typed(anchor.log)}</td>
                                <td>{as_typed(anchor.video)}</td>
                                <td class="number">{residuals.get(i).map(|s| format!("{:+.0} ms", s * 1e3))}</td>
                                <td><button aria-label="Remove this match" on:click=move |_| edit(&|video| { video.anchors.remove(i); })>"×"</button></td>
                            </tr>
                        }).collect_view()
                    }}
                </tbody>
            </table>
            <AddAnchor video log_here=Signal::derive(log_here) on_add=move |anchor| edit(&|video| video.anchors.push(anchor))/>
            <p class="quiet" id="mapping" aria-live="polite">{move || mapping_words(mapping.get(), store.cursor_s.get())}</p>
        </section>
    }
}

fn video_words(mapping: Option<Result<Mapping, AnchorError>>, log_s: f64, rate: Option<FrameRate>) -> String {
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

/// A frame's time is written in milliseconds, everything coarser as it was typed.
fn as_typed(moment: Moment) -> String {
    moment::format(moment.seconds, if moment.resolution_s < 0.1 { 0.001 } else { moment.resolution_s })
}

/// Label of the frame shown at a video time; drop-frame where the rate has such labels.
fn time_code(rate: FrameRate, video_s: f64) -> String {
    let frame = (video_s * rate.hz()).floor() as u64;
    rate.drop_frame_label(frame).unwrap_or_else(|| rate.label(frame))
}

fn mapping_words(mapping: Option<Result<Mapping, AnchorError>>, log_s: f64) -> String {
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

#[component]
fn FrameRateChoice(
    rate: Signal<Option<FrameRate>>,
    on_change: impl Fn(Option<FrameRate>) + Send + Sync + 'static,
) -> impl IntoView {
    let options = FrameRate::ALL.iter().enumerate().map(|(i, option)| {
        view! { <option value=i selected=move || rate.get() == Some(*option)>{format!("{:.2} frames/s", option.hz())}</option> }
    });
    view! {
        <label class="field">
            <span>"Frame rate, for time code"</span>
            <select id="frame-rate" on:change:target=move |e| on_change(e.target().value().parse().ok().and_then(|i: usize| FrameRate::ALL.get(i).copied()))>
                <option value="" selected=move || rate.get().is_none()>"not needed"</option>
                {options.collect_view()}
            </select>
        </label>
    }
}

/// Typed video time to cursor.
#[component]
fn GoTo(
    video: Memo<Video>,
    mapping: Memo<Option<Result<Mapping, AnchorError>>>,
    view: RwSignal<View>,
) -> impl IntoView {
    let store = store();
    let typed = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let go = move || {
        problem.set(None);
        let seen = match moment::parse(&typed.get_untracked(), video.get_untracked().frame_rate) {
            Ok(seen) => seen,
            Err(error) => return problem.set(Some(error.to_string())),
        };
        let Some(Ok(mapping)) = mapping.get_untracked() else {
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

/// A new match: the log time is the cursor's, unless typed.
#[component]
fn AddAnchor(
    video: Memo<Video>,
    log_here: Signal<Moment>,
    on_add: impl Fn(Anchor) + Copy + Send + Sync + 'static,
) -> impl IntoView {
    let log = RwSignal::new(String::new());
    let seen = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let add = move || {
        let rate = video.get_untracked().frame_rate;
        let log_text = log.get_untracked();
        let log_moment = if log_text.trim().is_empty() {
            Ok(log_here.get_untracked())
        } else {
            moment::parse(&log_text, None)
        };
        match (log_moment, moment::parse(&seen.get_untracked(), rate)) {
            (Ok(log_moment), Ok(video_moment)) => {
                on_add(Anchor { log: log_moment, video: video_moment });
                problem.set(None);
                log.set(String::new());
                seen.set(String::new());
            }
            (Err(error), _) => problem.set(Some(format!("log time: {error}"))),
            (_, Err(error)) => problem.set(Some(format!("video time: {error}"))),
        }
    };
    view! {
        <form class="match" on:submit=move |event| { event.prevent_default(); add(); }>
            <label class="field">
                <span>"Log time (empty: the cursor)"</span>
                <input id="anchor-log" autocomplete="off" prop:value=log
                    placeholder=move || moment::format(log_here.get().seconds, 0.001)
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
