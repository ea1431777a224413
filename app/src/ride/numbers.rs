//! The run's numbers, each with its unit or the reason why it is not measured.

use evenkeel_core::align::moment;
use evenkeel_core::{EndReadout, Measured, SectionReadout, Unit};
use leptos::prelude::*;

use crate::store::store;
use crate::words::{number, symbol};

#[component]
pub fn Numbers() -> impl IntoView {
    let store = store();
    move || {
        let ride = store.ride.get()?;
        let run = ride.readout.sections.first()?.clone();
        Some(view! {
            <section class="numbers" aria-label="The whole run in numbers">
                <h2>"Whole run"</h2>
                <Ends run=run.clone()/>
                <Whole run/>
            </section>
        })
    }
}

/// A value in a unit, or a dash that says why on hover and to a screen reader.
fn cell(measured: &Measured, unit: Unit) -> AnyView {
    match measured.get() {
        Ok(si) => view! { <span>{format!("{} {}", number(*si, unit), symbol(unit))}</span> }.into_any(),
        Err(reason) => not_measured(&reason.0),
    }
}

fn not_measured(reason: &str) -> AnyView {
    let reason = format!("not measured: {reason}");
    view! { <abbr class="not" tabindex="0" title=reason.clone() aria-label=reason>"not measured"</abbr> }
        .into_any()
}

fn count(measured: &Measured<usize>) -> AnyView {
    match measured.get() {
        Ok(count) => view! { <span>{*count}</span> }.into_any(),
        Err(reason) => not_measured(&reason.0),
    }
}

fn percent(measured: &Measured) -> AnyView {
    match measured.get() {
        Ok(share) => view! { <span>{format!("{:.0} %", share * 100.0)}</span> }.into_any(),
        Err(reason) => not_measured(&reason.0),
    }
}

#[component]
fn Ends(run: SectionReadout) -> impl IntoView {
    type Show = fn(&EndReadout) -> AnyView;
    let rows: [(&str, Show); 10] = [
        ("Sag, if the rider was aboard", |end| cell(&end.sag_m, Unit::Millimetre)),
        ("Ride height", |end| cell(&end.travel.ride_height_m, Unit::Millimetre)),
        ("of travel", |end| percent(&end.travel.ride_height_share)),
        ("95 % of the time below", |end| cell(&end.travel.travel_p95_m, Unit::Millimetre)),
        ("Deepest", |end| cell(&end.travel.travel_max_m, Unit::Millimetre)),
        ("Bottom-outs", |end| count(&end.travel.bottom_outs)),
        ("Top-outs", |end| count(&end.travel.top_outs)),
        ("Compression p95", |end| cell(&end.axle_speed.compression_speed_p95_mps, Unit::MetrePerSecond)),
        ("Rebound p95", |end| cell(&end.axle_speed.rebound_speed_p95_mps, Unit::MetrePerSecond)),
        ("Sinking a minute", |end| cell(&end.travel.ride_height_slope_m_per_min, Unit::Millimetre)),
    ];
    let rows = rows.map(|(name, show)| {
        view! { <tr data-number=name><th scope="row">{name}</th><td>{show(&run.front)}</td><td>{show(&run.rear)}</td></tr> }
    });
    view! {
        <table>
            <thead><tr><th></th><th scope="col"><i class="swatch front"></i>"front"</th><th scope="col"><i class="swatch rear"></i>"rear"</th></tr></thead>
            <tbody>{rows.collect_view()}</tbody>
        </table>
    }
}

#[component]
fn Whole(run: SectionReadout) -> impl IntoView {
    let flights = match run.airborne.get() {
        Ok(flights) => {
            let total: f64 = flights.iter().map(|flight| flight.end_s - flight.start_s).sum();
            view! { <span>{format!("{}, {total:.1} s in all", flights.len())}</span> }.into_any()
        }
        Err(reason) => not_measured(&reason.0),
    };
    let lean = match run.attitude.lean_max_rad.get() {
        Ok(rad) => {
            let side = if *rad >= 0.0 { "right" } else { "left" };
            view! { <span>{format!("{:.0}° {side}", rad.to_degrees().abs())}</span> }.into_any()
        }
        Err(reason) => not_measured(&reason.0),
    };
    let rows = [
        ("Time rolling", view! { <span>{moment::format(run.time_s, 0.01)}</span> }.into_any()),
        ("Distance", cell(&run.distance_m, Unit::Metre)),
        ("Flights", flights),
        ("Most lean", lean),
        ("Pitch against the ground, RMS", cell(&run.level.pitch_chord_rms_rad, Unit::Degree)),
        ("Pitch at ride height, + nose down", cell(&run.level.pitch_at_ride_height_rad, Unit::Degree)),
        ("Pitch rate, RMS 0.5 to 12 Hz", cell(&run.level.pitch_rate_rms_radps, Unit::DegreePerSecond)),
        ("Heave, RMS", cell(&run.level.heave_rms_m, Unit::Millimetre)),
    ];
    // A bounce on a flat floor: gain 1 +- 0.05 and coherence over 0.95 where all sensors are right.
    let bench = run.level.bench_pitch_gain.get().ok().zip(run.level.bench_pitch_coherence.get().ok());
    let bench = bench.map(|(gain, coherence)| {
        let sound = (gain - 1.0).abs() <= 0.05 && *coherence > 0.95;
        let verdict = if sound { "agree" } else { "do not agree: check mount, zero, geometry" };
        let text = format!("gyro and travel {verdict} (gain {gain:.2}, coherence {coherence:.2})");
        ("Bench bounce", view! { <span>{text}</span> }.into_any())
    });
    let rows = rows
        .into_iter()
        .chain(bench)
        .map(|(name, value)| view! { <tr data-number=name><th scope="row">{name}</th><td>{value}</td></tr> });
    view! { <table><tbody>{rows.collect_view()}</tbody></table> }
}
