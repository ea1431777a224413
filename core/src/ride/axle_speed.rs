//! How fast one end is compressed and extends.

use serde::{Deserialize, Serialize};

use super::travel::PEAK_SPEED_RATE_HZ;
use crate::measured::{Measured, NotMeasured};
use crate::signal::percentiles;

/// Between slow and fast at the axle, m/s (common practice).
const FAST_MPS: f64 = 0.25;
/// Width of a histogram bin, m/s.
const BIN_MPS: f64 = 0.25;
/// Bins of a histogram; the last takes all that is faster.
const BINS: usize = 24;

/// Axle speed of one end over one section, while rolling; rebound speeds count positive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AxleSpeedReadout {
    /// 95th percentile of compression speed, m/s.
    pub compression_speed_p95_mps: Measured,
    /// Peak compression speed, m/s.
    pub compression_speed_max_mps: Measured,
    /// Share of the compressing time over 0.25 m/s.
    pub compression_fast_share: Measured,
    /// Share of the compressing time in bins of 0.25 m/s from 0; the last takes all that is faster.
    pub compression_histogram: Measured<Vec<f64>>,
    /// 95th percentile of rebound speed, m/s.
    pub rebound_speed_p95_mps: Measured,
    /// Peak rebound speed, m/s.
    pub rebound_speed_max_mps: Measured,
    /// Share of the extending time over 0.25 m/s.
    pub rebound_fast_share: Measured,
    /// Share of the extending time in bins of 0.25 m/s from 0; the last takes all that is faster.
    pub rebound_histogram: Measured<Vec<f64>>,
}

impl AxleSpeedReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        Self::from([Strokes::not(reason), Strokes::not(reason)])
    }

    /// Reads one end's axle speed, m/s, + compression.
    ///
    /// `native_rate_hz` is the rate at which travel was logged: peaks need 200 Hz.
    pub fn of(speed_mps: &[f32], rolling: &[bool], native_rate_hz: f64) -> Self {
        Self::from([1.0, -1.0].map(|sign| {
            let speeds: Vec<f64> = speed_mps
                .iter()
                .zip(rolling)
                .filter(|(_, rolling)| **rolling)
                .map(|(speed, _)| sign * f64::from(*speed))
                .filter(|speed| *speed > 0.0)
                .collect();
            Strokes::of(&speeds, native_rate_hz)
        }))
    }

    fn from([compression, rebound]: [Strokes; 2]) -> Self {
        Self {
            compression_speed_p95_mps: compression.p95_mps,
            compression_speed_max_mps: compression.max_mps,
            compression_fast_share: compression.fast_share,
            compression_histogram: compression.histogram,
            rebound_speed_p95_mps: rebound.p95_mps,
            rebound_speed_max_mps: rebound.max_mps,
            rebound_fast_share: rebound.fast_share,
            rebound_histogram: rebound.histogram,
        }
    }
}

/// One direction.
struct Strokes {
    p95_mps: Measured,
    max_mps: Measured,
    fast_share: Measured,
    histogram: Measured<Vec<f64>>,
}

impl Strokes {
    fn not(reason: &NotMeasured) -> Self {
        Self {
            p95_mps: Measured::not(reason.clone()),
            max_mps: Measured::not(reason.clone()),
            fast_share: Measured::not(reason.clone()),
            histogram: Measured::not(reason.clone()),
        }
    }

    fn of(speeds: &[f64], native_rate_hz: f64) -> Self {
        let Some(peaks) = percentiles(speeds, [95.0, 100.0]) else {
            return Self::not(&NotMeasured::because("the axle never moves that way while rolling"));
        };
        let n = speeds.len();
        let share = |count: usize| count as f64 / n as f64;
        let fast = speeds.iter().filter(|speed| **speed > FAST_MPS).count();
        let mut histogram = vec![0; BINS];
        for speed in speeds {
            histogram[((speed / BIN_MPS) as usize).min(BINS - 1)] += 1;
        }
        // 99 % of the rate, since a logger's crystal is never exact.
        let [p95_mps, max_mps] = if native_rate_hz >= 0.99 * PEAK_SPEED_RATE_HZ {
            peaks.map(|peak| Measured::value(peak).with_n(n))
        } else {
            let reason = NotMeasured::because(format!(
                "travel is logged at {native_rate_hz:.0} Hz; peak speeds need {PEAK_SPEED_RATE_HZ:.0} Hz"
            ));
            [Measured::not(reason.clone()), Measured::not(reason)]
        };
        Self {
            p95_mps,
            max_mps,
            fast_share: Measured::value(share(fast)).with_n(n),
            histogram: Measured::value(histogram.into_iter().map(share).collect()).with_n(n),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_direction_on_its_own() {
        let speed: Vec<f32> = (-100..=100).map(|i| i as f32 * 0.01).collect();
        let readout = AxleSpeedReadout::of(&speed, &[true; 201], 1000.0);
        assert!((readout.compression_speed_max_mps.get().unwrap() - 1.0).abs() < 1e-6);
        assert!((readout.compression_fast_share.get().unwrap() - 0.75).abs() < 1e-9);
        assert_eq!(readout.compression_speed_p95_mps.n(), Some(100));
        assert!((readout.rebound_speed_p95_mps.get().unwrap() - 0.9505).abs() < 1e-6);
        assert!((readout.rebound_histogram.get().unwrap().iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_slow_log_has_no_peaks() {
        let readout = AxleSpeedReadout::of(&[0.1, 0.4], &[true; 2], 100.0);
        assert!(readout.compression_speed_max_mps.get().unwrap_err().0.contains("200 Hz"));
        assert!(readout.compression_fast_share.get().is_ok());
    }
}
