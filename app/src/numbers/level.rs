//! What the whole bike did.

use evenkeel_core::align::moment;
use evenkeel_core::ride::LateralReadout;
use evenkeel_core::{LevelReadout, SectionReadout, Unit};
use leptos::prelude::*;

use super::figure::{Figure, often, quantity};
use super::table::{row, single};

/// How long and far, and what lay in between.
pub fn stretch(section: &SectionReadout) -> AnyView {
    let flights = Figure::of(&section.airborne, |flights| {
        often(flights.len(), flights.iter().map(|flight| flight.end_s - flight.start_s).sum())
    });
    let lean = Figure::of(&section.attitude.lean_max_rad, |rad| {
        format!("{:.0}° {}", rad.to_degrees().abs(), if *rad >= 0.0 { "right" } else { "left" })
    });
    let rows = [
        row("Time", "", Figure::text(moment::format(section.time_s, 0.01))),
        row("Distance", "", Figure::quantity(&section.distance_m, Unit::Metre)),
        row("Flights", "How often, and how long in all, both wheels were off the ground.", flights),
        row("Most lean", "", lean),
    ];
    view! { <h3>"Time and distance"</h3>{single(rows)} }.into_any()
}

pub fn level(level: &LevelReadout) -> AnyView {
    let rate = |measured| Figure::quantity(measured, Unit::DegreePerSecond);
    let rows = [
        row(
            "Pitch against the ground, RMS",
            "How much the frame tips about its usual pitch against the line under both wheels.",
            Figure::quantity(&level.pitch_chord_rms_rad, Unit::Degree),
        ),
        row(
            "Pitch at ride height, + nose down",
            "Pitch against the ground with both ends at their ride height.",
            Figure::quantity(&level.pitch_at_ride_height_rad, Unit::Degree),
        ),
        row(
            "Front ride height less rear",
            "Each as a share of its travel: + is a front that rides deeper than the rear.",
            Figure::percent(&level.ride_height_offset_share),
        ),
        row(
            "Pitch rate, RMS 0.5 to 12 Hz",
            "How fast the frame tips to and fro.",
            rate(&level.pitch_rate_rms_radps),
        ),
        row(
            "Heave, RMS",
            "The frame moving up and down without pitching.",
            Figure::quantity(&level.heave_rms_m, Unit::Millimetre),
        ),
        row(
            "Evenness",
            "How alike both ends answer the same ground: 0 the same, 0.5 unlike, 1 opposite.",
            Figure::ratio(&level.evenness.evenness_share, 2),
        ),
        row(
            "Movement, rear over front",
            "How much the rear wheel moves for what the front wheel does on the same ground.",
            Figure::ratio(&level.evenness.evenness_gain, 2),
        ),
        row(
            "Same bump, rear over front",
            "Vertical wheel movement of the rear over that of the front where both met the same bump: median.",
            Figure::ratio(&level.hit_pairs.hit_ratio, 2),
        ),
        row(
            "Kick, median",
            "Fastest nose-down tipping just after the rear starts back from a hit of 30 mm or more.",
            rate(&level.kick_p50_radps),
        ),
        row("Kick, 95 %", "What 95 % of the kicks stay below.", rate(&level.kick_p95_radps)),
    ];
    // A bounce on a flat floor: gain 1 +- 0.05 and coherence over 0.95 where all sensors are right.
    let bench = level.bench_pitch_gain.get().ok().zip(level.bench_pitch_coherence.get().ok());
    let bench = bench.map(|(gain, coherence)| {
        let sound = (gain - 1.0).abs() <= 0.05 && *coherence > 0.95;
        let verdict = if sound { "agree" } else { "do not agree: check mount, zero, geometry" };
        let text = format!("gyro and travel {verdict} (gain {gain:.2}, coherence {coherence:.2})");
        row(
            "Bench bounce",
            "The standing bike pushed down and let go shows whether gyro and travel tell the same pitch.",
            Figure::text(text),
        )
    });
    view! { <h3>"Level"</h3>{single(rows.into_iter().chain(bench))} }.into_any()
}

pub fn shake(lateral: &LateralReadout) -> AnyView {
    let shake = |measured| Figure::of(measured, |mps2: &f64| quantity(*mps2, Unit::MetrePerSecondSquared));
    let rows = [
        row(
            "Shake, median",
            "Sideways acceleration of the frame, 4 to 30 Hz, RMS over half seconds with less than 15° of lean. \
             It grows with speed.",
            shake(&lateral.shake_rms_mps2),
        ),
        row("Shake, 95 %", "What 95 % of the half seconds stay below.", shake(&lateral.shake_rms_p95_mps2)),
        row("Leaning left", "Median with 2 to 15° of lean to the left.", shake(&lateral.shake_left_rms_mps2)),
        row(
            "Leaning right",
            "Median with 2 to 15° of lean to the right. A bike that sits sideways differs from left.",
            shake(&lateral.shake_right_rms_mps2),
        ),
    ];
    view! { <h3>"Lateral shake"</h3>{single(rows)} }.into_any()
}
