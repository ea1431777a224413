//! Pressure while the lever is off: a frame that flexes, a disc that rubs, a hose that is pulled.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::bike::ResidualAllowance;
use crate::measured::{Measured, NotMeasured};
use crate::ride::basis::Basis;
use crate::role::Axis;
use crate::signal::{Resolution, median, pearson};

/// Less than this is no residual, however fine the sensor, Pa (common practice: 0.05 bar)...
const FLOOR_PA: f64 = 0.05e5;
/// ...nor is less than this many of the sensor's counts...
const FLOOR_COUNTS: f64 = 2.0;
/// ...nor less than this many standard deviations of its noise.
const FLOOR_NOISE_SDS: f64 = 4.0;
/// Blips are looked for in means over this long: of single samples a fast log has more that noise lifts, s.
const BLIP_S: f64 = 0.05;
/// A lever that is free for less than this shows nothing, s.
const SHORTEST_FREE_S: f64 = 5.0;

/// One brake's pressure with the lever off, while the bike rolls.
///
/// Some is normal, because frames flex (common practice). Everything is measured from the bench's zero,
/// since a running one would hide a brake that never lets go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ResidualReadout {
    /// What the sensor can tell from nothing, Pa: the largest of 0.05 bar, two counts, four standard
    /// deviations of its noise.
    pub residual_floor_pa: Measured,
    /// The constant part: median pressure, Pa. Below the floor it is as good as none.
    pub residual_constant_pa: Measured,
    /// RMS pressure, Pa, what lies below the floor counted as none.
    pub residual_rms_pa: Measured,
    /// How often pressure, its mean over 50 ms, rises past the constant part by more than the floor, per
    /// minute of free lever.
    pub residual_blips_per_min: Measured,
    /// Correlation with lateral acceleration, + left: flex that presses one way.
    pub residual_lateral_correlation: Measured,
    /// Correlation with the magnitude of lateral acceleration: flex that presses both ways.
    pub residual_lateral_size_correlation: Measured,
    /// Correlation with lean, + right.
    pub residual_lean_correlation: Measured,
    /// What the owner allows, Pa RMS.
    pub residual_allowance_pa: f64,
    /// Whether the owner has accepted what this bike shows as its own.
    pub residual_accepted: bool,
    /// Whether it is more than allowed: look for rub.
    pub residual_over_allowance: Measured<bool>,
}

impl ResidualReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured, allowance: ResidualAllowance) -> Self {
        let not = || Measured::not(reason.clone());
        Self {
            residual_floor_pa: not(),
            residual_constant_pa: not(),
            residual_rms_pa: not(),
            residual_blips_per_min: not(),
            residual_lateral_correlation: not(),
            residual_lateral_size_correlation: not(),
            residual_lean_correlation: not(),
            residual_allowance_pa: allowance.rms_pa,
            residual_accepted: allowance.accepted,
            residual_over_allowance: Measured::not(reason.clone()),
        }
    }

    /// Reads a stretch. `free`: where the lever is free and the bike rolls, by sample of the whole run.
    pub fn of(
        basis: &Basis<'_>,
        pressure_pa: &[f32],
        free: &[bool],
        resolution: Resolution,
        allowance: ResidualAllowance,
        range: &Range<usize>,
    ) -> Self {
        let samples: Vec<usize> = range.clone().filter(|&i| free[i]).collect();
        let free_s = samples.len() as f64 / basis.rate_hz();
        let pressure: Vec<f64> = samples.iter().map(|&i| f64::from(pressure_pa[i])).collect();
        let constant = match median(&pressure) {
            Some(constant) if free_s >= SHORTEST_FREE_S => constant,
            _ => {
                return Self::not(
                    &NotMeasured::because("the lever is free for less than 5 s while the bike rolls here"),
                    allowance,
                );
            }
        };
        let floor = floor_pa(resolution);
        let n = pressure.len();
        let squares = pressure.iter().filter(|p| **p >= floor).map(|p| p * p);
        let rms = (squares.fold(0.0, |sum, square| sum + square) / n as f64).sqrt();
        let above: Vec<f64> =
            range.clone().map(|i| if free[i] { f64::from(pressure_pa[i]) - constant } else { 0.0 }).collect();
        let above = means(&above, basis.samples(BLIP_S));
        let with = |other: Result<&[f32], NotMeasured>, of: fn(f64) -> f64| {
            let other = other?;
            let pairs = samples.iter().map(|&i| (f64::from(pressure_pa[i]), of(f64::from(other[i]))));
            pearson(pairs).ok_or_else(|| NotMeasured::because("one of the two never changes here"))
        };
        let lateral = || basis.frame_accel_mps2(Axis::Y);
        Self {
            residual_floor_pa: Measured::value(floor),
            residual_constant_pa: Measured::value(constant).with_n(n),
            residual_rms_pa: Measured::value(rms).with_n(n),
            residual_blips_per_min: Measured::value(blips(&above, floor) as f64 / free_s * 60.0),
            residual_lateral_correlation: with(lateral(), |a| a).into(),
            residual_lateral_size_correlation: with(lateral(), f64::abs).into(),
            residual_lean_correlation: with(basis.roll_rad(), |a| a).into(),
            residual_allowance_pa: allowance.rms_pa,
            residual_accepted: allowance.accepted,
            residual_over_allowance: Measured::value(rms > allowance.rms_pa),
        }
    }
}

fn floor_pa(resolution: Resolution) -> f64 {
    FLOOR_PA
        .max(FLOOR_COUNTS * resolution.step.unwrap_or(0.0))
        .max(FLOOR_NOISE_SDS * resolution.noise_sd.unwrap_or(0.0))
}

/// The mean of `length` samples about each, of an odd number of them; of fewer at the ends.
fn means(samples: &[f64], length: usize) -> Vec<f64> {
    let half = length / 2;
    (0..samples.len())
        .map(|i| {
            let window = &samples[i.saturating_sub(half)..(i + half + 1).min(samples.len())];
            window.iter().sum::<f64>() / window.len() as f64
        })
        .collect()
}

/// How often `samples` rise to `floor`; each time they must first have come back below half of it.
fn blips(samples: &[f64], floor: f64) -> usize {
    let mut up = false;
    let mut count = 0;
    for &sample in samples {
        if !up && sample >= floor {
            up = true;
            count += 1;
        } else if up && sample < floor / 2.0 {
            up = false;
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_floor_is_the_largest_of_three() {
        let floor = |step, noise_sd| floor_pa(Resolution { step, noise_sd });
        assert_eq!(floor(None, None), 5000.0);
        assert_eq!(floor(Some(4000.0), Some(1000.0)), 8000.0);
        assert_eq!(floor(Some(1000.0), Some(2500.0)), 10_000.0);
    }

    #[test]
    fn one_sample_is_no_blip_and_fifty_milliseconds_are() {
        let mut samples = vec![0.0; 300];
        samples[50] = 20.0;
        samples[100..110].fill(6.0);
        assert_eq!(blips(&samples, 5.0), 2);
        assert_eq!(blips(&means(&samples, 10), 5.0), 1);
        assert_eq!(means(&samples, 1), samples);
    }

    #[test]
    fn a_blip_comes_back_before_the_next() {
        assert_eq!(blips(&[0.0, 5.0, 3.0, 6.0, 2.0, 5.0, 0.0, 4.9], 5.0), 2);
        assert_eq!(blips(&[f64::NAN, 5.0], 5.0), 1);
    }
}
