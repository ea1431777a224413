//! A digital filter as a cascade of second-order sections, run forward and backward.

use super::map_stretches;

/// `H(z) = (b0 + b1 z^-1 + b2 z^-2) / (1 + a1 z^-1 + a2 z^-2)`
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Section {
    pub b: [f64; 3],
    pub a: [f64; 2],
}

impl Section {
    fn dc_gain(&self) -> f64 {
        self.b.iter().sum::<f64>() / (1.0 + self.a[0] + self.a[1])
    }

    /// The state left behind by an endless constant input of one (transposed direct form II).
    fn settled(&self) -> [f64; 2] {
        let gain = self.dc_gain();
        let second = self.b[2] - self.a[1] * gain;
        [self.b[1] - self.a[0] * gain + second, second]
    }

    fn run<'a>(&self, samples: impl Iterator<Item = &'a mut f64>, mut state: [f64; 2]) {
        let Self { b, a } = *self;
        for sample in samples {
            let x = *sample;
            let y = b[0] * x + state[0];
            state = [b[1] * x - a[0] * y + state[1], b[2] * x - a[1] * y];
            *sample = y;
        }
    }
}

/// A filter in second-order sections, for one sampling rate.
///
/// Made by [`Sos::low_pass`], [`Sos::high_pass`] or [`Sos::band_pass`].
#[derive(Clone, Debug, PartialEq)]
pub struct Sos {
    pub(super) sections: Vec<Section>,
    /// Order of the whole filter; with an odd order one section is first-order.
    pub(super) order: usize,
}

impl Sos {
    /// Samples by which each end is extended, `3 (order + 1)`; a signal must be longer than this.
    pub fn extension(&self) -> usize {
        3 * (self.order + 1)
    }

    /// Runs the filter forward and backward: no delay, twice the attenuation (-6 dB at a Butterworth cutoff).
    ///
    /// Each end is extended by its odd reflection and the filter starts as if that end's first value had
    /// always been there (Gustafsson 1996 describes the problem; the choices are those of SciPy's
    /// `sosfiltfilt`). A signal of [`extension`](Self::extension) samples or fewer gives all `NaN`, and so
    /// does one with a missing sample: see [`zero_phase_stretches`](Self::zero_phase_stretches).
    pub fn zero_phase(&self, samples: &[f64]) -> Vec<f64> {
        let edge = self.extension();
        let n = samples.len();
        if n <= edge {
            return vec![f64::NAN; n];
        }
        let (first, last) = (samples[0], samples[n - 1]);
        let mut extended = Vec::with_capacity(n + 2 * edge);
        extended.extend(samples[1..=edge].iter().rev().map(|x| 2.0 * first - x));
        extended.extend_from_slice(samples);
        extended.extend(samples[n - 1 - edge..n - 1].iter().rev().map(|x| 2.0 * last - x));

        let mut start = extended[0];
        for section in &self.sections {
            section.run(extended.iter_mut(), section.settled().map(|s| s * start));
            start *= section.dc_gain();
        }
        let mut start = extended[extended.len() - 1];
        for section in &self.sections {
            section.run(extended.iter_mut().rev(), section.settled().map(|s| s * start));
            start *= section.dc_gain();
        }
        extended.truncate(edge + n);
        extended.drain(..edge);
        extended
    }

    /// [`zero_phase`](Self::zero_phase) of each stretch between missing samples on its own; a stretch too
    /// short for it becomes `NaN`.
    pub fn zero_phase_stretches(&self, samples: &[f32]) -> Vec<f32> {
        map_stretches(samples, |stretch| self.zero_phase(stretch))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_passes_from_the_first_sample() {
        let low = Sos::low_pass(4, 5.0, 1000.0).unwrap();
        assert!(low.zero_phase(&[3.0; 40]).iter().all(|y| (y - 3.0).abs() < 1e-9));
        let high = Sos::high_pass(4, 5.0, 1000.0).unwrap();
        assert!(high.zero_phase(&[3.0; 40]).iter().all(|y| y.abs() < 1e-9));
    }

    #[test]
    fn gaps_stay_and_nothing_leaks_across_them() {
        let low = Sos::low_pass(2, 20.0, 200.0).unwrap();
        let mut samples = vec![1.0_f32; 60];
        samples[30] = f32::NAN;
        samples[31..].fill(5.0);
        samples[50] = f32::NAN; // leaves 9 samples, too few to filter
        let out = low.zero_phase_stretches(&samples);
        assert!(out[..30].iter().all(|y| (y - 1.0).abs() < 1e-6));
        assert!(out[31..50].iter().all(|y| (y - 5.0).abs() < 1e-6));
        assert!(out[30].is_nan() && out[50..].iter().all(|y| y.is_nan()));
    }
}
