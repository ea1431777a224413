//! Where in the run to look for a match: moments that are plain on a helmet video.

use evenkeel_core::align::moment;
use evenkeel_core::{Landmark, landmarks};
use leptos::prelude::*;

use super::super::chart::whole_of;
use super::super::view::View;
use super::{ClipInView, show_in};
use crate::store::store;

/// As many as a reader looks through.
const MOST: usize = 6;

#[component]
pub fn Sights(in_view: ClipInView, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let marks = Memo::new(move |_| {
        let ride = store.ride.get();
        ride.map(|ride| landmarks(&ride.readout, ride.start_s..ride.end_s(), MOST)).unwrap_or_default()
    });
    let rows =
        move || marks.get().into_iter().map(|mark| view! { <OneSight mark in_view view/> }).collect_view();
    let none = move || marks.with(Vec::is_empty);
    view! {
        <details class="sights">
            <summary>"What to match"</summary>
            <p class="quiet">
                {move || if none() {
                    "Nothing in this run's numbers is plain enough on a video: look for a landing or a hard hit in the traces."
                } else {
                    "Plain to see in this run; take one early and one late. Next time, tap the bars three times in view of the camera before the start."
                }}
            </p>
            <ol hidden=none>{rows}</ol>
        </details>
    }
}

#[component]
fn OneSight(mark: Landmark, in_view: ClipInView, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let player = store.player;
    let go = move |_| {
        let whole = store.ride.with_untracked(|ride| whole_of(ride.as_deref()));
        player.apart.set(false);
        store.cursor_s.set(mark.time_s);
        show_in(view, mark.time_s, whole);
        // The video goes near it, and then moves alone until its frame is found.
        if let Some(Ok(mapping)) = in_view.mapping.get_untracked()
            && player.ready.get_untracked()
        {
            player.show(mapping.video_from_log(mark.time_s), false);
            player.apart.set(true);
        }
    };
    let within_s = mark.sight.within_s();
    view! {
        <li>
            <button class="moment" on:click=go>{moment::format(mark.time_s, 0.01)}</button>
            <span>{mark.sight.to_string()}<span class="quiet">{format!(" (to ±{within_s} s)")}</span></span>
        </li>
    }
}
