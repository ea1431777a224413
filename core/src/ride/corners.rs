//! Where the bike turns, and how it is loaded there.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::brakes::Brakes;
use super::contact::ranges_where;
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::Sos;

/// Turning faster than this is a corner, rad/s (15 deg/s).
const TURNING_RADPS: f32 = 15.0 * std::f32::consts::PI / 180.0;
/// Shorter is no corner, s.
const SHORTEST_S: f64 = 0.5;
/// Steering about the line is faster than this, corners are slower, Hz (common practice).
const BAND_HZ: f64 = 1.0;
/// A corner goes on over a shorter moment of straighter riding, s.
const PAUSE_S: f64 = 0.3;
/// Missing attitude up to this long does not end a corner, s.
const BRIDGE_S: f64 = 0.1;

/// One corner: turning by more than 15 deg/s below 1 Hz, one way, for 0.5 s or more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Corner {
    /// Entry on the run's clock, s.
    pub start_s: f64,
    /// Apex: where lean into the corner is largest, s.
    pub apex_s: f64,
    /// Exit, s.
    pub end_s: f64,
    /// Change of heading, rad, + left.
    pub turn_rad: f64,
    /// Lean at the apex, rad, + right.
    pub lean_max_rad: f64,
    /// Speed at entry, m/s.
    pub entry_speed_mps: Measured,
    /// Speed at the apex, m/s.
    pub apex_speed_mps: Measured,
    /// Speed at exit, m/s.
    pub exit_speed_mps: Measured,
    /// Fork and front brake.
    pub front: CornerEnd,
    /// Shock and rear brake.
    pub rear: CornerEnd,
}

/// One end in one corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CornerEnd {
    /// Mean travel from entry to exit, m.
    pub travel_m: Measured,
    /// The same as a share of full travel.
    pub travel_share: Measured,
    /// Mean brake pressure from entry to exit, Pa.
    pub brake_pa: Measured,
    /// Share of the time with this brake on.
    pub brake_on_share: Measured,
    /// How long this brake is dragged, s.
    pub drag_s: Measured,
}

/// Every corner of a run.
pub struct Corners(Result<Vec<Corner>, NotMeasured>);

impl Corners {
    /// Finds the corners of a run.
    pub fn new(basis: &Basis<'_>, brakes: &Brakes<'_>) -> Self {
        Self(corners(basis, brakes))
    }

    /// The corners that begin in a section, `start_s <= t < end_s`.
    pub fn read(&self, span_s: Range<f64>) -> Result<Vec<Corner>, NotMeasured> {
        let corners = self.0.as_ref().map_err(Clone::clone)?;
        Ok(corners.iter().filter(|corner| span_s.contains(&corner.start_s)).cloned().collect())
    }
}

fn corners(basis: &Basis<'_>, brakes: &Brakes<'_>) -> Result<Vec<Corner>, NotMeasured> {
    let yaw_rate = bridged(basis.yaw_rate_radps()?, basis.samples(BRIDGE_S));
    let lean = basis.roll_rad()?;
    let smooth = Sos::low_pass(4, BAND_HZ, basis.rate_hz())
        .map_err(|_| NotMeasured::because("turning is logged too slowly to find corners"))?
        .zero_phase_stretches(&yaw_rate);
    Ok(turns(&smooth, &basis.rolling, basis.samples(PAUSE_S), basis.samples(SHORTEST_S))
        .into_iter()
        .filter_map(|range| corner(basis, brakes, range, &yaw_rate, lean))
        .collect())
}

/// Ranges of at least `shortest` samples that turn one way, with pauses of at most `pause`.
fn turns(yaw_rate_radps: &[f32], rolling: &[bool], pause: usize, shortest: usize) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for sign in [1.0, -1.0] {
        let mut turns: Vec<Range<usize>> = Vec::new();
        for piece in
            ranges_where(yaw_rate_radps.len(), 1, |i| rolling[i] && sign * yaw_rate_radps[i] > TURNING_RADPS)
        {
            match turns.last_mut() {
                Some(last) if piece.start - last.end <= pause => last.end = piece.end,
                _ => turns.push(piece),
            }
        }
        found.extend(turns.into_iter().filter(|turn| turn.len() >= shortest));
    }
    found.sort_by_key(|turn| turn.start);
    found
}

fn corner(
    basis: &Basis<'_>,
    brakes: &Brakes<'_>,
    range: Range<usize>,
    yaw_rate: &[f32],
    lean: &[f32],
) -> Option<Corner> {
    let known = range.clone().map(|i| f64::from(yaw_rate[i])).filter(|rate| !rate.is_nan());
    let turn_rad = known.sum::<f64>() / basis.rate_hz();
    // Leaning right is positive, turning left is.
    let into = |i: usize| -f64::from(lean[i]) * turn_rad.signum();
    let known = range.clone().filter(|&i| !lean[i].is_nan());
    let apex = known.max_by(|&a, &b| into(a).total_cmp(&into(b)))?;
    let speed_at = |i: usize| {
        basis.scaled_speed_mps().and_then(|speed| known_or(speed[i], "speed is missing there")).into()
    };
    Some(Corner {
        start_s: basis.time_s(range.start),
        apex_s: basis.time_s(apex),
        end_s: basis.time_s(range.end),
        turn_rad,
        lean_max_rad: f64::from(lean[apex]),
        entry_speed_mps: speed_at(range.start),
        apex_speed_mps: speed_at(apex),
        exit_speed_mps: speed_at(range.end - 1),
        front: corner_end(basis, brakes, End::Front, &range),
        rear: corner_end(basis, brakes, End::Rear, &range),
    })
}

fn corner_end(basis: &Basis<'_>, brakes: &Brakes<'_>, end: End, range: &Range<usize>) -> CornerEnd {
    let travel = basis.placed_travel_m(end).and_then(|travel| mean(&travel[range.clone()]));
    let pressure = basis.brake_pa(end).and_then(|pressure| mean(&pressure[range.clone()]));
    let on = pressure.clone().and_then(|_| {
        let overlap = |on: &Range<usize>| on.end.min(range.end).saturating_sub(on.start.max(range.start));
        let samples: usize = basis.applications(end)?.iter().map(|on| overlap(&on.range)).sum();
        Ok(samples as f64 / range.len() as f64)
    });
    CornerEnd {
        travel_share: travel.clone().map(|travel_m| travel_m / basis.bike.travel_m(end)).into(),
        travel_m: travel.into(),
        brake_pa: pressure.into(),
        brake_on_share: on.into(),
        drag_s: brakes.drag_s(end, range).into(),
    }
}

fn known_or(value: f32, reason: &str) -> Result<f64, NotMeasured> {
    if value.is_nan() { Err(NotMeasured::because(reason)) } else { Ok(f64::from(value)) }
}

fn mean(samples: &[f32]) -> Result<f64, NotMeasured> {
    let (n, sum) =
        samples.iter().filter(|v| !v.is_nan()).fold((0, 0.0), |(n, sum), v| (n + 1, sum + f64::from(*v)));
    // With half of it missing the mean may be that of another part of the corner.
    if 2 * n > samples.len() {
        Ok(sum / f64::from(n as u32))
    } else {
        Err(NotMeasured::because("half of it is missing in this corner"))
    }
}

/// Straight lines over missing stretches of at most `longest` samples between known ones.
fn bridged(samples: &[f32], longest: usize) -> Vec<f32> {
    let mut out = samples.to_vec();
    let missing = ranges_where(samples.len(), 1, |i| samples[i].is_nan());
    for gap in missing.into_iter().filter(|gap| gap.len() <= longest) {
        let (Some(before), Some(&after)) =
            (gap.start.checked_sub(1).map(|i| samples[i]), samples.get(gap.end))
        else {
            continue;
        };
        let steps = (gap.len() + 1) as f32;
        for (k, i) in gap.enumerate() {
            out[i] = before + (after - before) * (k + 1) as f32 / steps;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_last_and_keep_to_one_side() {
        let mut rate = vec![0.0; 1000];
        rate[100..200].fill(0.5);
        rate[150..160].fill(0.2); // a pause
        rate[300..340].fill(-0.5); // short
        rate[500..560].fill(-0.3);
        rate[560..700].fill(0.3);
        let rolls = vec![true; 1000];
        assert_eq!(turns(&rate, &rolls, 30, 50), [100..200, 500..560, 560..700]);
        assert_eq!(turns(&rate, &[false; 1000], 30, 50), []);
        // 14 deg/s are no corner.
        assert_eq!(turns(&[0.244; 100], &rolls, 30, 50), []);
    }

    #[test]
    fn short_gaps_are_bridged_and_long_ones_stay() {
        let nan = f32::NAN;
        let out = bridged(&[nan, 1.0, nan, nan, 4.0, nan, nan, nan, 0.0, nan], 2);
        assert_eq!(out[1..5], [1.0, 2.0, 3.0, 4.0]);
        assert!([0, 5, 6, 7, 9].iter().all(|i| out[*i].is_nan()));
    }
}
