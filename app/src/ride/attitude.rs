//! The bike at the cursor from the side, from behind and from above, drawn from its own geometry.

use evenkeel_core::ride::Trace;
use evenkeel_core::{Bike, End};
use leptos::prelude::*;

use crate::store::{RideView, store};

/// The bike at one moment; what is not measured is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Pose {
    front_m: Option<f64>,
    rear_m: Option<f64>,
    front_height_m: Option<f64>,
    rear_height_m: Option<f64>,
    pitch_rad: Option<f64>,
    chord_pitch_rad: Option<f64>,
    roll_rad: Option<f64>,
    yaw_rad: Option<f64>,
    yaw_rate_radps: Option<f64>,
    speed_mps: Option<f64>,
}

impl Pose {
    fn at(ride: &RideView, t_s: f64) -> Self {
        let at = |trace| ride.at(trace, t_s);
        let run = ride.readout.sections.first();
        let height = |end: fn(&evenkeel_core::SectionReadout) -> &evenkeel_core::EndReadout| {
            run.and_then(|run| end(run).travel.ride_height_m.get().ok().copied())
        };
        Self {
            front_m: at(Trace::travel(End::Front)),
            rear_m: at(Trace::travel(End::Rear)),
            front_height_m: height(|run| &run.front),
            rear_height_m: height(|run| &run.rear),
            pitch_rad: at(Trace::Pitch),
            chord_pitch_rad: at(Trace::ChordPitch),
            roll_rad: at(Trace::Roll),
            yaw_rad: at(Trace::Yaw),
            yaw_rate_radps: at(Trace::YawRate),
            speed_mps: at(Trace::Speed),
        }
    }
}

#[component]
pub fn AttitudeViews() -> impl IntoView {
    let store = store();
    let pose = Memo::new(move |_| {
        store
            .ride
            .with(|ride| ride.as_ref().map(|ride| Pose::at(ride, store.cursor_s.get())))
            .unwrap_or_default()
    });
    let why_not = move || {
        let ride = store.ride.get()?;
        let reason = ride.attitude.as_ref().err()?;
        Some(
            view! { <p class="quiet">{format!("Lean, turn and pitch against the horizon are {reason}.")}</p> },
        )
    };
    view! {
        <section class="attitude" aria-label="Attitude at the cursor">
            <SideView pose/>
            <div class="pair">
                <BehindView pose/>
                <AboveView pose/>
            </div>
            {why_not}
        </section>
    }
}

/// Centimetres to the picture: SVG user units are 0.01 m, y down.
const CM: f64 = 100.0;

fn side_of(rad: Option<f64>, positive: &str, negative: &str) -> String {
    rad.map_or("not measured".to_owned(), |rad| {
        let deg = rad.to_degrees();
        let side = if deg >= 0.0 { positive } else { negative };
        format!("{:.1}° {side}", deg.abs())
    })
}

/// Pitch, and where each wheel stands against full extension and ride height.
#[component]
fn SideView(pose: Memo<Pose>) -> impl IntoView {
    let store = store();
    let bike = Memo::new(move |_| store.day.with(|day| day.bike.clone()));
    let picture = move || {
        let (bike, pose) = (bike.get(), pose.get());
        let side = Side::of(&bike);
        let pitch = pose.pitch_rad.or(pose.chord_pitch_rad).unwrap_or(0.0);
        let turn = format!("rotate({:.3} {:.1} 0)", pitch.to_degrees(), bike.wheelbase_m / 2.0 * CM);
        let front = side.front_axle(pose.front_m.unwrap_or(0.0));
        let rear = side.rear_axle(pose.rear_m.unwrap_or(0.0));
        let [front_radius, rear_radius] = [End::Front, End::Rear].map(|end| side.wheel_radius(end));
        let marks = [(side.front_axle(0.0), "extended"), (side.rear_axle(0.0), "extended")];
        let heights =
            [pose.front_height_m.map(|m| side.front_axle(m)), pose.rear_height_m.map(|m| side.rear_axle(m))];
        let Side { head, crank, saddle, pivot, crown, bar } = side.frame();
        // The ground under the two wheels, in the frame's own axes.
        let ground = [(rear.0 - 30.0, rear.1 + rear_radius), (front.0 + 30.0, front.1 + front_radius)];
        view! {
            <line class="level" x1="-60" y1="0" x2="190" y2="0"/>
            <g transform=turn>
                <line class="ground" x1=ground[0].0 y1=ground[0].1 x2=ground[1].0 y2=ground[1].1/>
                {marks.map(|((x, y), _)| view! { <circle class="extended" cx=x cy=y r="4"/> }).collect_view()}
                <circle class="wheel front" class:missing=pose.front_m.is_none() cx=front.0 cy=front.1 r=front_radius/>
                <circle class="wheel rear" class:missing=pose.rear_m.is_none() cx=rear.0 cy=rear.1 r=rear_radius/>
                <polyline class="frame" points=points(&[head, crank, saddle, head])/>
                <polyline class="frame" points=points(&[pivot, rear])/>
                <polyline class="frame" points=points(&[bar, crown, front])/>
                {heights.into_iter().flatten().map(|(x, y)| view! { <line class="height" x1=x - 9.0 x2=x + 9.0 y1=y y2=y/> }).collect_view()}
                <circle class="axle front" class:missing=pose.front_m.is_none() cx=front.0 cy=front.1 r="3.5"/>
                <circle class="axle rear" class:missing=pose.rear_m.is_none() cx=rear.0 cy=rear.1 r="3.5"/>
            </g>
        }
    };
    let travel = |m: Option<f64>| m.map_or("not measured".to_owned(), |m| format!("{:.0} mm", m * 1e3));
    view! {
        <figure class="side-view">
            <svg viewBox="-62 -112 256 168" role="img" aria-label="From the side">{picture}</svg>
            <figcaption>
                <span><b>"Pitch "</b><output data-value="pitch">{move || side_of(pose.get().pitch_rad, "nose down", "nose up")}</output></span>
                <span><b>"against the ground "</b><output>{move || side_of(pose.get().chord_pitch_rad, "nose down", "nose up")}</output></span>
                <span><b>"rear "</b><output>{move || travel(pose.get().rear_m)}</output></span>
                <span><b>"front "</b><output>{move || travel(pose.get().front_m)}</output></span>
                <span class="quiet">"○ full extension, — ride height, dashed: level"</span>
            </figcaption>
        </figure>
    }
}

/// The bike moving to the right: points in centimetres, y down, the axles at full extension on y = 0.
#[derive(Clone, Copy)]
struct Side {
    head: (f64, f64),
    crank: (f64, f64),
    saddle: (f64, f64),
    pivot: (f64, f64),
    crown: (f64, f64),
    bar: (f64, f64),
}

#[derive(Clone, Copy)]
struct SideGeometry {
    wheelbase_m: f64,
    sin: f64,
    cos: f64,
    radius_m: [f64; 2],
}

impl Side {
    fn of(bike: &Bike) -> SideGeometry {
        let (sin, cos) = bike.head_angle_rad.sin_cos();
        let radius_m =
            [End::Front, End::Rear].map(|end| bike.wheel(end).circumference_m / std::f64::consts::TAU);
        SideGeometry { wheelbase_m: bike.wheelbase_m, sin, cos, radius_m }
    }
}

impl SideGeometry {
    fn wheel_radius(self, end: End) -> f64 {
        self.radius_m[end as usize] * CM
    }

    /// A point along the fork's axis, metres above the front axle at full extension.
    fn along_fork(self, m: f64) -> (f64, f64) {
        ((self.wheelbase_m - m * self.cos) * CM, -m * self.sin * CM)
    }

    fn front_axle(self, travel_m: f64) -> (f64, f64) {
        self.along_fork(travel_m)
    }

    fn rear_axle(self, travel_m: f64) -> (f64, f64) {
        (0.0, -travel_m * CM)
    }

    /// The frame: fork angle and wheelbase are the bike's, the rest is a sketch in proportion to them.
    fn frame(self) -> Side {
        let wb = self.wheelbase_m * CM;
        Side {
            head: self.along_fork(0.68),
            crank: (0.37 * wb, -2.0),
            saddle: (0.28 * wb, -42.0),
            pivot: (0.36 * wb, -9.0),
            crown: self.along_fork(0.62),
            bar: self.along_fork(0.86),
        }
    }
}

fn points(points: &[(f64, f64)]) -> String {
    points.iter().map(|(x, y)| format!("{x:.1},{y:.1} ")).collect()
}

/// Lean.
#[component]
fn BehindView(pose: Memo<Pose>) -> impl IntoView {
    let lean = move || pose.get().roll_rad.map(|roll| format!("rotate({:.2})", roll.to_degrees()));
    view! {
        <figure>
            <svg viewBox="-75 -118 150 132" role="img" aria-label="From behind">
                <line class="level" x1="-70" y1="0" x2="70" y2="0"/>
                <line class="level" x1="0" y1="-112" x2="0" y2="6"/>
                {move || {
                    lean().map(|turn| {
                        view! {
                            <g transform=turn>
                                <rect class="tyre" x="-3.2" y="-74" width="6.4" height="74" rx="3.2"/>
                                <line class="frame" x1="0" y1="-74" x2="0" y2="-100"/>
                                <line class="frame" x1="-39" y1="-100" x2="39" y2="-100"/>
                            </g>
                        }
                    })
                }}
            </svg>
            <figcaption><span><b>"Lean "</b><output data-value="lean">{move || side_of(pose.get().roll_rad, "right", "left")}</output></span></figcaption>
        </figure>
    }
}

/// Direction since the start, and the turn as it goes on for a second.
#[component]
fn AboveView(pose: Memo<Pose>) -> impl IntoView {
    let picture = move || {
        let Pose { yaw_rad, yaw_rate_radps, speed_mps, .. } = pose.get();
        yaw_rad.map(|yaw| {
            // A second of path at this speed and turn rate.
            let arc = yaw_rate_radps.zip(speed_mps).map(|(rate, speed)| {
                let path = (0..=20).map(|i| {
                    let angle = rate * f64::from(i) / 20.0;
                    let length = speed * f64::from(i) / 20.0;
                    let chord = if angle.abs() < 1e-6 {
                        length
                    } else {
                        length * (angle / 2.0).sin() / (angle / 2.0)
                    };
                    (-chord * (angle / 2.0).sin() * 4.0, -chord * (angle / 2.0).cos() * 4.0)
                });
                points(&path.collect::<Vec<_>>())
            });
            view! {
                <g transform=format!("rotate({:.2})", -yaw.to_degrees())>
                    {arc.map(|arc| view! { <polyline class="path" points=arc/> })}
                    <polyline class="frame" points="0,-12 0,16"/>
                    <polyline class="frame" points="-9,-10 9,-10"/>
                    <polyline class="frame" points="-4,-13 0,-20 4,-13"/>
                </g>
            }
        })
    };
    view! {
        <figure>
            <svg viewBox="-75 -66 150 132" role="img" aria-label="From above">
                <line class="level" x1="0" y1="-62" x2="0" y2="62"/>
                {picture}
            </svg>
            <figcaption>
                <span><b>"Turning "</b><output>{move || pose.get().yaw_rate_radps.map_or("not measured".to_owned(), |rate| format!("{:.0}°/s {}", rate.to_degrees().abs(), if rate >= 0.0 { "left" } else { "right" }))}</output></span>
                <span><b>"since the start "</b><output>{move || side_of(pose.get().yaw_rad, "left", "right")}</output></span>
            </figcaption>
        </figure>
    }
}
