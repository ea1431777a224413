//! How long after the front wheel the rear wheel meets the same ground.

use super::basis::Basis;
use crate::measured::NotMeasured;
use crate::role::End;
use crate::signal::{correlate, highest_peak};

/// Slower than this the lag is long and hangs on little, m/s.
const SLOWEST_MPS: f32 = 2.0;
/// Lags that a ridden bike can have, s: 21 m/s and 2 m/s at 1.25 m.
const LAG_S: [f64; 2] = [0.06, 0.6];
/// Without a speed the lag is looked for in pieces this long, s; speed hardly holds for longer...
const PIECE_S: f64 = 8.0;
/// ...and believed where the ends are correlated this much.
const LEAST_CORRELATION: f64 = 0.3;

/// By how many samples the rear wheel is behind, for each sample at which the front wheel meets the
/// ground; NaN where that is not known.
///
/// The lag is the time in which the bike rolls one wheelbase on: WB / v where speed holds, the integral of
/// speed where it changes. Not told under 2 m/s nor across missing speed.
///
/// # Errors
/// Where speed is not measured.
pub fn of_speed(basis: &Basis<'_>) -> Result<Vec<f32>, NotMeasured> {
    Ok(rolled(basis.speed_mps()?, basis.bike.wheelbase_m * basis.rate_hz()))
}

/// Samples in which the sum of speed over samples reaches `sum`.
fn rolled(speed_mps: &[f32], sum: f64) -> Vec<f32> {
    let mut lags = vec![f32::NAN; speed_mps.len()];
    // `ahead` is the sum over `from..to`.
    let (mut to, mut ahead) = (0, 0.0);
    for (from, &speed) in speed_mps.iter().enumerate() {
        if to < from {
            (to, ahead) = (from, 0.0);
        }
        if speed.is_nan() {
            continue;
        }
        while ahead < sum
            && let Some(next) = speed_mps.get(to).filter(|next| !next.is_nan())
        {
            ahead += f64::from(*next);
            to += 1;
        }
        if ahead >= sum && speed >= SLOWEST_MPS {
            let last = f64::from(speed_mps[to - 1]);
            lags[from] = ((to - from) as f64 - (ahead - sum) / last) as f32;
        }
        if to > from {
            ahead -= f64::from(speed);
        }
    }
    lags
}

/// The same where no speed is logged: in pieces of 8 s the delay, 60-600 ms, at which the rear axle's speed
/// is most like the front's.
///
/// # Errors
/// Where travel is missing at one end, or no piece has a delay with a correlation of 0.3.
pub fn of_correlation(basis: &Basis<'_>) -> Result<Vec<f32>, NotMeasured> {
    let double = |speed: &[f32]| speed.iter().map(|v| f64::from(*v)).collect::<Vec<_>>();
    let front = double(basis.axle_speed_mps(End::Front)?);
    let rear = double(basis.axle_speed_mps(End::Rear)?);
    let [least, most] = LAG_S.map(|seconds| basis.samples(seconds));
    let piece = basis.samples(PIECE_S).max(1);
    let mut lags = vec![f32::NAN; front.len()];
    for (k, front) in front.chunks_exact(piece).enumerate() {
        let at = k * piece;
        let Some(rear) = rear.get(at + least..at + piece + most) else { break };
        let missing = |samples: &[f64]| samples.iter().any(|v| v.is_nan());
        let rolls = basis.rolling[at..at + piece].iter().all(|rolls| *rolls);
        if !rolls || missing(front) || missing(rear) {
            continue;
        }
        if let Some(peak) = highest_peak(&correlate(front, rear))
            && peak.height >= LEAST_CORRELATION
        {
            lags[at..at + piece].fill((least as f64 + peak.position) as f32);
        }
    }
    if lags.iter().all(|lag| lag.is_nan()) {
        return Err(NotMeasured::because(
            "no speed is logged, and the rear does not follow the front clearly enough to tell the delay",
        ));
    }
    Ok(lags)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wheelbase_at_constant_speed_takes_its_length_over_speed() {
        // 1.25 m at 8 m/s and 200 Hz: 31.25 samples.
        let lags = rolled(&[8.0; 100], 1.25 * 200.0);
        assert!(lags[..68].iter().all(|lag| (lag - 31.25).abs() < 1e-4), "{lags:?}");
        assert!(lags[69..].iter().all(|lag| lag.is_nan()));
    }

    #[test]
    fn changing_speed_is_integrated() {
        // v = 4 + 2 t: 1.25 m from rest at t = 0 take (-4 + sqrt(16 + 5)) / 2 s.
        let speed: Vec<f32> = (0..2000).map(|i| 4.0 + 2.0 * (i as f32 + 0.5) / 1000.0).collect();
        let lags = rolled(&speed, 1.25 * 1000.0);
        assert!((f64::from(lags[0]) / 1000.0 - (21_f64.sqrt() - 4.0) / 2.0).abs() < 1e-4, "{}", lags[0]);
    }

    #[test]
    fn slow_or_missing_speed_tells_no_lag() {
        assert!(rolled(&[1.9; 1000], 125.0).iter().all(|lag| lag.is_nan()));
        let mut speed = [5.0; 200];
        speed[100] = f32::NAN;
        let lags = rolled(&speed, 125.0);
        for (i, lag) in lags.iter().enumerate() {
            assert_eq!(lag.is_nan(), (76..=100).contains(&i) || i > 175, "{lag} at {i}");
        }
        assert!(rolled(&[0.0; 50], 125.0).iter().all(|lag| lag.is_nan()));
        assert!(rolled(&[], 125.0).is_empty());
    }
}
