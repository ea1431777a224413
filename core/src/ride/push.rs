//! The rider's push: the fork compressed by the arms, not by the ground and not by the brake.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::BAND_ORDER;
use super::basis::Basis;
use crate::measured::NotMeasured;
use crate::role::{Axis, End, Place, Role};
use crate::signal::{Sos, strokes};

/// Arms push no faster than this; travel and acceleration beyond it are the ground's, Hz.
const BAND_HZ: f64 = 5.0;
/// The brake must be logged this fast, Hz.
const NEEDED_HZ: f64 = 17.0;
/// Accelerations must be logged this fast, Hz: slower, vibration is folded back below 5 Hz.
const ACCELERATION_NEEDED_HZ: f64 = 100.0;
/// Slower acceleration is the lie of the bike, Hz.
const STEADY_HZ: f64 = 0.5;
/// A smaller compression is no push, m (common practice).
const SMALLEST_M: f64 = 0.010;
/// How long a push takes, s (common practice).
const LENGTH_S: std::ops::RangeInclusive<f64> = 0.15..=0.6;
/// A stroke ends when travel comes back by this, m.
const TURN_M: f32 = 0.003;
/// It is timed from where this share of it is done to where this share is left (IEEE 181's 10 % and 90 %),
/// because a stroke out of rest has no sharp beginning...
const EDGE_SHARE: f32 = 0.1;
/// ...and this much of it lies in between.
const TIMED_SHARE: f64 = 0.8;
/// Over ground that moves the fork faster than 5 Hz by more than this share of the stroke (RMS), a push
/// cannot be told from a bump (model: a run without a push then shows 2, else 17).
const ROUGH_SHARE: f64 = 0.1;
/// The ground is looked at from this long before to this long after, s.
const GROUND_S: f64 = 0.2;
/// A brake works on the fork for this long after it has gone off, s.
const AFTER_BRAKE_S: f64 = 0.3;
/// A landing works on it for this long, s.
const AFTER_FLIGHT_S: f64 = 0.3;

/// One push.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Push {
    /// Its start on the run's clock, s.
    pub start_s: f64,
    /// How long it took, s: 10 % to 90 % of its stroke, drawn out to the whole.
    pub length_s: f64,
    /// How far it compressed the fork, m.
    pub size_m: f64,
}

/// The pushes of one run, each with the sample at which it begins.
///
/// A push is a compression of the fork by 10 mm or more that takes 0.15-0.6 s (below 5 Hz), with the brakes
/// off and the wheels on the ground, in whose first half the frame, and the bar where its sensor is fitted,
/// go down: their vertical acceleration (0.5-5 Hz) is negative on the mean. A bump compresses the fork too,
/// but lifts them. Pushes over rough ground are not counted, since there they look like bumps.
///
/// # Errors
/// Without front travel, the front brake, or a vertical acceleration of frame or bar; or where one of them
/// is logged too slowly.
pub fn pushes(basis: &Basis<'_>) -> Result<Vec<(usize, Push)>, NotMeasured> {
    let whole = basis.sharp_travel_m(End::Front)?;
    basis.logged(Role::Brake(End::Front))?;
    basis.needs_rate(Role::Brake(End::Front), NEEDED_HZ, "the rider's push needs")?;
    let too_slow = |_| NotMeasured::because("travel is logged too slowly for the rider's push");
    let band = Sos::low_pass(BAND_ORDER, BAND_HZ, basis.rate_hz()).map_err(too_slow)?;
    let travel = band.zero_phase_stretches(whole);
    let up = vertical(basis)?;
    Ok(strokes(&travel, TURN_M)
        .into_iter()
        .filter_map(|stroke| {
            let size_m = f64::from(travel[stroke.to]) - f64::from(travel[stroke.from]);
            if size_m < SMALLEST_M {
                return None;
            }
            let range = between_edges(&travel, stroke.from, stroke.to)?;
            let length_s = range.len() as f64 / basis.rate_hz() / TIMED_SHARE;
            let first_half = range.start..range.start.midpoint(range.end) + 1;
            let goes_down = up.iter().all(|up| up[first_half.clone()].iter().sum::<f32>() < 0.0);
            let around = basis.samples(GROUND_S);
            let ground = range.start.saturating_sub(around)..(range.end + around).min(travel.len());
            let is_push = LENGTH_S.contains(&length_s)
                && goes_down
                && rms_apart(&whole[ground.clone()], &travel[ground]) <= ROUGH_SHARE * size_m
                && left_alone(basis, &range);
            is_push.then(|| (range.start, Push { start_s: basis.time_s(range.start), length_s, size_m }))
        })
        .collect())
}

/// Vertical acceleration of frame and bar, whichever are fitted, 0.5-5 Hz.
fn vertical(basis: &Basis<'_>) -> Result<Vec<Vec<f32>>, NotMeasured> {
    let band = Sos::band_pass(BAND_ORDER, STEADY_HZ, BAND_HZ, basis.rate_hz())
        .map_err(|_| NotMeasured::because("acceleration is logged too slowly for the rider's push"))?;
    let mut found = Vec::new();
    for role in [Place::Frame, Place::Bar].map(|place| Role::Accel(place, Axis::Z)) {
        if basis.native_rate_hz(role).is_some() {
            basis.needs_rate(role, ACCELERATION_NEEDED_HZ, "the rider's push needs")?;
            found.push(band.zero_phase_stretches(basis.logged(role)?));
        }
    }
    if found.is_empty() {
        return Err(NotMeasured::because(
            "no vertical acceleration of frame or bar is logged, without which a push looks like a bump",
        ));
    }
    Ok(found)
}

/// RMS difference of two signals where both are measured.
fn rms_apart(a: &[f32], b: &[f32]) -> f64 {
    let squares = a.iter().zip(b).map(|(a, b)| (f64::from(*a) - f64::from(*b)).powi(2));
    let finite: Vec<f64> = squares.filter(|square| !square.is_nan()).collect();
    (finite.iter().sum::<f64>() / finite.len().max(1) as f64).sqrt()
}

/// The part of a stroke upward from its first to its last tenth.
fn between_edges(travel_m: &[f32], from: usize, to: usize) -> Option<Range<usize>> {
    let edge = EDGE_SHARE * (travel_m[to] - travel_m[from]);
    let begun = (from..=to).rev().find(|&i| travel_m[i] <= travel_m[from] + edge)?;
    let over = (begun..=to).find(|&i| travel_m[i] >= travel_m[to] - edge)?;
    Some(begun..over)
}

/// Whether neither a brake nor a landing has a part in it.
fn left_alone(basis: &Basis<'_>, range: &Range<usize>) -> bool {
    let apart = |other: &Range<usize>, after_s: f64| {
        other.start >= range.end || other.end + basis.samples(after_s) <= range.start
    };
    // A rear brake that is not logged is taken as off: it presses on the fork far less than the front one.
    let braked = [End::Front, End::Rear]
        .iter()
        .filter_map(|end| basis.applications(*end).ok())
        .flatten()
        .any(|on| !apart(&on.range, AFTER_BRAKE_S));
    let flights = basis.flights.as_deref().unwrap_or_default();
    !braked && flights.iter().all(|flight| apart(flight, AFTER_FLIGHT_S))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stroke_out_of_rest_begins_where_it_moves() {
        // At rest for 50 samples, up by 20 in 20 steps, at rest: the first and last tenth are 2 steps each.
        let travel: Vec<f32> = (0..100).map(|i| (i as f32 - 50.0).clamp(0.0, 20.0)).collect();
        assert_eq!(between_edges(&travel, 3, 80), Some(52..68));
    }
}
