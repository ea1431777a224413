//! The helmet video: a local file under the run's cursor, or typed times alone.

mod anchors;
mod clips;
mod go;
mod player;
mod screen;
mod sights;

use evenkeel_core::Video;
use evenkeel_core::align::{AnchorError, FrameRate, Mapping, fit};
use leptos::prelude::*;

use super::chart::whole_of;
use super::view::View;
use crate::store::{Store, store};
use anchors::{AddAnchor, Anchors, mapping_words};
use clips::{Clips, dropped};
use go::{FrameRateChoice, GoTo, video_words};
pub use player::Player;
use screen::Screen;
use sights::Sights;

/// The clip in view and what its matches say; a handle that copies.
#[derive(Clone, Copy)]
pub struct ClipInView {
    clip: Memo<Video>,
    /// `None` without a match.
    pub mapping: Memo<Option<Result<Mapping, AnchorError>>>,
}

impl ClipInView {
    pub fn new(store: Store) -> Self {
        let clip = Memo::new(move |_| {
            let (run, clip) = (store.run.get(), store.player.clip.get());
            store.day.with(|day| day.runs.get(run)?.video.clips().nth(clip).cloned()).unwrap_or_default()
        });
        let mapping =
            Memo::new(move |_| clip.with(|clip| (!clip.anchors.is_empty()).then(|| fit(&clip.anchors))));
        Self { clip, mapping }
    }

    fn mapping(self) -> Option<Mapping> {
        self.mapping.get().and_then(Result::ok)
    }

    /// The rate that was chosen, else the one that the file's frames come at.
    fn frame_rate(self) -> Option<FrameRate> {
        self.clip.with(|clip| clip.frame_rate).or(store().player.frames.with(|frames| frames.rate()))
    }
}

/// Changes the clip in view.
fn edit_clip(store: Store, change: impl FnOnce(&mut Video)) {
    let (run, clip) = (store.run.get_untracked(), store.player.clip.get_untracked());
    store.day.update(|day| {
        if let Some(clip) = day.runs.get_mut(run).and_then(|run| run.video.clip_mut(clip)) {
            change(clip);
        }
    });
}

#[component]
pub fn VideoPanel(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let player = store.player;
    let in_view = ClipInView::new(store);
    keep_together(store, in_view, view);
    let film = Memo::new(move |_| {
        let file = in_view.clip.with(|clip| clip.file.clone())?;
        Some((player.address(&file)?, file.name))
    });
    let over = RwSignal::new(false);
    view! {
        <section
            class="video"
            class:over=move || over.get()
            aria-label="Video"
            on:dragover=move |event| {
                event.prevent_default();
                over.set(true);
            }
            on:dragleave=move |_| over.set(false)
            on:drop=move |event| {
                event.prevent_default();
                over.set(false);
                dropped(store, event);
            }
        >
            {move || film.get().map(|(address, name)| view! { <Screen address name/> })}
            <Clips/>
            <GoTo in_view view/>
            <p class="at-cursor">
                <b>"Video at the cursor "</b>
                <output id="video-at-cursor">{move || video_words(in_view.mapping.get(), store.cursor_s.get(), in_view.frame_rate())}</output>
            </p>
            <Anchors in_view/>
            <AddAnchor in_view/>
            <p class="quiet" id="mapping" aria-live="polite">{move || mapping_words(in_view.mapping.get(), store.cursor_s.get())}</p>
            <Sights in_view view/>
            <FrameRateChoice in_view/>
        </section>
    }
}

/// One cursor for both: what plays takes the cursor along, the cursor takes a video along that does not play.
fn keep_together(store: Store, in_view: ClipInView, view: RwSignal<View>) {
    let player = store.player;
    let whole = move || store.ride.with_untracked(|ride| whole_of(ride.as_deref()));
    // Where the video put the cursor: that is no reason to seek.
    let put_s = StoredValue::new(f64::NAN);
    Effect::new(move || {
        let Some(video_s) = player.led_s.get() else { return };
        let Some(mapping) = in_view.mapping.get_untracked().and_then(Result::ok) else { return };
        if player.apart.get_untracked() {
            return;
        }
        let log_s = mapping.log_from_video(video_s).clamp(whole().start_s, whole().end_s);
        put_s.set_value(log_s);
        store.cursor_s.set(log_s);
        show_in(view, log_s, whole());
    });
    Effect::new(move || {
        let (cursor_s, ready, apart) = (store.cursor_s.get(), player.ready.get(), player.apart.get());
        let mapping = in_view.mapping();
        if !ready || apart {
            return;
        }
        let Some(mapping) = mapping else {
            // Learns the frames, and shows the first.
            if player.shown_s.get_untracked().is_none_or(|shown_s| shown_s == 0.0) {
                player.show(0.0, false);
            }
            return;
        };
        if cursor_s == put_s.get_value() {
            return;
        }
        let elsewhere =
            store.day.with_untracked(|day| day.runs.get(store.run.get_untracked())?.video.clip_at(cursor_s));
        let video_s = mapping.video_from_log(cursor_s);
        let inside = (0.0..player.length_s.get_untracked()).contains(&video_s);
        match elsewhere.filter(|clip| !inside && *clip != player.clip.get_untracked()) {
            Some(clip) => player.clip.set(clip),
            None if inside || player.shown_s.get_untracked().is_none() => player.show(video_s, false),
            None => {}
        }
    });
    // A take that the camera split plays on in the next clip.
    Effect::new(move || {
        let length_s = player.length_s.get_untracked();
        if !player.ended.get() || player.apart.get_untracked() {
            return;
        }
        let Some(mapping) = in_view.mapping.get_untracked().and_then(Result::ok) else { return };
        let run = store.run.get_untracked();
        let after_s = mapping.log_from_video(length_s) + player.frame_s();
        let next = store.day.with_untracked(|day| day.runs.get(run)?.video.clip_at(after_s));
        if let Some(next) = next.filter(|next| *next != player.clip.get_untracked()) {
            player.plays_on.set(true);
            store.cursor_s.set(after_s);
            player.clip.set(next);
        }
    });
    Effect::new(move |run: Option<usize>| {
        if run.is_some_and(|run| run != store.run.get()) {
            player.clip.set(0);
            player.apart.set(false);
        }
        store.run.get()
    });
}

/// Moves the view if a moment is out of it.
fn show_in(view: RwSignal<View>, log_s: f64, whole: View) {
    if !view.with_untracked(|view| (view.start_s..=view.end_s).contains(&log_s)) {
        view.update(|view| *view = view.showing(log_s, whole));
    }
}
