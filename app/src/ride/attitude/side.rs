//! From the side: pitch, and where each wheel stands against full extension and ride height.

use evenkeel_core::End;
use leptos::prelude::*;

use super::geometry::{Frame, Geometry};
use super::pose::{Extreme, Ghost, Pose};
use super::{points, side_of};
use crate::store::store;

#[component]
pub fn SideView(pose: Memo<Pose>, ghosts: Memo<Vec<Ghost>>) -> impl IntoView {
    let store = store();
    let geometry = Memo::new(move |_| store.day.with(|day| Geometry::of(&day.bike)));
    let heights = Memo::new(move |_| {
        let whole =
            store.ride.with(|ride| ride.as_ref().and_then(|ride| ride.readout.sections.first().cloned()));
        whole
            .map(|run| [run.front, run.rear].map(|end| end.travel.ride_height_m.get().ok().copied()))
            .unwrap_or_default()
    });
    // Nothing is made anew when the cursor moves: each attribute follows for itself.
    let axle = move |end| {
        let pose = pose.get();
        geometry.get().axle(end, if end == End::Front { pose.front_m } else { pose.rear_m }.unwrap_or(0.0))
    };
    let [front, rear] = [End::Front, End::Rear].map(|end| Memo::new(move |_| axle(end)));
    let lost = move |end| if end == End::Front { pose.get().front_m } else { pose.get().rear_m }.is_none();
    let still = move || {
        let geometry = geometry.get();
        let extended = End::BOTH.map(|end| {
            let (x, y) = geometry.axle(end, 0.0);
            view! { <circle class="extended" cx=x cy=y r="4"/> }
        });
        let Frame { head, crank, saddle, .. } = geometry.frame();
        let heights = heights.get().into_iter().zip(End::BOTH).filter_map(|(m, end)| {
            let (x, y) = geometry.axle(end, m?);
            Some(view! { <line class="height" x1=x - 9.0 x2=x + 9.0 y1=y y2=y/> })
        });
        view! {
            {extended}
            <polyline class="frame" points=points(&[head, crank, saddle, head])/>
            {heights.collect_view()}
        }
    };
    let ghostly = move || {
        let geometry = geometry.get();
        ghosts.get().into_iter().filter_map(|ghost| draw_ghost(geometry, ghost)).collect_view()
    };
    let ground = move || {
        let ((rear_x, rear_y), (front_x, front_y), geometry) = (rear.get(), front.get(), geometry.get());
        points(&[
            (rear_x - 30.0, rear_y + geometry.wheel_radius(End::Rear)),
            (front_x + 30.0, front_y + geometry.wheel_radius(End::Front)),
        ])
    };
    let stays = move || points(&[geometry.get().frame().pivot, rear.get()]);
    let fork = move || {
        let Frame { bar, crown, .. } = geometry.get().frame();
        points(&[bar, crown, front.get()])
    };
    let radius = move |end| geometry.get().wheel_radius(end);
    let travel = |m: Option<f64>| m.map_or("not measured".to_owned(), |m| format!("{:.0} mm", m * 1e3));
    view! {
        <figure class="side-view">
            <svg viewBox="-62 -112 256 168" role="img" aria-label="From the side">
                <line class="level" x1="-60" y1="0" x2="190" y2="0"/>
                {ghostly}
                <g transform=move || geometry.get().turned(pose.get().drawn_pitch_rad())>
                    <polyline class="ground" points=ground/>
                    <circle class="wheel front" class:missing=move || lost(End::Front) cx=move || front.get().0 cy=move || front.get().1 r=move || radius(End::Front)/>
                    <circle class="wheel rear" class:missing=move || lost(End::Rear) cx=move || rear.get().0 cy=move || rear.get().1 r=move || radius(End::Rear)/>
                    {still}
                    <polyline class="frame" points=stays/>
                    <polyline class="frame" points=fork/>
                    <circle class="axle front" class:missing=move || lost(End::Front) cx=move || front.get().0 cy=move || front.get().1 r="3.5"/>
                    <circle class="axle rear" class:missing=move || lost(End::Rear) cx=move || rear.get().0 cy=move || rear.get().1 r="3.5"/>
                </g>
            </svg>
            <figcaption>
                <span><b>"Pitch "</b><output data-value="pitch">{move || side_of(pose.get().pitch_rad, "nose down", "nose up")}</output></span>
                <span><b>"against the ground "</b><output>{move || side_of(pose.get().chord_pitch_rad, "nose down", "nose up")}</output></span>
                <span><b>"rear "</b><output>{move || travel(pose.get().rear_m)}</output></span>
                <span><b>"front "</b><output>{move || travel(pose.get().front_m)}</output></span>
                <span class="quiet">"○ full extension, — ride height, dashed: level, thin: extremes"</span>
            </figcaption>
        </figure>
    }
}

/// A wheel at its deepest, or the whole bike at its steepest, as the bike lay then.
fn draw_ghost(geometry: Geometry, Ghost { extreme, pose, .. }: Ghost) -> Option<impl IntoView> {
    let axle = |end, travel_m: Option<f64>| geometry.axle(end, travel_m.unwrap_or(0.0));
    let (front, rear) = (axle(End::Front, pose.front_m), axle(End::Rear, pose.rear_m));
    let radius = |end| geometry.wheel_radius(end);
    let Frame { head, crank, saddle, pivot, bar, crown } = geometry.frame();
    let wheel = match extreme {
        Extreme::FrontDeepest => Some(("ghost front", front, radius(End::Front))),
        Extreme::RearDeepest => Some(("ghost rear", rear, radius(End::Rear))),
        Extreme::NoseDown | Extreme::NoseUp => None,
        _ => return None,
    };
    let outline = wheel.is_none().then(|| {
        [vec![rear, pivot, crank, saddle, head, crank], vec![bar, crown, front]]
            .map(|line| view! { <polyline class="ghost" points=points(&line)/> })
    });
    let wheel = wheel.map(|(class, (x, y), r)| view! { <circle class=class cx=x cy=y r=r/> });
    Some(view! { <g transform=geometry.turned(pose.drawn_pitch_rad())>{wheel}{outline}</g> })
}
