//! One wheel of a run: its speed, when it is braked, off the ground, or stopped faster than a bike can.

use std::collections::VecDeque;
use std::ops::Range;

use super::Traces;
use super::basis::Unfit;
use super::brakes::applications;
use super::contact::{EXTENDED_M, airborne, falling, ranges_where};
use crate::role::{End, Role};
use crate::signal::Sos;

/// Longest wait between two readings of a wheel that still tells how it stops, s.
pub const READING_S: f64 = 0.03;
/// An end extended for this long may have its wheel off the ground, s.
const UNWEIGHTED_S: f64 = 0.04;
/// A wheel that fell or rose by this share ...
const FALL_SHARE: f32 = 0.4;
/// ... within this time did so without the bike, s: that would be 1.4 g at 5 m/s.
const FALL_S: f64 = 0.15;
/// Slower than this nothing is told by a fall, m/s.
pub const SLIP_SPEED_MPS: f32 = 2.0;
/// A wheel that spins back turns at least so fast, m/s.
const BACK_MPS: f32 = 1.0;
/// The longest dip that is looked for, s.
const DIP_MAX_S: f64 = 3.0;
/// A bike gains no more than this, m/s^2: gravity on a 55 deg slope.
const GAIN_MAX_MPS2: f32 = 8.0;
/// A wheel that has spun back settles within this time, s.
const SETTLE_S: f64 = 0.05;
/// Falls are looked for in a running mean over this time, s: pulses and bumps are faster.
const MEAN_S: f64 = 0.03;
/// Dips nearer to each other than this are one: in between the wheel never ran free, s.
const BETWEEN_DIPS_S: f64 = 0.15;
/// A wheel spins up for this long once its brake is released or it touches down, s.
pub const SPIN_UP_S: f64 = 0.1;
/// Faster changes of speed than this are pulses and bumps, not the bike, Hz.
const SPEED_BAND_HZ: f64 = 4.0;

/// One wheel on the run's grid.
#[derive(Clone, Debug)]
pub struct WheelTrace<'a> {
    /// Its speed at the tread, m/s.
    pub speed_mps: &'a [f32],
    /// Way from one pulse to the next, m; 0 where its speed is logged as such.
    pub pulse_m: f64,
    /// Step of its own readings, s.
    pub step_s: f64,
    /// Its brake is on, or was less than 0.1 s ago; `None` where pressure is not measured.
    pub braked: Option<Vec<bool>>,
    /// It may be off the ground: its end is extended for 40 ms, or the bike flies or falls, extended or not.
    pub off_ground: Vec<bool>,
    /// Where it fell by 40 % within 0.15 s and later spun back as fast.
    pub dips: Vec<Range<usize>>,
}

impl<'a> WheelTrace<'a> {
    /// The wheel of one end, or `None` where its speed is not logged or may not be used.
    pub fn read(traces: &'a Traces, unfit: &Unfit, force_mps2: Option<&[f32]>, end: End) -> Option<Self> {
        let fit = |role| if unfit.allows(role) { traces.logged().get(role) } else { None };
        let channel = fit(Role::WheelSpeed(end))?;
        let rate_hz = traces.grid().rate_hz;
        let travel = |end| fit(Role::Travel(end)).map(|channel| channel.samples.as_slice());
        let flights = match (travel(End::Front), travel(End::Rear)) {
            (Some(front), Some(rear)) => airborne(front, rear, force_mps2, rate_hz),
            _ => Vec::new(),
        };
        let weightless = force_mps2.map(|force| falling(force, rate_hz)).unwrap_or_default();
        let unweighted = travel(end)
            .map(|travel| {
                let shortest = (UNWEIGHTED_S * rate_hz).round() as usize;
                ranges_where(travel.len(), shortest, |i| travel[i] <= EXTENDED_M)
            })
            .unwrap_or_default();
        let len = traces.grid().len;
        let off_ground = mask(flights.into_iter().chain(weightless).chain(unweighted), len);
        let pulse_m = channel.pulse_m.unwrap_or(0.0);
        let step_s = 1.0 / channel.native_rate_hz;
        Some(Self {
            speed_mps: &channel.samples,
            pulse_m,
            step_s,
            braked: fit(Role::Brake(end)).map(|brake| {
                let spin_up = (SPIN_UP_S * rate_hz) as usize;
                let on = applications(&brake.samples, rate_hz).into_iter().map(|on| on.range);
                mask(on.map(|on| on.start..on.end + spin_up), len)
            }),
            dips: dips(&not_pedalled(&channel.samples, &off_ground), rate_hz, |v| {
                step_s.max(pulse_m / v) <= READING_S
            }),
            off_ground,
        })
    }

    /// Time from one reading of the wheel to the next at a speed of the bike, s.
    pub fn reading_s(&self, bike_mps: f64) -> f64 {
        self.step_s.max(self.pulse_m / bike_mps)
    }

    /// Speed below 4 Hz with straight lines across dips and missing samples, NaN before the first and
    /// after the last sample.
    pub fn smooth_mps(&self, rate_hz: f64) -> Vec<f32> {
        let mut bridged = self.speed_mps.to_vec();
        for dip in &self.dips {
            bridged[dip.clone()].fill(f32::NAN);
        }
        bridge(&mut bridged);
        smooth(&bridged, rate_hz)
    }

    /// By sample: it is in a dip.
    pub fn in_dip(&self) -> Vec<bool> {
        mask(self.dips.iter().cloned(), self.speed_mps.len())
    }
}

/// Speed with what pedals add in the air taken off: there a wheel is no faster than when it left the ground.
fn not_pedalled(speed_mps: &[f32], off_ground: &[bool]) -> Vec<f32> {
    let mut on_ground = f32::INFINITY;
    speed_mps
        .iter()
        .zip(off_ground)
        .map(|(&v, &off_ground)| {
            if !off_ground && !v.is_nan() {
                on_ground = v;
            }
            // A missing sample stays missing.
            if v > on_ground { on_ground } else { v }
        })
        .collect()
}

/// By sample: whether one of the ranges, which may reach beyond the end, has it.
pub fn mask(ranges: impl Iterator<Item = Range<usize>>, len: usize) -> Vec<bool> {
    let mut inside = vec![false; len];
    for range in ranges {
        inside[range.start.min(len)..range.end.min(len)].fill(true);
    }
    inside
}

/// Speed below 4 Hz without delay, never below zero.
pub fn smooth(speed_mps: &[f32], rate_hz: f64) -> Vec<f32> {
    let smooth = match Sos::low_pass(2, SPEED_BAND_HZ, rate_hz) {
        Ok(filter) => filter.zero_phase_stretches(speed_mps),
        // A grid too slow for the band has nothing to smooth.
        Err(_) => speed_mps.to_vec(),
    };
    // Smoothing may swing below zero where the wheel stops.
    smooth.into_iter().map(|v| if v < 0.0 { 0.0 } else { v }).collect()
}

/// Puts straight lines where samples between two others are missing.
pub fn bridge(samples: &mut [f32]) {
    let missing = ranges_where(samples.len(), 1, |i| samples[i].is_nan());
    for hole in missing {
        let (Some(before), Some(&after)) = (hole.start.checked_sub(1), samples.get(hole.end)) else {
            continue;
        };
        let (start, steps) = (samples[before], (hole.len() + 1) as f32);
        for (k, i) in hole.enumerate() {
            samples[i] = start + (after - start) * (k + 1) as f32 / steps;
        }
    }
}

/// Where a wheel fell by 40 % within 0.15 s from 2 m/s or more and spun back as fast within 3 s, which no
/// bike does. `told` says whether readings come often enough at a speed.
fn dips(speed_mps: &[f32], rate_hz: f64, told: impl Fn(f64) -> bool) -> Vec<Range<usize>> {
    let samples = |seconds: f64| (seconds * rate_hz).round().max(1.0) as usize;
    let (window, settle, longest) = (samples(FALL_S), samples(SETTLE_S), samples(DIP_MAX_S));
    let speed = running_mean(speed_mps, samples(MEAN_S));
    let kept = 1.0 - FALL_SHARE;
    let tops = highest_before(&speed, window);
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut i = window;
    while i < speed.len() {
        let before = i - window;
        let top = tops[i];
        // Also false where a sample is missing.
        let fell = speed[i] < kept * top && top > SLIP_SPEED_MPS && told(f64::from(top));
        let back = if fell { spun_back(&speed, i, window, longest) } else { None };
        let Some(back) = back else {
            i += 1;
            continue;
        };
        let start = (before..i).rev().find(|&k| speed[k] >= 0.95 * top).unwrap_or(before);
        let end = settled(&speed, back, settle, rate_hz);
        match found.last_mut() {
            Some(last) if start < last.end + samples(BETWEEN_DIPS_S) => last.end = end,
            _ => found.push(start..end),
        }
        i = end.max(i) + 1;
    }
    found
}

/// The highest of the `window` samples before each, `NaN` where all are missing. Linear time: a sample that a later
/// and higher one has overtaken is never looked at again.
fn highest_before(samples: &[f32], window: usize) -> Vec<f32> {
    let mut candidates: VecDeque<usize> = VecDeque::new();
    (0..samples.len())
        .map(|i| {
            if candidates.front().is_some_and(|&k| k + window < i) {
                candidates.pop_front();
            }
            let highest = candidates.front().map_or(f32::NAN, |&k| samples[k]);
            if !samples[i].is_nan() {
                while candidates.back().is_some_and(|&k| samples[k] <= samples[i]) {
                    candidates.pop_back();
                }
                candidates.push_back(i);
            }
            highest
        })
        .collect()
}

/// The first sample from `from` on at which the wheel has spun up by the mirror image of the fall.
fn spun_back(speed: &[f32], from: usize, window: usize, longest: usize) -> Option<usize> {
    // The lowest of the window, in linear time as above.
    let mut candidates: VecDeque<usize> = VecDeque::new();
    let last = (from + longest).min(speed.len());
    (from..last).find(|&k| {
        if speed[k].is_nan() {
            return false;
        }
        while candidates.back().is_some_and(|&earlier| speed[earlier] >= speed[k]) {
            candidates.pop_back();
        }
        candidates.push_back(k);
        while candidates.front().is_some_and(|&earlier| earlier + window < k) {
            candidates.pop_front();
        }
        let low = candidates.front().map_or(f32::INFINITY, |&earlier| speed[earlier]);
        speed[k] > BACK_MPS && low < (1.0 - FALL_SHARE) * speed[k]
    })
}

/// Where a wheel that spins up from `from` on no longer gains faster than a bike can.
fn settled(speed: &[f32], from: usize, settle: usize, rate_hz: f64) -> usize {
    let mut at = from;
    while let Some(next) = (at + 1..(at + 1 + settle).min(speed.len()))
        .rfind(|&k| speed[k] > speed[at] + GAIN_MAX_MPS2 * ((k - at) as f64 / rate_hz) as f32)
    {
        at = next;
    }
    (at + settle / 2).min(speed.len())
}

/// Mean over `window` samples about each; NaN where none of them is there.
fn running_mean(samples: &[f32], window: usize) -> Vec<f32> {
    let mut sums = Vec::with_capacity(samples.len() + 1);
    let mut sum = (0.0_f64, 0_usize);
    sums.push(sum);
    for v in samples {
        if !v.is_nan() {
            sum = (sum.0 + f64::from(*v), sum.1 + 1);
        }
        sums.push(sum);
    }
    let half = window / 2;
    (0..samples.len())
        .map(|i| {
            let (from, to) = (sums[i.saturating_sub(half)], sums[(i + half + 1).min(samples.len())]);
            if to.1 == from.1 { f32::NAN } else { ((to.0 - from.0) / (to.1 - from.1) as f64) as f32 }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 500.0;

    /// 10 m/s, slowing at 4 m/s^2 from 1 s on, with the wheel following `wheel(t, bike)`.
    fn speed(wheel: impl Fn(f64, f64) -> f64) -> Vec<f32> {
        let bike = |t: f64| 10.0 - 4.0 * (t - 1.0).max(0.0);
        (0..1500).map(|i| f64::from(i) / RATE_HZ).map(|t| wheel(t, bike(t)) as f32).collect()
    }

    /// Locks within 30 ms at 1.5 s, spins back within 60 ms from 1.8 s on.
    fn locking(t: f64, bike: f64) -> f64 {
        bike * (1.0 - (t - 1.5) / 0.03).clamp(0.0, 1.0).max(((t - 1.8) / 0.06).clamp(0.0, 1.0))
    }

    #[test]
    fn the_highest_before_is_that_of_the_window() {
        let samples: Vec<f32> = (0..200)
            .map(|i| if i % 17 == 3 { f32::NAN } else { ((i * 37) % 101) as f32 - (i / 3) as f32 })
            .collect();
        for window in [1, 2, 7, 50, 300] {
            for (i, found) in highest_before(&samples, window).into_iter().enumerate() {
                let expected = samples[i.saturating_sub(window)..i].iter().copied().fold(f32::NAN, f32::max);
                assert!(found == expected || (found.is_nan() && expected.is_nan()), "{window} {i}: {found}");
            }
        }
    }

    #[test]
    fn a_lock_up_is_a_dip_and_hard_braking_is_none() {
        let found = dips(&speed(locking), RATE_HZ, |_| true);
        assert_eq!(found.len(), 1);
        let (start_s, end_s) = (found[0].start as f64 / RATE_HZ, found[0].end as f64 / RATE_HZ);
        assert!((1.46..=1.5).contains(&start_s) && (1.85..1.92).contains(&end_s), "{start_s}..{end_s}");
        assert_eq!(dips(&speed(|_, bike| bike), RATE_HZ, |_| true), []);
        // Too few readings tell nothing.
        assert_eq!(dips(&speed(locking), RATE_HZ, |_| false), []);
    }

    #[test]
    fn a_wheel_that_stops_for_good_is_no_dip() {
        let stops = speed(|t, bike| if t < 1.5 { bike } else { 0.0 });
        assert_eq!(dips(&stops, RATE_HZ, |_| true), []);
    }

    #[test]
    fn a_wheel_that_is_pedalled_in_the_air_and_slows_on_landing_is_no_dip() {
        let mut off_ground = vec![false; 1500];
        off_ground[500..750].fill(true);
        let raw = speed(|t, _| if (1.0..1.5).contains(&t) { 12.0 + 12.0 * (t - 1.0) } else { 10.0 });
        let raw: Vec<f32> = raw.iter().enumerate().map(|(i, v)| if i > 900 { 18.5 } else { *v }).collect();
        assert_eq!(dips(&raw, RATE_HZ, |_| true).len(), 1);
        assert_eq!(dips(&not_pedalled(&raw, &off_ground), RATE_HZ, |_| true), []);
    }

    #[test]
    fn missing_samples_are_bridged_only_between_others() {
        let mut samples = [f32::NAN, 1.0, f32::NAN, f32::NAN, 4.0, f32::NAN];
        bridge(&mut samples);
        assert_eq!(samples[1..5], [1.0, 2.0, 3.0, 4.0]);
        assert!(samples[0].is_nan() && samples[5].is_nan());
    }
}
