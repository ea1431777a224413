//! How fast an end comes back from a hit, and whether it comes back too far.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::contact::EXTENDED_M;
use super::hits::strong_hits;
use super::recovery::Return;
use super::travel::{PEAK_SPEED_RATE_HZ, top_outs};
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};
use crate::signal::{median, median_interval, theil_sen_interval};

/// A slope through fewer hits says nothing (own default).
const FEWEST_HITS: usize = 8;
/// A top-out this soon after the deepest point of a hit belongs to it, s (own default).
const EARLY_S: f64 = 0.3;
/// An end that has not turned by then after it was back has nothing to do with the hit any more, s (own default).
const OVERSHOOT_S: f64 = 0.5;

/// Rebound of one end over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReboundReadout {
    /// Robust slope (Theil-Sen) of the peak rebound speed after a hit against its depth past ride height,
    /// 1/s: falls as rebound damping rises. Compare it on like ground at like speed.
    pub rebound_rate_per_s: Measured,
    /// Median of how far the end goes past ride height towards full extension after it was back, m.
    pub overshoot_p50_m: Measured,
    /// How often full extension was reached at more than 0.2 m/s within 0.3 s of the deepest point of a
    /// strong hit, take-offs left out where flights are known; `n` hits.
    pub early_top_outs: Measured<usize>,
}

impl ReboundReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        Self {
            rebound_rate_per_s: Measured::not(reason.clone()),
            overshoot_p50_m: Measured::not(reason.clone()),
            early_top_outs: Measured::not(reason.clone()),
        }
    }

    /// Reads the rebounds of one end in a stretch. `returns`: its hits, see [`super::recovery::returns`].
    pub fn of(basis: &Basis<'_>, end: End, range: &Range<usize>, returns: &[Return]) -> Self {
        Self {
            rebound_rate_per_s: rebound_rate(basis, end, returns).unwrap_or_else(Measured::not),
            overshoot_p50_m: overshoot(basis, end, returns).unwrap_or_else(Measured::not),
            early_top_outs: early_top_outs(basis, end, range).unwrap_or_else(Measured::not),
        }
    }
}

fn rebound_rate(basis: &Basis<'_>, end: End, returns: &[Return]) -> Result<Measured, NotMeasured> {
    basis.needs_rate(Role::Travel(end), PEAK_SPEED_RATE_HZ, "peak rebound speeds need")?;
    let speed_mps = basis.axle_speed_mps(end)?;
    let (depth_m, peak_mps): (Vec<f64>, Vec<f64>) = returns
        .iter()
        .filter_map(|hit| {
            let slowest = speed_mps[hit.way_back.clone()].iter().copied().fold(f32::NAN, f32::min);
            (slowest < 0.0).then_some((hit.depth_m, -f64::from(slowest)))
        })
        .unzip();
    let n = depth_m.len();
    let too_few = || {
        NotMeasured::because(format!(
            "{n} hits went a tenth of travel past ride height here; the rebound rate needs {FEWEST_HITS}"
        ))
    };
    if n < FEWEST_HITS {
        return Err(too_few());
    }
    let (slope, interval) = theil_sen_interval(&depth_m, &peak_mps).ok_or_else(too_few)?;
    Ok(Measured::value(slope).with_n(n).with_interval(interval))
}

fn overshoot(basis: &Basis<'_>, end: End, returns: &[Return]) -> Result<Measured, NotMeasured> {
    let travel_m = basis.travel_m(end)?;
    let past: Vec<f64> = returns
        .iter()
        .filter_map(|hit| {
            let from = hit.back(basis.rate_hz())?;
            let until = hit.way_back.end.min(from + basis.samples(OVERSHOOT_S));
            let after = from.min(until)..until;
            if after.is_empty() || after.clone().any(|i| !basis.grounded[i]) {
                return None;
            }
            let shallowest = travel_m[after].iter().copied().fold(f32::NAN, f32::min);
            let ride_height_m = f64::from(hit.hit.deepest_m) - hit.depth_m;
            Some((ride_height_m - f64::from(shallowest)).max(0.0))
        })
        .collect();
    let middle = median(&past).filter(|_| past.len() >= FEWEST_HITS).ok_or_else(|| {
        NotMeasured::because(format!(
            "{} hits came back to ride height on the ground here; overshoot needs {FEWEST_HITS}",
            past.len()
        ))
    })?;
    let measured = Measured::value(middle).with_n(past.len());
    Ok(match median_interval(&past) {
        Some(interval) => measured.with_interval(interval),
        None => measured,
    })
}

fn early_top_outs(basis: &Basis<'_>, end: End, range: &Range<usize>) -> Result<Measured<usize>, NotMeasured> {
    basis.needs_rate(Role::Travel(end), PEAK_SPEED_RATE_HZ, "speeds at full extension need")?;
    let (travel_m, speed_mps) = (basis.placed_travel_m(end)?, basis.axle_speed_mps(end)?);
    let deepest: Vec<usize> = strong_hits(travel_m, basis.bike.travel_m(end))
        .iter()
        .map(|hit| hit.deepest)
        .filter(|deepest| range.contains(deepest) && basis.rolling[*deepest])
        .collect();
    let soon = basis.samples(EARLY_S);
    let flights = basis.flights.as_deref().unwrap_or_default();
    let takes_off = |at: usize| {
        let extended = travel_m[at..].iter().position(|t| *t > EXTENDED_M || t.is_nan());
        let until = extended.map_or(travel_m.len(), |n| at + n);
        flights.iter().any(|flight| flight.start < until && flight.end > at)
    };
    let early = top_outs(travel_m, speed_mps)
        .into_iter()
        .filter(|at| {
            let before = deepest.partition_point(|deepest| deepest <= at);
            before > 0 && at - deepest[before - 1] <= soon && !takes_off(*at)
        })
        .count();
    Ok(Measured::value(early).with_n(deepest.len()))
}
