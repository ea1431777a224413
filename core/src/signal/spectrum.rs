//! Power and cross-spectral density by averaged, windowed segments (Welch 1967).

use std::f64::consts::PI;
use std::sync::Arc;

use rustfft::num_complex::Complex64;
use rustfft::{Fft, FftPlanner};

use crate::NotMeasured;

/// Segments below which coherence says more about chance than about the signals.
const COHERENCE_SEGMENTS: usize = 16;

/// Longest segment, samples; keeps nonsense rates from asking for endless memory.
const MAX_SEGMENT: usize = 1 << 20;

/// Welch's method: Hann window, half overlap, each segment's mean taken out, one-sided density.
///
/// Segments lie inside stretches without missing samples; what is left over at their ends is not used.
#[derive(Clone)]
pub struct Welch {
    rate_hz: f64,
    /// Periodic Hann window, one segment long.
    window: Vec<f64>,
    fft: Arc<dyn Fft<f64>>,
}

/// One-sided power spectral density.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// Spacing of the bins from 0 Hz, Hz.
    pub step_hz: f64,
    /// Power per hertz in each bin, unit^2/Hz.
    pub density: Vec<f64>,
    /// Segments averaged.
    pub segments: usize,
}

/// One-sided densities of two signals and of what they have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossSpectrum {
    /// Spacing of the bins from 0 Hz, Hz.
    pub step_hz: f64,
    /// Density of the first signal, unit^2/Hz.
    pub xx: Vec<f64>,
    /// Density of the second signal, unit^2/Hz.
    pub yy: Vec<f64>,
    /// Cross-spectral density `conj(X) Y`: its angle is the lead of the second signal.
    pub xy: Vec<Complex64>,
    /// Segments averaged.
    pub segments: usize,
}

impl Welch {
    /// Segments of 2 s, for signals of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        Self::with_segment(rate_hz, 2.0)
    }

    /// Segments of `segment_s`: finer bins and fewer of them, or the reverse.
    pub fn with_segment(rate_hz: f64, segment_s: f64) -> Self {
        let length = ((segment_s * rate_hz).round() as usize).clamp(2, MAX_SEGMENT);
        let turn = 2.0 * PI / length as f64;
        Self {
            rate_hz,
            window: (0..length).map(|k| 0.5 - 0.5 * (turn * k as f64).cos()).collect(),
            fft: FftPlanner::new().plan_fft_forward(length),
        }
    }

    /// Equivalent noise bandwidth of the window, in bins (Harris 1978; 1.5 for Hann).
    pub fn noise_bandwidth_bins(&self) -> f64 {
        let sum: f64 = self.window.iter().sum();
        self.window.len() as f64 * self.window_power() / (sum * sum)
    }

    /// Power spectral density; not measured where no stretch holds a whole segment.
    pub fn density<T: Copy + Into<f64>>(&self, samples: &[T]) -> Result<Spectrum, NotMeasured> {
        let mut density = vec![0.0; self.bins()];
        let segments = self.average(samples, samples, |x, _, k| density[k] += x.norm_sqr());
        self.need(segments, 1, "a spectrum")?;
        self.scale(segments, &mut density);
        Ok(Spectrum { step_hz: self.step_hz(), density, segments })
    }

    /// Densities of two signals sampled together; not measured with fewer than 16 segments in which
    /// neither is missing.
    pub fn cross<T: Copy + Into<f64>>(&self, x: &[T], y: &[T]) -> Result<CrossSpectrum, NotMeasured> {
        let mut xx = vec![0.0; self.bins()];
        let mut yy = vec![0.0; self.bins()];
        let mut xy = vec![Complex64::ZERO; self.bins()];
        let segments = self.average(x, y, |x, y, k| {
            xx[k] += x.norm_sqr();
            yy[k] += y.norm_sqr();
            xy[k] += x.conj() * y;
        });
        self.need(segments, COHERENCE_SEGMENTS, "a cross-spectrum")?;
        self.scale(segments, &mut xx);
        self.scale(segments, &mut yy);
        self.scale(segments, &mut xy);
        Ok(CrossSpectrum { step_hz: self.step_hz(), xx, yy, xy, segments })
    }

    /// Calls `add` for every bin of every segment's transforms and returns the number of segments.
    fn average<T: Copy + Into<f64>>(
        &self,
        x: &[T],
        y: &[T],
        mut add: impl FnMut(Complex64, Complex64, usize),
    ) -> usize {
        let length = self.window.len();
        // Both real signals ride in one complex transform: x in its even part, y in its odd one.
        let both: Vec<Complex64> =
            x.iter().zip(y).map(|(&x, &y)| Complex64::new(x.into(), y.into())).collect();
        let mut segment = vec![Complex64::ZERO; length];
        let mut scratch = vec![Complex64::ZERO; self.fft.get_inplace_scratch_len()];
        let mut segments = 0;
        for stretch in both.split(|z| !z.is_finite()) {
            for samples in stretch.windows(length).step_by(length - length / 2) {
                let mean = samples.iter().sum::<Complex64>() / length as f64;
                for ((place, sample), weight) in segment.iter_mut().zip(samples).zip(&self.window) {
                    *place = (sample - mean) * weight;
                }
                self.fft.process_with_scratch(&mut segment, &mut scratch);
                for k in 0..self.bins() {
                    let (one, mirrored) = (segment[k], segment[(length - k) % length].conj());
                    let y = (one - mirrored) * Complex64::new(0.0, -0.5);
                    add((one + mirrored) * 0.5, y, k);
                }
                segments += 1;
            }
        }
        segments
    }

    fn need(&self, segments: usize, needed: usize, what: &str) -> Result<(), NotMeasured> {
        if segments >= needed {
            return Ok(());
        }
        let segment_s = self.window.len() as f64 / self.rate_hz;
        let least_s = segment_s * (needed + 1) as f64 / 2.0;
        Err(NotMeasured::because(format!(
            "{segments} whole segments of {segment_s} s without a gap; {what} needs {needed}, which is \
             {least_s} s in one piece",
            least_s = least_s.max(segment_s)
        )))
    }

    /// From sums over segments to one-sided densities.
    fn scale<T: std::ops::MulAssign<f64>>(&self, segments: usize, sums: &mut [T]) {
        let two_sided = 1.0 / (segments as f64 * self.rate_hz * self.window_power());
        for (k, sum) in sums.iter_mut().enumerate() {
            // 0 Hz and half the rate have no mirror image to count.
            let alone = k == 0 || 2 * k == self.window.len();
            *sum *= if alone { two_sided } else { 2.0 * two_sided };
        }
    }

    fn window_power(&self) -> f64 {
        self.window.iter().map(|w| w * w).sum()
    }

    fn bins(&self) -> usize {
        self.window.len() / 2 + 1
    }

    fn step_hz(&self) -> f64 {
        self.rate_hz / self.window.len() as f64
    }
}

impl Spectrum {
    /// Power in the bins from `low_hz` to `high_hz` (both included), unit^2.
    pub fn power(&self, low_hz: f64, high_hz: f64) -> f64 {
        let inside = |k: &usize| (low_hz..=high_hz).contains(&(*k as f64 * self.step_hz));
        (0..self.density.len()).filter(inside).map(|k| self.density[k] * self.step_hz).sum()
    }
}

impl CrossSpectrum {
    /// Magnitude-squared coherence in each bin, 0 (nothing in common) to 1; `NaN` where a signal has no power.
    pub fn coherence(&self) -> Vec<f64> {
        self.xy
            .iter()
            .zip(self.xx.iter().zip(&self.yy))
            .map(|(xy, (xx, yy))| xy.norm_sqr() / (xx * yy))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Harris 1978, table 1.
    #[test]
    fn hann_noise_bandwidth() {
        assert!((Welch::new(1000.0).noise_bandwidth_bins() - 1.5).abs() < 1e-9);
    }

    #[test]
    fn missing_samples_cost_their_segments_only() {
        let welch = Welch::new(100.0);
        let tone = |k: usize| (2.0 * PI * 5.0 * k as f64 / 100.0).sin() as f32;
        let mut samples: Vec<f32> = (0..1000).map(tone).collect();
        let whole = welch.density(&samples).unwrap();
        samples[450] = f32::NAN;
        let holed = welch.density(&samples).unwrap();
        assert_eq!((whole.segments, holed.segments), (9, 3 + 4));
        assert!((holed.power(4.0, 6.0) - 0.5).abs() < 1e-3, "{}", holed.power(4.0, 6.0));
    }

    #[test]
    fn too_few_segments_are_refused_with_what_is_needed() {
        let welch = Welch::new(100.0);
        let samples = vec![0.0_f32; 1699];
        let reason = welch.cross(&samples, &samples).unwrap_err().to_string();
        assert!(reason.contains("15 whole segments of 2 s") && reason.contains("17 s"), "{reason}");
        let reason = welch.density(&samples[..199]).unwrap_err().to_string();
        assert!(reason.contains("0 whole segments") && reason.contains("2 s in one piece"), "{reason}");
    }

    #[test]
    fn a_late_copy_is_coherent_and_lags() {
        let noise: Vec<f64> = (0..4000).map(|k| f64::from(k * k % 1009) - 500.0).collect();
        let cross = Welch::new(100.0).cross(&noise[10..], &noise[9..3999]).unwrap();
        let coherence = cross.coherence();
        assert!(coherence[10] > 0.98, "{}", coherence[10]);
        // Bin 10 is 5 Hz; one sample at 100 Hz late is 18 degrees behind.
        assert!((cross.xy[10].arg() + 0.05 * 2.0 * PI).abs() < 0.05, "{}", cross.xy[10].arg());
    }
}
