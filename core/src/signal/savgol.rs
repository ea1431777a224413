//! The derivative of a sampled signal by a moving cubic (Savitzky and Golay 1964).

use super::map_stretches;

/// A Savitzky-Golay differentiator: the slope of the cubic that fits a window of samples best.
///
/// The window is the odd number of samples nearest to 15 ms, at least 5: -3 dB at 85 Hz for 1 kHz, at
/// 61 Hz for 200 Hz. Exact on a cubic, up to both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct SavitzkyGolay {
    rate_hz: f64,
    /// Samples on each side of the middle one.
    half: usize,
    /// Weights of the window's samples for the slope in its middle.
    middle: Vec<f64>,
}

impl SavitzkyGolay {
    /// The differentiator for signals of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        // The upper bound only keeps nonsense rates from asking for endless memory.
        let half = (0.5 * (0.015 * rate_hz - 1.0)).round() as usize;
        let half = half.clamp(2, 1000);
        Self { rate_hz, half, middle: weights(half, 0.0) }
    }

    /// Samples in the window; a shorter signal has no derivative.
    pub fn window(&self) -> usize {
        2 * self.half + 1
    }

    /// Derivative in units a second, as long as `samples`; all `NaN` for a signal shorter than the window.
    ///
    /// The first and last half window are slopes of the first and last window's own cubic.
    pub fn derivative(&self, samples: &[f64]) -> Vec<f64> {
        let n = samples.len();
        if n < self.window() {
            return vec![f64::NAN; n];
        }
        let slope = |weights: &[f64], window: &[f64]| {
            self.rate_hz * weights.iter().zip(window).map(|(w, x)| w * x).sum::<f64>()
        };
        let mut out = Vec::with_capacity(n);
        let half = self.half as isize;
        let at_edge = |window, offset: isize| slope(&weights(self.half, offset as f64), window);
        out.extend((-half..0).map(|offset| at_edge(&samples[..self.window()], offset)));
        out.extend(samples.windows(self.window()).map(|window| slope(&self.middle, window)));
        out.extend((1..=half).map(|offset| at_edge(&samples[n - self.window()..], offset)));
        out
    }

    /// [`derivative`](Self::derivative) of each stretch between missing samples on its own; a stretch
    /// shorter than the window becomes `NaN`.
    pub fn derivative_stretches(&self, samples: &[f32]) -> Vec<f32> {
        map_stretches(samples, |stretch| self.derivative(stretch))
    }
}

/// Weights of samples `-half..=half` for the slope, per sample, of their best cubic at `offset`.
///
/// The cubic is written in polynomials that are orthogonal on the window (Gram), so that each coefficient
/// is one projection and no equations are solved.
fn weights(half: usize, offset: f64) -> Vec<f64> {
    let positions = || (0..=2 * half).map(|k| k as f64 - half as f64);
    let moment = |power| positions().map(|i| i.powi(power)).sum::<f64>();
    let mean_square = moment(2) / moment(0);
    let ratio = moment(4) / moment(2);
    let second = |i: f64| i * i - mean_square;
    let third = |i: f64| i * (i * i - ratio);
    let second_norm = positions().map(|i| second(i).powi(2)).sum::<f64>();
    let third_norm = positions().map(|i| third(i).powi(2)).sum::<f64>();
    let (second_slope, third_slope) = (2.0 * offset, 3.0 * offset * offset - ratio);
    positions()
        .map(|i| i / moment(2) + second_slope * second(i) / second_norm + third_slope * third(i) / third_norm)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_1_SQRT_2, PI};

    #[test]
    fn the_window_is_15_ms_and_at_least_5_samples() {
        let window = |rate_hz| SavitzkyGolay::new(rate_hz).window();
        assert_eq!([100.0, 200.0, 500.0, 1000.0, 2000.0].map(window), [5, 5, 7, 15, 31]);
        assert_eq!(window(f64::NAN), 5);
        assert_eq!(window(f64::INFINITY), 2001);
    }

    #[test]
    fn exact_on_a_cubic_to_both_ends() {
        for rate_hz in [200.0, 1000.0] {
            let times = || (0..40).map(|k| f64::from(k) / rate_hz);
            let cubic: Vec<f64> = times().map(|t| 0.1 + t * (2.0 + t * (-30.0 + t * 400.0))).collect();
            for (slope, t) in SavitzkyGolay::new(rate_hz).derivative(&cubic).iter().zip(times()) {
                assert!((slope - (2.0 + t * (-60.0 + t * 1200.0))).abs() < 1e-9, "at {t} s: {slope}");
            }
        }
    }

    #[test]
    fn half_power_at_85_and_61_hertz() {
        // The slope's weights are odd, so the gain at f is a sum of sines over 2 pi f.
        for (rate_hz, half_power_hz) in [(1000.0, 85.0), (200.0, 61.0)] {
            let tool = SavitzkyGolay::new(rate_hz);
            let step = 2.0 * PI * half_power_hz / rate_hz;
            let sines =
                tool.middle.iter().enumerate().map(|(k, w)| w * (step * (k as f64 - tool.half as f64)).sin());
            let gain = sines.sum::<f64>() / step;
            assert!((gain - FRAC_1_SQRT_2).abs() < 0.01, "{rate_hz} Hz: gain {gain} at {half_power_hz} Hz");
        }
    }

    #[test]
    fn a_stretch_shorter_than_the_window_is_missing() {
        let mut samples: Vec<f32> = (0..20).map(|k| k as f32).collect();
        samples[15] = f32::NAN;
        let slope = SavitzkyGolay::new(200.0).derivative_stretches(&samples);
        assert!(slope[..15].iter().all(|s| (s - 200.0).abs() < 1e-3));
        assert!(slope[15..].iter().all(|s| s.is_nan()));
    }
}
