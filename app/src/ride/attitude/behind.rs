//! From behind: lean.

use leptos::prelude::*;

use super::pose::{Extreme, Ghost, Pose};
use super::side_of;

#[component]
pub fn BehindView(pose: Memo<Pose>, ghosts: Memo<Vec<Ghost>>) -> impl IntoView {
    let turned = |rad: f64| format!("rotate({:.2})", rad.to_degrees());
    let lean = move || turned(pose.get().roll_rad.unwrap_or(0.0));
    let ghostly = move || {
        let leans = ghosts.get().into_iter();
        let leans = leans.filter(|ghost| matches!(ghost.extreme, Extreme::LeanLeft | Extreme::LeanRight));
        leans
            .map(|ghost| {
                view! {
                    <g transform=turned(ghost.value)>
                        <polyline class="ghost" points="-3.2,0 -3.2,-74 3.2,-74 3.2,0"/>
                        <polyline class="ghost" points="0,-74 0,-100"/>
                        <polyline class="ghost" points="-39,-100 39,-100"/>
                    </g>
                }
            })
            .collect_view()
    };
    view! {
        <figure>
            <svg viewBox="-75 -118 150 132" role="img" aria-label="From behind">
                <line class="level" x1="-70" y1="0" x2="70" y2="0"/>
                <line class="level" x1="0" y1="-112" x2="0" y2="6"/>
                {ghostly}
                <g class:unmeasured=move || pose.get().roll_rad.is_none() transform=lean>
                    <rect class="tyre" x="-3.2" y="-74" width="6.4" height="74" rx="3.2"/>
                    <line class="frame" x1="0" y1="-74" x2="0" y2="-100"/>
                    <line class="frame" x1="-39" y1="-100" x2="39" y2="-100"/>
                </g>
            </svg>
            <figcaption><span><b>"Lean "</b><output data-value="lean">{move || side_of(pose.get().roll_rad, "right", "left")}</output></span></figcaption>
        </figure>
    }
}
