//! How fast the bike goes, from whichever wheel runs free, and carried across where none does.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Unfit;
use super::contact::ranges_where;
use super::wheel::{SPIN_UP_S, WheelTrace, bridge, smooth};
use super::{Trace, Traces};
use crate::measured::NotMeasured;
use crate::role::{Axis, End, Place, Role};
use crate::signal::median;
use crate::unit::STANDARD_GRAVITY;

/// Forward acceleration carries a speed for this long at most, s.
const CARRY_S: f64 = 3.0;
/// Without forward acceleration a straight line carries it for this long at most, s: at 5 m/s^2 it is
/// off by 0.6 m/s in its middle.
const LINE_S: f64 = 1.0;
/// Both wheels are compared above this speed, m/s, ...
const COMPARED_MPS: f32 = 3.0;
/// ... if they ran free for as long as this in all, s.
const COMPARED_S: f64 = 2.0;

/// Where the bike's speed comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedSource {
    /// The front wheel; the rear wheel while only the front is braked, the faster while both are.
    FrontWheel,
    /// The rear wheel; carried across where it seems to lock.
    RearWheel,
    /// GPS.
    Gps,
}

/// Both wheels as far as they are measured, and which of them tells the bike's speed when.
pub struct Wheels<'a> {
    /// The front wheel.
    pub front: Option<WheelTrace<'a>>,
    /// The rear wheel.
    pub rear: Option<WheelTrace<'a>>,
    /// Median of rear over front speed where both ran free: tyres and pressures differ. 1 where unknown.
    pub rear_scale: f64,
    gps_mps: Option<&'a [f32]>,
    rate_hz: f64,
}

impl<'a> Wheels<'a> {
    /// Reads the wheels of a run. `force_mps2`: magnitude of the frame's specific force, if measured.
    pub fn read(traces: &'a Traces, unfit: &Unfit, force_mps2: Option<&[f32]>) -> Self {
        let [front, rear] =
            [End::Front, End::Rear].map(|end| WheelTrace::read(traces, unfit, force_mps2, end));
        let gps = Role::GroundSpeed;
        let gps_mps = if unfit.allows(gps) { traces.get(Trace::Logged(gps)) } else { None };
        let rate_hz = traces.grid().rate_hz;
        let rear_scale = rear_over_front(front.as_ref(), rear.as_ref(), rate_hz).unwrap_or(1.0);
        Self { front, rear, rear_scale, gps_mps, rate_hz }
    }

    /// The wheel of one end.
    pub fn wheel(&self, end: End) -> Option<&WheelTrace<'a>> {
        match end {
            End::Front => self.front.as_ref(),
            End::Rear => self.rear.as_ref(),
        }
    }

    /// What the speed of the wheel at one end has to be divided by.
    pub fn scale(&self, end: End) -> f64 {
        if end == End::Rear && self.front.is_some() { self.rear_scale } else { 1.0 }
    }

    /// Speed of the bike where a wheel ran free.
    ///
    /// # Errors
    /// No channel tells the speed.
    pub fn free_speed(&self) -> Result<FreeSpeed, NotMeasured> {
        let (mut speed, source) = match (&self.front, &self.rear, self.gps_mps) {
            (Some(front), Some(rear), _) => (self.freer(front, rear), SpeedSource::FrontWheel),
            (Some(wheel), None, _) => (alone(wheel, self.rate_hz), SpeedSource::FrontWheel),
            (None, Some(wheel), _) => (alone(wheel, self.rate_hz), SpeedSource::RearWheel),
            (None, None, Some(gps)) => (gps.to_vec(), SpeedSource::Gps),
            (None, None, None) => {
                return Err(NotMeasured::because("no wheel speed and no GPS speed is logged"));
            }
        };
        let holes = ranges_where(speed.len(), 1, |i| speed[i].is_nan());
        bridge(&mut speed);
        let speed_mps = smooth(&speed, self.rate_hz);
        let gps_mps = self.gps_mps.map(<[f32]>::to_vec);
        Ok(FreeSpeed { speed_mps, holes, gps_mps, source, rate_hz: self.rate_hz })
    }

    /// The front wheel where it is not braked, else the rear where that is not, else the faster; never one
    /// that locks. A front wheel whose brake is not measured counts as free, a rear wheel does not.
    fn freer(&self, front: &WheelTrace<'_>, rear: &WheelTrace<'_>) -> Vec<f32> {
        let scale = self.rear_scale as f32;
        let (slow_front, slow_rear) = (front.smooth_mps(self.rate_hz), rear.smooth_mps(self.rate_hz));
        let (dip_front, dip_rear) = (front.in_dip(), rear.in_dip());
        let braked = |wheel: &WheelTrace<'_>, i: usize| wheel.braked.as_ref().map(|braked| braked[i]);
        (0..front.speed_mps.len())
            .map(|i| {
                let (f, r) = (front.speed_mps[i], rear.speed_mps[i] / scale);
                let turns_front = !f.is_nan() && !dip_front[i];
                let turns_rear = !r.is_nan() && !dip_rear[i];
                // A braked wheel in the air tells nothing, nor does one that is pedalled there.
                let holds_front = turns_front && !front.off_ground[i];
                let holds_rear = turns_rear && !rear.off_ground[i];
                if turns_front && braked(front, i) != Some(true) {
                    f
                } else if holds_rear && braked(rear, i) == Some(false) {
                    r
                } else if holds_front && (!holds_rear || slow_front[i] >= slow_rear[i] / scale) {
                    f
                } else if holds_rear {
                    r
                } else {
                    f32::NAN
                }
            })
            .collect()
    }
}

/// A single wheel, missing where it locks, where it may be off the ground, and until it turns with it again.
fn alone(wheel: &WheelTrace<'_>, rate_hz: f64) -> Vec<f32> {
    let mut speed = wheel.speed_mps.to_vec();
    for air in ranges_where(speed.len(), 1, |i| wheel.off_ground[i]) {
        let end = (air.end + (SPIN_UP_S * rate_hz) as usize).min(speed.len());
        speed[air.start..end].fill(f32::NAN);
    }
    for dip in &wheel.dips {
        speed[dip.clone()].fill(f32::NAN);
    }
    speed
}

/// Median of rear over front speed where neither wheel is known to be braked, off the ground or locking.
fn rear_over_front(
    front: Option<&WheelTrace<'_>>,
    rear: Option<&WheelTrace<'_>>,
    rate_hz: f64,
) -> Option<f64> {
    let (front, rear) = (front?, rear?);
    let (slow_front, slow_rear) = (front.smooth_mps(rate_hz), rear.smooth_mps(rate_hz));
    let bound = |wheel: &WheelTrace<'_>| {
        let mut bound = wheel.in_dip();
        for (i, bound) in bound.iter_mut().enumerate() {
            *bound |= wheel.off_ground[i] || wheel.braked.as_ref().is_some_and(|braked| braked[i]);
        }
        bound
    };
    let (bound_front, bound_rear) = (bound(front), bound(rear));
    let ratios: Vec<f64> = (0..slow_front.len())
        .filter(|&i| !bound_front[i] && !bound_rear[i])
        .filter(|&i| slow_front[i].min(slow_rear[i]) > COMPARED_MPS)
        .map(|i| f64::from(slow_rear[i]) / f64::from(slow_front[i]))
        .collect();
    if (ratios.len() as f64) < COMPARED_S * rate_hz { None } else { median(&ratios) }
}

/// Speed of the bike where a wheel ran free, and where none did.
#[derive(Clone, Debug)]
pub struct FreeSpeed {
    /// Below 4 Hz, with straight lines across the holes.
    speed_mps: Vec<f32>,
    holes: Vec<Range<usize>>,
    gps_mps: Option<Vec<f32>>,
    /// Where it comes from.
    pub source: SpeedSource,
    rate_hz: f64,
}

impl FreeSpeed {
    /// What was measured, m/s; NaN where no wheel ran free.
    pub fn measured_mps(&self) -> Vec<f32> {
        let mut speed = self.speed_mps.clone();
        for hole in &self.holes {
            speed[hole.clone()].fill(f32::NAN);
        }
        speed
    }

    /// The same, carried across the holes.
    ///
    /// Forward acceleration with gravity taken out (`accel_mps2`, see [`forward_accel_mps2`]) carries the
    /// last trusted speed for 3 s at most; where a wheel is free again by then, what the sum missed by then
    /// is taken out evenly, since an offset of pitch or sensor grows so. Without acceleration a straight line
    /// joins both sides of holes up to 1 s. What is longer stays missing (NaN).
    pub fn carried_mps(&self, accel_mps2: Option<&[f32]>) -> Vec<f32> {
        let mut speed = self.measured_mps();
        let samples = |seconds: f64| (seconds * self.rate_hz) as usize;
        for hole in &self.holes {
            let Some(before) = hole.start.checked_sub(1) else { continue };
            let start = f64::from(speed[before]);
            let end = speed.get(hole.end).map(|v| f64::from(*v));
            let gained = accel_mps2.and_then(|accel| {
                let reach = hole.start..hole.end.min(hole.start + samples(CARRY_S));
                gained_mps(&accel[before..(reach.end + 1).min(accel.len())], self.rate_hz)
            });
            match (gained, end) {
                (Some(gained), end) => {
                    // `gained` has one value per sample from `before` on.
                    let steps = hole.len() + 1;
                    let missed = match (end, gained.get(steps)) {
                        (Some(end), Some(gained)) => end - start - gained,
                        _ => 0.0,
                    };
                    for (k, i) in hole.clone().enumerate().take(samples(CARRY_S)) {
                        let Some(gained) = gained.get(k + 1) else { break };
                        let carried = start + gained + missed * (k + 1) as f64 / steps as f64;
                        speed[i] = carried.max(0.0) as f32;
                    }
                }
                (None, Some(_)) if hole.len() <= samples(LINE_S) => {
                    speed[hole.clone()].copy_from_slice(&self.speed_mps[hole.clone()]);
                }
                _ => {}
            }
        }
        speed
    }

    /// `carried_mps` with GPS speed where nothing else is known. Slip may not be read from it.
    pub fn with_gps(&self, carried_mps: &[f32]) -> Vec<f32> {
        let Some(gps) = &self.gps_mps else { return carried_mps.to_vec() };
        carried_mps.iter().zip(gps).map(|(v, gps)| if v.is_nan() { *gps } else { *v }).collect()
    }
}

/// Integral of acceleration from its first sample on, by the trapezoidal rule; `None` where a sample is
/// missing.
fn gained_mps(accel_mps2: &[f32], rate_hz: f64) -> Option<Vec<f64>> {
    if accel_mps2.iter().any(|a| a.is_nan()) {
        return None;
    }
    let mut sum = 0.0;
    let steps = accel_mps2.windows(2).map(|pair| {
        sum += 0.5 * (f64::from(pair[0]) + f64::from(pair[1])) / rate_hz;
        sum
    });
    Some(std::iter::once(0.0).chain(steps).collect())
}

/// Acceleration along the frame's x axis with gravity taken out, m/s^2: specific force on x plus
/// g sin(pitch), pitch + nose down.
pub fn forward_accel_mps2(traces: &Traces) -> Option<Vec<f32>> {
    let force = traces.get(Trace::Logged(Role::Accel(Place::Frame, Axis::X)))?;
    let pitch = traces.get(Trace::Pitch)?;
    let forward = |(f, pitch): (&f32, &f32)| f + STANDARD_GRAVITY as f32 * pitch.sin();
    Some(force.iter().zip(pitch).map(forward).collect())
}

/// Distance from the start of the grid, m: the integral of speed; nothing is added where it is missing.
pub fn distance_m(speed_mps: &[f32], rate_hz: f64) -> Vec<f64> {
    speed_mps
        .iter()
        .scan(0.0, |sum, &v| {
            *sum += if v.is_nan() { 0.0 } else { f64::from(v) / rate_hz };
            Some(*sum)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 200.0;

    fn free(speed: impl Fn(f64) -> f64, hole_s: Range<f64>) -> FreeSpeed {
        let mut speed_mps: Vec<f32> = (0..2000).map(|i| speed(f64::from(i) / RATE_HZ) as f32).collect();
        let hole = (hole_s.start * RATE_HZ) as usize..(hole_s.end * RATE_HZ) as usize;
        speed_mps[hole.clone()].fill(f32::NAN);
        bridge(&mut speed_mps);
        let source = SpeedSource::RearWheel;
        FreeSpeed { speed_mps, holes: vec![hole], gps_mps: None, source, rate_hz: RATE_HZ }
    }

    /// v(t) = 10 - sin(2 t): acceleration -2 cos(2 t), by hand.
    fn course(t: f64) -> f64 {
        10.0 - (2.0 * t).sin()
    }

    fn accel(offset_mps2: f64) -> Vec<f32> {
        (0..2000).map(|i| (offset_mps2 - 2.0 * (2.0 * f64::from(i) / RATE_HZ).cos()) as f32).collect()
    }

    fn worst(found: &[f32], from_s: f64, to_s: f64) -> f64 {
        ((from_s * RATE_HZ) as usize..(to_s * RATE_HZ) as usize)
            .map(|i| (f64::from(found[i]) - course(i as f64 / RATE_HZ)).abs())
            .fold(0.0, f64::max)
    }

    /// Source: the exact integral of the acceleration.
    #[test]
    fn carried_speed_is_the_integral_of_acceleration() {
        let carried = free(course, 4.0..6.5).carried_mps(Some(&accel(0.0)));
        assert!(worst(&carried, 3.0, 8.0) < 1e-4, "{}", worst(&carried, 3.0, 8.0));
        // An offset, as of a degree of pitch, is taken out by the free wheel after it.
        let carried = free(course, 4.0..6.5).carried_mps(Some(&accel(0.17)));
        assert!(worst(&carried, 3.0, 8.0) < 1e-4);
    }

    #[test]
    fn speed_is_carried_for_three_seconds_and_no_longer() {
        let carried = free(course, 4.0..8.0).carried_mps(Some(&accel(0.1)));
        // Nothing free is reached by then: 0.1 m/s^2 stays in, 0.3 m/s after 3 s.
        assert!(worst(&carried, 4.0, 6.99) < 0.301);
        assert!(carried[(7.01 * RATE_HZ) as usize].is_nan());
        assert!(!carried[(8.01 * RATE_HZ) as usize].is_nan());
        // To the end of the log.
        let carried = free(course, 9.0..10.0).carried_mps(Some(&accel(0.0)));
        assert!(worst(&carried, 9.0, 9.99) < 1e-3);
    }

    #[test]
    fn without_acceleration_a_line_bridges_a_second() {
        let carried = free(course, 4.0..4.8).carried_mps(None);
        let half_way = (course(4.0 - 0.005) + course(4.8)) / 2.0;
        assert!((f64::from(carried[880]) - half_way).abs() < 0.01, "{}", carried[880]);
        assert!(free(course, 4.0..5.5).carried_mps(None)[900].is_nan());
        // A missing sample of acceleration breaks the sum.
        let mut broken = accel(0.0);
        broken[900] = f32::NAN;
        assert!(free(course, 4.0..5.5).carried_mps(Some(&broken))[900].is_nan());
    }
}
