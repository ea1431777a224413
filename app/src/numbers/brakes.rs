//! What brakes, wheels and arms did.

use evenkeel_core::Unit;
use evenkeel_core::ride::{BrakeReadout, BrakesReadout, DiveReadout, RiderReadout, WheelReadout};
use leptos::prelude::*;

use super::figure::{Figure, quantity};
use super::table::{both, front_and_rear, row, single};
use crate::words::fixed;

pub fn brakes(brakes: &BrakesReadout, dive: &DiveReadout) -> AnyView {
    let ends = [&brakes.front, &brakes.rear];
    let [front, rear] = ends.map(|brake| quantity(brake.residual.residual_allowance_pa, Unit::Bar));
    let allowed = format!(
        "This bike's brakes may show {front} at the front and {rear} at the rear; over that, look for rub."
    );
    let rows = [
        both("Applications", "How often the brake was put on.", ends, |brake| {
            Figure::count(&brake.applications)
        }),
        both("Brake on", "How long in all.", ends, |brake| Figure::seconds(&brake.on_s, 1)),
        both(
            "Area",
            "Pressure times time, summed while the brake is on: how much braking in all.",
            ends,
            |brake| {
                Figure::of(&brake.area_pa_s, |area| {
                    format!("{}\u{a0}bar\u{a0}s", fixed(Unit::Bar.from_si(*area), 1))
                })
            },
        ),
        both(
            "Usual peak",
            "How hard the rider usually pulls this brake, over the whole run or day.",
            ends,
            |brake| Figure::quantity(&brake.usual_peak_pa, Unit::Bar),
        ),
        both(
            "Drag",
            "How long the brake was lightly on for a second or more at a stretch; where there is nothing to \
             brake for, all the time that it is on.",
            ends,
            |brake| Figure::seconds(&brake.drag_s, 1),
        ),
        both("Residual, RMS", "Pressure while the lever is off.", ends, |brake| {
            Figure::quantity(&brake.residual.residual_rms_pa, Unit::Bar)
        }),
        both("Residual against what is allowed", allowed, ends, allowance),
    ];
    let balance = row(
        "Front share of braking",
        "Front area over the sum of both areas.",
        Figure::percent(&brakes.balance_front_share),
    );
    let whole = [
        row("Overlap", "How long both brakes are on at once.", Figure::seconds(&brakes.overlap_s, 1)),
        balance,
        row(
            "Dive for pressure",
            "Front travel gained from braking, bumps taken out, for each bar of front brake pressure: median.",
            Figure::of(&dive.gain_m_per_pa, |gain| {
                let mm_per_bar = Unit::Millimetre.from_si(*gain * Unit::Bar.to_si(1.0));
                format!("{}\u{a0}mm/bar", fixed(mm_per_bar, 2))
            }),
        ),
        row(
            "Dive, median",
            "Front travel gained from braking, bumps taken out.",
            Figure::quantity(&dive.rise_m, Unit::Millimetre),
        ),
    ];
    view! { <h3>"Brakes"</h3>{front_and_rear(rows)}{single(whole)} }.into_any()
}

fn allowance(brake: &BrakeReadout) -> Figure {
    Figure::of(&brake.residual.residual_over_allowance, |over| {
        match (brake.residual.residual_accepted, over) {
            (true, _) => "accepted",
            (false, true) => "over",
            (false, false) => "within",
        }
        .to_owned()
    })
}

pub fn wheel_slips(wheels: [&WheelReadout; 2]) -> AnyView {
    let rows = [
        both(
            "Lock-ups",
            "How often, and how long in all, the wheel slipped by 80 % or more: it stopped turning with the bike.",
            wheels,
            |wheel| Figure::count_and_time(&wheel.lockups, &wheel.lockup_s),
        ),
        both("Slides", "How often it slipped by more than 30 % without locking.", wheels, |wheel| {
            Figure::count(&wheel.slides)
        }),
        both(
            "Certain, suspected",
            "Of both: certain where another wheel says how fast the bike went; suspected where this wheel alone \
             tells it.",
            wheels,
            |wheel| {
                Figure::of(&wheel.episodes, |episodes| {
                    let suspected = episodes.iter().filter(|episode| episode.suspected).count();
                    format!("{}, {suspected}", episodes.len() - suspected)
                })
            },
        ),
    ];
    view! { <h3>"Wheels under the brakes"</h3>{front_and_rear(rows)} }.into_any()
}

pub fn rider(rider: &RiderReadout) -> AnyView {
    let load = |measured| Figure::quantity(measured, Unit::MetrePerSecondSquared);
    let rows = [
        row(
            "Pushes",
            "How often the rider pushed the fork down, brakes off, bumps taken out.",
            Figure::count(&rider.pushes),
        ),
        row("Push, median", "How far.", Figure::quantity(&rider.push_size_m, Unit::Millimetre)),
        row(
            "Hands on the front, RMS",
            "Vertical acceleration of the bar less the frame's, below 3 Hz: how hard the hands load the front. \
             The frame's pitching is in it.",
            load(&rider.hand_load_rms_mps2),
        ),
        row(
            "Hands on the front, 95 %",
            "What it stays below 95 % of the time.",
            load(&rider.hand_load_p95_mps2),
        ),
    ];
    view! { <h3>"Rider's arms"</h3>{single(rows)} }.into_any()
}
