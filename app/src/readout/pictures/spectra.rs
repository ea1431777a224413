//! At which frequencies axles, frame and bar move.

use evenkeel_core::ride::SpectraReadout;
use evenkeel_core::{Measured, NotMeasured};
use leptos::prelude::*;

use super::card::{Picture, table};
use super::chart::{Axis, chart, line};
use super::travel::of_both;
use crate::words::fixed;

pub fn axles(spectra: &SpectraReadout) -> Picture {
    picture(
        "How fast each axle moves at which frequency, RMS in each third of an octave: the bike on its springs moves slowly (1 to 3 Hz), wheels on their tyres fast (10 to 20 Hz).",
        ("axle speed", "m/s"),
        [("front", &spectra.front_axle_speed_mps), ("rear", &spectra.rear_axle_speed_mps)],
        ["front", "rear"],
    )
}

pub fn shaken(spectra: &SpectraReadout) -> Picture {
    picture(
        "How much frame and bar shake up and down at which frequency, RMS in each third of an octave: what gets through to feet and hands.",
        ("acceleration", "m/s²"),
        [("frame", &spectra.frame_up_mps2), ("bar", &spectra.bar_up_mps2)],
        ["frame", "bar"],
    )
}

fn picture(
    caption: &'static str,
    (name, unit): (&'static str, &'static str),
    [(first, a), (second, b)]: [(&'static str, &Measured<Vec<f64>>); 2],
    classes: [&'static str; 2],
) -> Picture {
    let bands = |measured: &Measured<Vec<f64>>| measured.get().cloned();
    let (a, b) = (bands(a), bands(b));
    let draw = |a: &[f64], b: &[f64]| {
        let x = Axis::logarithmic("frequency", "Hz", [0.9, 56.0]);
        let y = Axis::up_to(name, unit, a.iter().chain(b).copied());
        let of = |bands: &[f64], class| {
            line(&x, &y, SpectraReadout::centres_hz().zip(bands.iter().copied()), class)
        };
        chart(name, &x, &y, [of(a, classes[0]), of(b, classes[1])].into_any())
    };
    let cell = |bands: &Result<Vec<f64>, NotMeasured>, i: usize| {
        bands.as_ref().ok().and_then(|bands| bands.get(i)).map_or("–".to_owned(), |rms| fixed(*rms, 3))
    };
    let rows = SpectraReadout::centres_hz()
        .enumerate()
        .map(|(i, centre)| vec![fixed(centre, if centre < 10.0 { 2 } else { 1 }), cell(&a, i), cell(&b, i)]);
    Picture { caption, table: table(&["Hz", first, second], rows.collect()), drawn: of_both(&a, &b, draw) }
}
