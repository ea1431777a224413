//! Every pull of a brake, and the dives that follow; slides and lock-ups along the run.

use evenkeel_core::ride::{BrakesReadout, Dive, DiveReadout, SlipKind, WheelReadout};
use evenkeel_core::{End, Unit};
use leptos::prelude::*;

use super::card::{Picture, moments};
use super::chart::{Axis, chart, dot};
use crate::words::fixed;

/// How long and how hard each pull was.
pub fn pulls(brakes: &BrakesReadout, go: Callback<[f64; 2]>) -> Picture {
    let ends = [(End::Front, &brakes.front), (End::Rear, &brakes.rear)];
    let pulls = || {
        ends.into_iter().flat_map(|(end, brake)| {
            brake.application_list.get().into_iter().flatten().map(move |pull| (end, pull))
        })
    };
    let bar = |pa: f64| Unit::Bar.from_si(pa);
    let drawn = match (ends[0].1.application_list.get(), ends[1].1.application_list.get()) {
        (Err(reason), Err(_)) => Err(reason.clone()),
        _ => {
            let x = Axis::up_to("length of the pull", "s", pulls().map(|(_, pull)| pull.length_s));
            let y = Axis::up_to("highest pressure", "bar", pulls().map(|(_, pull)| bar(pull.peak_pa)));
            let dots = pulls().map(|(end, pull)| {
                let span = [pull.start_s, pull.start_s + pull.length_s];
                let told = format!(
                    "{}: {} s, {} bar",
                    end.name(),
                    fixed(pull.length_s, 2),
                    fixed(bar(pull.peak_pa), 1)
                );
                dot(x.x(pull.length_s), y.y(bar(pull.peak_pa)), end.name().to_owned(), told, move || {
                    go.run(span)
                })
            });
            Ok(chart("Pulls of the brakes", &x, &y, dots.collect::<Vec<_>>().into_any()))
        }
    };
    let mut rows: Vec<_> = pulls()
        .map(|(end, pull)| {
            let cells = vec![
                end.name().to_owned(),
                fixed(pull.length_s, 2),
                fixed(bar(pull.peak_pa), 1),
                fixed(bar(pull.mean_pa), 1),
            ];
            ([pull.start_s, pull.start_s + pull.length_s], cells)
        })
        .collect();
    rows.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
    Picture {
        caption: "Each dot is one pull: how long, and how hard at most. Short and hard is braking; long and light drags. A click goes there.",
        drawn,
        table: moments(&["at", "brake", "length, s", "highest, bar", "mean, bar"], rows, go),
    }
}

/// How far the fork dives for the pressure.
pub fn dives(dive: &DiveReadout, go: Callback<[f64; 2]>) -> Picture {
    let bar = |dive: &Dive| Unit::Bar.from_si(dive.pressure_pa);
    let span = |dive: &Dive| [dive.start_s, dive.start_s + 0.6];
    let draw = |dives: &Vec<Dive>| {
        let x = Axis::up_to("front pressure", "bar", dives.iter().map(bar));
        let lowest = dives.iter().map(|dive| 1e3 * dive.rise_m).fold(0.0, f64::min);
        let highest = dives.iter().map(|dive| 1e3 * dive.rise_m).fold(1.0, f64::max);
        let y = Axis::new("dive", "mm", [1.05 * lowest, 1.08 * highest]);
        let dots = dives.iter().map(|one| {
            let rise_mm = 1e3 * one.rise_m;
            let (told, span) = (format!("{} bar, {} mm", fixed(bar(one), 1), fixed(rise_mm, 0)), span(one));
            dot(x.x(bar(one)), y.y(rise_mm), "front".to_owned(), told, move || go.run(span))
        });
        chart("Dive for pressure", &x, &y, dots.collect::<Vec<_>>().into_any())
    };
    let listed = dive.dives.get();
    let rows = listed.iter().copied().flatten().map(|one| {
        let pitch = one.pitch_rad.map_or("–".to_owned(), |pitch| fixed(pitch.to_degrees(), 1));
        (span(one), vec![fixed(bar(one), 1), fixed(1e3 * one.rise_m, 0), pitch])
    });
    Picture {
        caption: "Each dot is one pull of the front brake: how far the fork went for its pressure, bumps taken out.",
        table: moments(&["at", "bar", "dive, mm", "nose down, °"], rows.collect(), go),
        drawn: listed.map(draw),
    }
}

/// When and how long each wheel slid or stood.
pub fn slips(
    [front, rear]: [&WheelReadout; 2],
    [start_s, end_s]: [f64; 2],
    go: Callback<[f64; 2]>,
) -> Picture {
    let ends = [(End::Front, front), (End::Rear, rear)];
    let all = || {
        ends.into_iter()
            .flat_map(|(end, wheel)| wheel.episodes.get().into_iter().flatten().map(move |slip| (end, slip)))
    };
    let drawn = match (front.episodes.get(), rear.episodes.get()) {
        (Err(_), Err(reason)) => Err(reason.clone()),
        _ => {
            let x = Axis::new("time", "s", [start_s, end_s]);
            let y = Axis::up_to("how long", "s", all().map(|(_, slip)| slip.end_s - slip.start_s));
            let dots = all().map(|(end, slip)| {
                let span = [slip.start_s, slip.end_s];
                let told = format!("{} {}: {} s", end.name(), kind(slip.kind), fixed(span[1] - span[0], 2));
                let class = format!("{} {}", end.name(), kind(slip.kind));
                dot(x.x(span[0]), y.y(span[1] - span[0]), class, told, move || go.run(span))
            });
            Ok(chart("Slides and lock-ups along the run", &x, &y, dots.collect::<Vec<_>>().into_any()))
        }
    };
    let rows = all().map(|(end, slip)| {
        let sure = if slip.suspected { "suspected" } else { "certain" };
        let cells = [
            end.name().to_owned(),
            kind(slip.kind).to_owned(),
            fixed(slip.end_s - slip.start_s, 2),
            fixed(100.0 * slip.slip_max, 0),
            fixed(slip.locked_s, 2),
            sure.to_owned(),
        ];
        ([slip.start_s, slip.end_s], cells.to_vec())
    });
    Picture {
        caption: "Each dot is one slide or lock-up: when, and how long. A click goes there.",
        drawn,
        table: moments(
            &["at", "wheel", "what", "s", "worst slip, %", "of it locked, s", "how sure"],
            rows.collect(),
            go,
        ),
    }
}

fn kind(kind: SlipKind) -> &'static str {
    match kind {
        SlipKind::Slide => "slide",
        SlipKind::LockUp => "lock-up",
    }
}
