//! What each end did.

use evenkeel_core::{EndReadout, Unit};
use leptos::prelude::*;

use super::figure::Figure;
use super::table::{both, front_and_rear};

pub fn travel(ends: [&EndReadout; 2]) -> AnyView {
    let rows = [
        both(
            "Sag, if the rider was aboard",
            "Travel used while standing still before the start. It is sag only if the rider was on the bike.",
            ends,
            |end| Figure::quantity(&end.sag_m, Unit::Millimetre),
        ),
        both("Ride height", "Middle (median) travel while rolling: how deep this end works.", ends, |end| {
            Figure::quantity(&end.travel.ride_height_m, Unit::Millimetre)
        }),
        both("of travel", "Ride height as a share of full travel.", ends, |end| {
            Figure::percent(&end.travel.ride_height_share)
        }),
        both(
            "Sinking a minute",
            "How ride height drifts over the stretch; + is sinking deeper.",
            ends,
            |end| Figure::quantity(&end.travel.ride_height_slope_m_per_min, Unit::Millimetre),
        ),
        both("95 % of the time below", "", ends, |end| {
            Figure::quantity(&end.travel.travel_p95_m, Unit::Millimetre)
        }),
        both("Deepest", "", ends, |end| Figure::quantity(&end.travel.travel_max_m, Unit::Millimetre)),
        both("Bottom-outs", "How often 97 % of full travel was reached.", ends, |end| {
            Figure::count(&end.travel.bottom_outs)
        }),
        both("Top-outs", "How often full extension was reached at more than 0.2 m/s.", ends, |end| {
            Figure::count(&end.travel.top_outs)
        }),
        both(
            "Compression p95",
            "Speed of the axle that 95 % of the compressing time stays below.",
            ends,
            |end| Figure::quantity(&end.axle_speed.compression_speed_p95_mps, Unit::MetrePerSecond),
        ),
        both("Rebound p95", "Speed of the axle that 95 % of the extending time stays below.", ends, |end| {
            Figure::quantity(&end.axle_speed.rebound_speed_p95_mps, Unit::MetrePerSecond)
        }),
    ];
    view! { <h3>"Travel"</h3>{front_and_rear(rows)} }.into_any()
}

pub fn coming_back(ends: [&EndReadout; 2]) -> AnyView {
    let rows = [
        both("Recovery, median", "From the deepest point of a hit until back at ride height.", ends, |end| {
            Figure::milliseconds(&end.recovery.all.recovery_p50_s)
        }),
        both("Recovery, 90 %", "The time by which nine hits in ten are back at ride height.", ends, |end| {
            Figure::milliseconds(&end.recovery.all.recovery_p90_s)
        }),
        both(
            "Not recovered",
            "Share of the hits that the next one met before the end was back at ride height.",
            ends,
            |end| Figure::percent(&end.recovery.all.not_recovered_share),
        ),
        both(
            "Rebound rate",
            "Rebound speed gained for each metre of depth of a hit. Falls as rebound damping rises; compare it \
             on like ground at like speed.",
            ends,
            |end| Figure::of(&end.rebound.rebound_rate_per_s, |rate| format!("{rate:.1}\u{a0}1/s")),
        ),
        both(
            "Sink in a train of hits",
            "How much deeper the end comes to lie from the fourth hit of a train on (packing); + is sinking. \
             On rough ground a healthy end is below zero: what counts is that it rises.",
            ends,
            |end| Figure::quantity(&end.packing.sink_m, Unit::Millimetre),
        ),
        both(
            "Early top-outs",
            "How often a strong hit came back so fast that the end knocked at full extension.",
            ends,
            |end| Figure::count(&end.rebound.early_top_outs),
        ),
    ];
    // Only a standing bike that was pushed down and let go has one: elsewhere it is not missed.
    let bounced = ends.iter().any(|end| end.bench_bounce.damping_ratio.get().is_ok());
    let damping = bounced.then(|| {
        both(
            "Damping ratio, bench bounce",
            "Rebound damping of the standing bike, pushed down and let go: 1 is critical, less swings past.",
            ends,
            |end| Figure::ratio(&end.bench_bounce.damping_ratio, 2),
        )
    });
    view! { <h3>"Coming back from hits"</h3>{front_and_rear(rows.into_iter().chain(damping))} }.into_any()
}

pub fn ground(ends: [&EndReadout; 2]) -> AnyView {
    let rows = [
        both(
            "Unweighted",
            "How often, and how long in all, the end was fully extended with its wheel not pressed to the \
             ground, flights with it. A wheel also leaves the ground unseen, so compare runs by it and no more.",
            ends,
            |end| Figure::count_and_time(&end.contact.unweighted, &end.contact.unweighted_s),
        ),
        both("Skitter", "The same while the other end stayed loaded.", ends, |end| {
            Figure::count_and_time(&end.contact.skitter, &end.contact.skitter_s)
        }),
        both(
            "Harshness",
            "Shaking of the frame, 5 to 25 Hz, for what the axle does: more is harsher. Each end's figure \
             feels the other end too.",
            ends,
            |end| Figure::of(&end.harshness_per_s, |harshness| format!("{harshness:.1}\u{a0}1/s")),
        ),
    ];
    view! { <h3>"Ground contact"</h3>{front_and_rear(rows)} }.into_any()
}
