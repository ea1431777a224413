//! Whether an end sinks deeper and deeper in a train of hits.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::hits::{Hit, strong_hits};
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::{median, median_interval, theil_sen};

/// A hit of a train compresses by at least this share of travel (own default; a smaller one does not end it).
const TRAIN_HIT_SHARE: f64 = 0.15;
/// Hits of a train begin less than this apart, s (own default).
const APART_S: f64 = 0.7;
/// A train has at least so many hits (own default).
const FEWEST_HITS: usize = 4;
/// A slope per hit needs a train of at least so many (own default).
const FEWEST_FOR_SLOPE: usize = 6;
/// Travel before a train is taken from here, s before its first hit (own default)...
const BEFORE_FROM_S: f64 = 0.6;
/// ...to here, s.
const BEFORE_TO_S: f64 = 0.1;

/// Packing of one end over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PackingReadout {
    /// Median over trains of hits of: median valley from the 4th hit on, less the median travel 0.1-0.6 s
    /// before the train, m, + sinking. Negative where the end extends between hits beyond where it was, as
    /// a healthy one does on rough ground: what counts is that it rises.
    pub sink_m: Measured,
    /// Median over trains of six hits and more of the robust slope of their valleys, m per hit, + sinking.
    pub sink_per_hit_m: Measured,
    /// Whether both brakes were logged, so that trains with a brake onset could be left out.
    pub sink_brakes_known: bool,
}

impl PackingReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        Self {
            sink_m: Measured::not(reason.clone()),
            sink_per_hit_m: Measured::not(reason.clone()),
            sink_brakes_known: false,
        }
    }

    /// Reads the trains of one end in a stretch, on the ground and without a brake onset from 0.6 s before.
    pub fn of(basis: &Basis<'_>, end: End, range: &Range<usize>) -> Self {
        let travel_m = match basis.sharp_travel_m(end) {
            Ok(travel_m) => travel_m,
            Err(reason) => return Self::not(&reason),
        };
        let full_m = basis.bike.travel_m(end);
        let hits: Vec<Hit> = strong_hits(travel_m, full_m)
            .into_iter()
            .filter(|hit| range.contains(&hit.start) && hit.stroke_m() >= TRAIN_HIT_SHARE * full_m)
            .collect();
        let apart = basis.samples(APART_S);
        let clear = |train: &&[Hit]| is_clear(basis, train);
        let trains: Vec<&[Hit]> = hits
            .chunk_by(|a, b| b.start - a.start < apart)
            .filter(|train| train.len() >= FEWEST_HITS)
            .filter(clear)
            .collect();
        let sinks: Vec<f64> = trains.iter().filter_map(|train| sink(basis, travel_m, train)).collect();
        let slopes: Vec<f64> =
            trains.iter().filter(|t| t.len() >= FEWEST_FOR_SLOPE).filter_map(|train| slope(train)).collect();
        Self {
            sink_m: over_trains(&sinks, FEWEST_HITS),
            sink_per_hit_m: over_trains(&slopes, FEWEST_FOR_SLOPE),
            sink_brakes_known: [End::Front, End::Rear].iter().all(|end| basis.applications(*end).is_ok()),
        }
    }
}

/// Whether a train, with what lies 0.6 s before it, is ridden on the ground and begins no braking.
fn is_clear(basis: &Basis<'_>, train: &[Hit]) -> bool {
    let (Some(first), Some(last)) = (train.first(), train.last()) else { return false };
    let Some(from) = first.start.checked_sub(basis.samples(BEFORE_FROM_S)) else { return false };
    let whole = from..last.deepest + 1;
    let brakes = |end| {
        let applications = basis.applications(end).unwrap_or_default();
        applications.iter().any(|on| whole.contains(&on.range.start))
    };
    whole.clone().all(|i| basis.grounded[i]) && !brakes(End::Front) && !brakes(End::Rear)
}

fn sink(basis: &Basis<'_>, travel_m: &[f32], train: &[Hit]) -> Option<f64> {
    let start = train.first()?.start;
    let from = start.checked_sub(basis.samples(BEFORE_FROM_S))?;
    let before = median(travel_m.get(from..start - basis.samples(BEFORE_TO_S))?)?;
    let valleys: Vec<f32> = train.iter().skip(FEWEST_HITS - 1).map(|hit| hit.start_m).collect();
    Some(median(&valleys)? - before)
}

/// The first hit's valley is where the bike rode before.
fn slope(train: &[Hit]) -> Option<f64> {
    let (number, valley): (Vec<f64>, Vec<f64>) =
        train.iter().enumerate().skip(1).map(|(k, hit)| (k as f64, f64::from(hit.start_m))).unzip();
    theil_sen(&number, &valley)
}

fn over_trains(values: &[f64], fewest: usize) -> Measured {
    let Some(middle) = median(values) else {
        return Measured::not(NotMeasured::because(format!(
            "no train of {fewest} hits less than {APART_S} s apart, on the ground and without a brake onset"
        )));
    };
    let measured = Measured::value(middle).with_n(values.len());
    match median_interval(values) {
        Some(interval) => measured.with_interval(interval),
        None => measured,
    }
}
