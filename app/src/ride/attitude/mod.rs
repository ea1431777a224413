//! The bike at the cursor from the side, from behind and from above, drawn from its own geometry, and the
//! extremes of the stretch in view behind it.

mod above;
mod behind;
mod extremes;
mod geometry;
mod pose;
mod side;

use leptos::prelude::*;

use super::span::Span;
use super::view::View;
use crate::save_picture::SavePicture;
use crate::store::store;
use above::AboveView;
use behind::BehindView;
use extremes::Extremes;
use pose::{Pose, ghosts};
use side::SideView;

pub use pose::EXTREME_TRACES;

/// Centimetres to the picture: SVG user units are 0.01 m, y down.
const CM: f64 = 100.0;

#[component]
pub fn AttitudeViews(view: RwSignal<View>, span: Span) -> impl IntoView {
    let store = store();
    let pose = Memo::new(move |_| {
        let cursor = store.cursor_s.get();
        store.ride.with(|ride| ride.as_ref().map(|ride| Pose::at(ride, cursor))).unwrap_or_default()
    });
    let ghosts = Memo::new(move |_| {
        if !span.extremes.get() {
            return Vec::new();
        }
        store.ride.with(|ride| ride.as_ref().map(|ride| ghosts(ride, span))).unwrap_or_default()
    });
    let why_not = move || {
        let ride = store.ride.get()?;
        let reason = ride.attitude.as_ref().err()?;
        Some(
            view! { <p class="quiet">{format!("Lean, turn and pitch against the horizon are {reason}.")}</p> },
        )
    };
    view! {
        <section class="attitude pictured" aria-label="Attitude at the cursor">
            <div class="attitude-views" data-picture>
                <SideView pose ghosts/>
                <div class="pair">
                    <BehindView pose ghosts/>
                    <AboveView pose ghosts/>
                </div>
            </div>
            {why_not}
            <SavePicture name="attitude" drawing=false/>
            <Extremes ghosts view span/>
        </section>
    }
}

/// A picture's points.
fn points(points: &[(f64, f64)]) -> String {
    points.iter().map(|(x, y)| format!("{x:.1},{y:.1} ")).collect()
}

/// An angle in words: how far, to which side.
fn side_of(rad: Option<f64>, positive: &str, negative: &str) -> String {
    rad.map_or("not measured".to_owned(), |rad| {
        let deg = rad.to_degrees();
        let side = if deg >= 0.0 { positive } else { negative };
        format!("{:.1}° {side}", deg.abs())
    })
}

/// A turn rate in words.
fn turning(radps: Option<f64>) -> String {
    radps.map_or("not measured".to_owned(), |rate| {
        let side = if rate >= 0.0 { "left" } else { "right" };
        format!("{:.0}°/s {side}", rate.to_degrees().abs())
    })
}
