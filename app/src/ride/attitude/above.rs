//! From above: direction since the start, and the turn as it goes on for a second.

use leptos::prelude::*;

use super::pose::{Extreme, Ghost, Pose};
use super::{points, side_of, turning};

#[component]
pub fn AboveView(pose: Memo<Pose>, ghosts: Memo<Vec<Ghost>>) -> impl IntoView {
    let ghostly = move || {
        let turns = ghosts.get().into_iter();
        let turns = turns.filter(|ghost| matches!(ghost.extreme, Extreme::TurnLeft | Extreme::TurnRight));
        turns
            .map(|Ghost { pose, .. }| {
                view! {
                    <g transform=turned(pose)>
                        <polyline class="ghost" points=path(pose)/>
                        <polyline class="ghost" points="0,-12 0,16"/>
                        <polyline class="ghost" points="-9,-10 9,-10"/>
                    </g>
                }
            })
            .collect_view()
    };
    view! {
        <figure>
            <svg viewBox="-75 -66 150 132" role="img" aria-label="From above">
                <line class="level" x1="0" y1="-62" x2="0" y2="62"/>
                {ghostly}
                <g class:unmeasured=move || pose.get().yaw_rad.is_none() transform=move || turned(pose.get())>
                    <polyline class="path" points=move || path(pose.get())/>
                    <polyline class="frame" points="0,-12 0,16"/>
                    <polyline class="frame" points="-9,-10 9,-10"/>
                    <polyline class="frame" points="-4,-13 0,-20 4,-13"/>
                </g>
            </svg>
            <figcaption>
                <span><b>"Turning "</b><output>{move || turning(pose.get().yaw_rate_radps)}</output></span>
                <span><b>"since the start "</b><output>{move || side_of(pose.get().yaw_rad, "left", "right")}</output></span>
            </figcaption>
        </figure>
    }
}

fn turned(pose: Pose) -> String {
    format!("rotate({:.2})", -pose.yaw_rad.unwrap_or(0.0).to_degrees())
}

/// A second of path at this speed and turn rate, four units a metre; none where one is not measured.
fn path(Pose { yaw_rate_radps, speed_mps, .. }: Pose) -> String {
    let Some((rate, speed)) = yaw_rate_radps.zip(speed_mps) else { return String::new() };
    let path = (0..=20).map(|i| {
        let angle = rate * f64::from(i) / 20.0;
        let length = speed * f64::from(i) / 20.0;
        let chord = if angle.abs() < 1e-6 { length } else { length * (angle / 2.0).sin() / (angle / 2.0) };
        (-chord * (angle / 2.0).sin() * 4.0, -chord * (angle / 2.0).cos() * 4.0)
    });
    points(&path.collect::<Vec<_>>())
}
