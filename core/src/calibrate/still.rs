//! When the bike stood still, and what its gyros read then.

use std::ops::Range;

use super::Inertial;
use crate::NotMeasured;

/// Spread of rate of turn under which a bike counts as still, rad/s: an order of magnitude over the
/// noise of consumer parts (0.01 deg/s/sqrt(Hz)), and under what a rider's balance does.
const GYRO_SPREAD_RADPS: f64 = 0.02;
/// The same for specific force, m/s^2.
const ACCEL_SPREAD_MPS2: f64 = 0.3;
/// A faster mean turn is a turn, not an offset, rad/s (20 deg/s: the widest zero-rate tolerance
/// found in data sheets of consumer parts; from memory).
const GYRO_MEAN_RADPS: f64 = 0.35;
/// Shortest stretch, s.
const SHORTEST_S: f64 = 1.0;
/// Spread is judged in steps of this length, s.
const BLOCK_S: f64 = 0.1;

/// Finds stretches of 1 s and more in which the bike stood still, as sample ranges in order.
///
/// Still: in every second of the stretch the standard deviation of each gyro axis stays under
/// 0.02 rad/s, of each accelerometer axis under 0.3 m/s^2, and no mean rate of turn is over
/// 20 deg/s. A missing sample ends a stretch. Unusable input has no still stretches.
pub fn still_stretches(inertial: &Inertial) -> Vec<Range<usize>> {
    if inertial.check().is_err() {
        return Vec::new();
    }
    let block = ((BLOCK_S * inertial.rate_hz).round() as usize).max(1);
    let window = (SHORTEST_S * inertial.rate_hz / block as f64).ceil() as usize;
    // From the first sample that is there, so that a later start of the log changes nothing.
    let first_whole = (0..inertial.len()).find(|&i| inertial.is_whole_at(i)).unwrap_or(0);
    let at = |k: usize| first_whole + k * block;
    let moments: Vec<Moments> = (0..(inertial.len() - first_whole) / block)
        .map(|k| Moments::of(inertial, at(k)..at(k + 1)))
        .collect();

    let mut stretches: Vec<Range<usize>> = Vec::new();
    for (first, blocks) in moments.windows(window).enumerate() {
        let whole = blocks.iter().fold(Moments::default(), Moments::plus);
        if !whole.is_still() {
            continue;
        }
        let (start, end) = (at(first), at(first + window));
        match stretches.last_mut() {
            Some(last) if start <= last.end => last.end = end,
            _ => stretches.push(start..end),
        }
    }
    stretches
}

/// Count, sums and sums of squares of the six channels, about a fixed reference for precision.
#[derive(Clone, Copy, Default)]
struct Moments {
    count: f64,
    sum: [f64; 6],
    square: [f64; 6],
}

impl Moments {
    fn of(inertial: &Inertial, range: Range<usize>) -> Self {
        let mut moments = Self { count: range.len() as f64, ..Self::default() };
        for (c, axis) in inertial.accel_mps2.iter().chain(&inertial.gyro_radps).enumerate() {
            for &sample in &axis[range.clone()] {
                let sample = f64::from(sample);
                moments.sum[c] += sample;
                moments.square[c] += sample * sample;
            }
        }
        moments
    }

    fn plus(self, other: &Self) -> Self {
        Self {
            count: self.count + other.count,
            sum: std::array::from_fn(|c| self.sum[c] + other.sum[c]),
            square: std::array::from_fn(|c| self.square[c] + other.square[c]),
        }
    }

    /// False, too, where a sample is missing: its NaN fails every comparison.
    fn is_still(&self) -> bool {
        (0..6).all(|c| {
            let mean = self.sum[c] / self.count;
            let variance = self.square[c] / self.count - mean * mean;
            if c < 3 {
                variance <= ACCEL_SPREAD_MPS2.powi(2)
            } else {
                variance <= GYRO_SPREAD_RADPS.powi(2) && mean.abs() <= GYRO_MEAN_RADPS
            }
        })
    }
}

/// What the gyros read at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GyroBias {
    /// Mean reading about x, y, z, rad/s; to be taken off.
    pub bias_radps: [f64; 3],
    /// Time at rest that it was averaged over, s.
    pub still_s: f64,
}

/// Gyro bias: the mean over the still stretches that [`still_stretches`] found.
///
/// # Errors
/// Where there is no still stretch.
pub fn gyro_bias(inertial: &Inertial, still: &[Range<usize>]) -> Result<GyroBias, NotMeasured> {
    let samples = || still.iter().cloned().flatten().filter(|&i| i < inertial.len());
    let count = samples().count();
    if count == 0 {
        return Err(NotMeasured::because(
            "the bike never stood still for a second; let the logger run for a few seconds before the start",
        ));
    }
    let bias_radps =
        inertial.gyro_radps.map(|axis| samples().map(|i| f64::from(axis[i])).sum::<f64>() / count as f64);
    Ok(GyroBias { bias_radps, still_s: count as f64 / inertial.rate_hz })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    /// 3 s at rest, 4 s of shaking, 2 s at rest, at 200 Hz, gyro offset 0.01, -0.02, 0.03 rad/s.
    fn rest_shake_rest() -> ([Vec<f32>; 3], [Vec<f32>; 3]) {
        let shake = |i: usize, hz: f32| {
            if (600..1400).contains(&i) { (TAU * hz * i as f32 / 200.0).sin() } else { 0.0 }
        };
        let accel =
            [0.0, 0.0, 9.81].map(|at_rest| (0..1800).map(|i| at_rest + 3.0 * shake(i, 7.0)).collect());
        let gyro = [0.01, -0.02, 0.03].map(|at_rest| (0..1800).map(|i| at_rest + shake(i, 5.0)).collect());
        (accel, gyro)
    }

    fn inertial<'a>(accel: &'a [Vec<f32>; 3], gyro: &'a [Vec<f32>; 3]) -> Inertial<'a> {
        Inertial {
            accel_mps2: accel.each_ref().map(Vec::as_slice),
            gyro_radps: gyro.each_ref().map(Vec::as_slice),
            rate_hz: 200.0,
        }
    }

    #[test]
    fn rest_is_found_on_both_sides_of_a_shake() {
        let (accel, gyro) = rest_shake_rest();
        let still = still_stretches(&inertial(&accel, &gyro));
        assert_eq!(still, [0..600, 1400..1800]);
    }

    #[test]
    fn the_bias_is_the_reading_at_rest() {
        let (accel, gyro) = rest_shake_rest();
        let inertial = inertial(&accel, &gyro);
        let bias = gyro_bias(&inertial, &still_stretches(&inertial)).unwrap();
        for (found, true_bias) in bias.bias_radps.iter().zip([0.01, -0.02, 0.03]) {
            assert!((found - true_bias).abs() < 1e-6);
        }
        assert!((bias.still_s - 5.0).abs() < 1e-9);
    }

    #[test]
    fn a_missing_sample_ends_a_stretch() {
        let (mut accel, gyro) = rest_shake_rest();
        accel[1][300] = f32::NAN;
        let still = still_stretches(&inertial(&accel, &gyro));
        assert_eq!(still, [0..300, 320..600, 1400..1800]);
    }

    #[test]
    fn a_steady_turn_is_not_rest() {
        let (accel, _) = rest_shake_rest();
        let gyro = [0.0, 0.0, 1.0].map(|rate| vec![rate; 1800]);
        let inertial = inertial(&accel, &gyro);
        assert!(still_stretches(&inertial).is_empty());
        assert!(gyro_bias(&inertial, &[]).is_err());
    }
}
