//! The numbers that one page has room for.

use evenkeel_core::{SectionReadout, Unit};
use leptos::prelude::*;

use super::figure::{Figure, quantity};
use super::table::{both, front_and_rear, row, single};

pub fn in_brief(section: &SectionReadout) -> AnyView {
    let ends = [&section.front, &section.rear];
    let (level, brakes) = (&section.level, &section.brakes);
    let rows = [
        both("Ride height", "", ends, |end| Figure::quantity(&end.travel.ride_height_m, Unit::Millimetre)),
        both("Ride height, of travel", "", ends, |end| Figure::percent(&end.travel.ride_height_share)),
        both("95 % of the time below", "", ends, |end| {
            Figure::quantity(&end.travel.travel_p95_m, Unit::Millimetre)
        }),
        both("Bottom-outs", "", ends, |end| Figure::count(&end.travel.bottom_outs)),
        both("Recovery from a hit, median", "", ends, |end| {
            Figure::milliseconds(&end.recovery.all.recovery_p50_s)
        }),
        both("Not recovered by the next hit", "", ends, |end| {
            Figure::percent(&end.recovery.all.not_recovered_share)
        }),
        both("Fully extended, unweighted", "", ends, |end| {
            Figure::count_and_time(&end.contact.unweighted, &end.contact.unweighted_s)
        }),
    ];
    let rate = |measured| Figure::quantity(measured, Unit::DegreePerSecond);
    let shake =
        Figure::of(&section.lateral.shake_rms_mps2, |mps2| quantity(*mps2, Unit::MetrePerSecondSquared));
    let rear = &section.rear_wheel;
    let whole = [
        row("Pitch against the ground, RMS", "", Figure::quantity(&level.pitch_chord_rms_rad, Unit::Degree)),
        row("Pitch rate, RMS", "", rate(&level.pitch_rate_rms_radps)),
        row("Nose-down kick after rear hits, 95 %", "", rate(&level.kick_p95_radps)),
        row("Sideways shake, median", "", shake),
        row("Brake dive, median", "", Figure::quantity(&section.dive.rise_m, Unit::Millimetre)),
        row("Both brakes at once", "", Figure::seconds(&brakes.overlap_s, 1)),
        row("Rear wheel locked", "", Figure::count_and_time(&rear.lockups, &rear.lockup_s)),
    ];
    view! { <div class="in-brief">{front_and_rear(rows)}{single(whole)}</div> }.into_any()
}
