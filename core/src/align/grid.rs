//! The uniform day-time grid on which one run's channels meet.

use serde::{Deserialize, Serialize};

use super::Clock;
use crate::signal;

/// Samples at `start_s + k / rate_hz`, `k` in `0..len`, in day time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Grid {
    /// Day time of the first sample, s.
    pub start_s: f64,
    /// Samples a second, Hz.
    pub rate_hz: f64,
    /// Number of samples.
    pub len: usize,
}

impl Grid {
    /// The shortest grid from one day time to another, both included.
    pub fn covering(start_s: f64, end_s: f64, rate_hz: f64) -> Self {
        // A millionth of a sample short is rounding, not a sample less.
        let len = ((end_s - start_s).max(0.0) * rate_hz + 1e-6) as usize + 1;
        Self { start_s, rate_hz, len }
    }

    /// Day time of sample `k`, s.
    pub fn time_s(&self, k: usize) -> f64 {
        self.start_s + k as f64 / self.rate_hz
    }

    /// Whether these stamps of a source are this grid, to a millionth of a sample.
    pub(super) fn holds(&self, times_s: &[f64], clock: &Clock) -> bool {
        let near =
            |(k, &t): (usize, &f64)| ((clock.day_s(t) - self.start_s) * self.rate_hz - k as f64).abs() < 1e-6;
        times_s.len() == self.len && times_s.iter().enumerate().all(near)
    }

    /// One channel, with the stamps and the clock of its source, on this grid.
    ///
    /// See [`signal::resample`] for gaps, blank cells and going down in rate. A grid that is uniform in
    /// day time is uniform on the source's clock too, so the stamps are used as they are.
    pub fn resample(&self, times_s: &[f64], values: &[f32], clock: &Clock) -> Vec<f32> {
        let rate_hz = self.rate_hz * (1.0 + clock.drift);
        signal::resample(times_s, values, clock.source_s(self.start_s), rate_hz, self.len)
    }

    /// [`resample`](Self::resample) of a channel whose own rate, Hz, is known already.
    pub fn resample_known(&self, times_s: &[f64], values: &[f32], native_hz: f64, clock: &Clock) -> Vec<f32> {
        let rate_hz = self.rate_hz * (1.0 + clock.drift);
        let start_s = clock.source_s(self.start_s);
        signal::resample_with_step(times_s, values, 1.0 / native_hz, start_s, rate_hz, self.len)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_of_its_own() {
        let stamps = |step_s: f64| (0..1000).map(|k| 7.0 + f64::from(k) * step_s).collect::<Vec<_>>();
        let grid = Grid { start_s: 7.5, rate_hz: 250.0, len: 1000 };
        let clock = Clock { offset_s: 0.5, drift: 0.0 };
        assert!(grid.holds(&stamps(0.004), &clock));
        assert!(!grid.holds(&stamps(0.004), &Clock::default()), "half a second early");
        assert!(!grid.holds(&stamps(0.004_000_1), &clock), "25 ppm slow");
        assert!(!grid.holds(&stamps(0.004)[..999], &clock), "a row short");
    }

    #[test]
    fn a_channel_lands_at_its_day_time() {
        let clock = Clock { offset_s: 100.0, drift: 200e-6 };
        let times: Vec<f64> = (0..20_001).map(|k| f64::from(k) * 0.01).collect();
        // A ramp that shows its own day time.
        let values: Vec<f32> = times.iter().map(|&t| (clock.day_s(t) - 200.0) as f32).collect();
        let grid = Grid { start_s: 99.0, rate_hz: 250.0, len: 51_000 };
        let out = grid.resample(&times, &values, &clock);
        for (k, &y) in out.iter().enumerate() {
            let day_s = grid.time_s(k);
            if (100.0..=300.04).contains(&day_s) {
                assert!((f64::from(y) - (day_s - 200.0)).abs() < 2e-5, "{day_s}: {y}");
            } else {
                assert!(y.is_nan(), "{day_s}: {y}");
            }
        }
    }
}
