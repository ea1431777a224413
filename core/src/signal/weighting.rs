//! Frequency weightings of vibration on people: ISO 5349-1 (hand-arm) and ISO 2631-1 (whole body), as the
//! analogue filters of ISO 8041-1.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

use super::map_stretches;

/// Two rates nearer than this are one: a logger's crystal is never exact.
const SAME_RATE: f64 = 1.01;
/// What thinning leaves whole, as a share of the new rate: see [`resample`](super::resample).
const THINNED_SHARE: f64 = 0.4;
/// A stretch is continued at both ends by its mirror image for this many periods of the high-pass, after
/// which it remembers 2e-6 of what came before.
const MEMORY_PERIODS: f64 = 3.0;
/// Shorter blocks than this are transformed no faster, samples.
const SHORTEST_BLOCK: usize = 8192;

/// A frequency weighting: the product of a band limit, a transition from acceleration to velocity and, for
/// the whole body, an upward step, all of second order, with `s = i 2 pi f`, `w_k = 2 pi f_k`:
///
/// ```text
/// high-pass    s^2 / (s^2 + s w1 / Q1 + w1^2)
/// low-pass     w2^2 / (s^2 + s w2 / Q2 + w2^2)
/// transition   (1 + s / w3) / (1 + s / (Q4 w4) + (s / w4)^2)
/// step         (1 + s / (Q5 w5) + (s / w5)^2) / (1 + s / (Q6 w6) + (s / w6)^2) (w5 / w6)^2
/// ```
///
/// Source: ISO 8041-1, parameters from memory; the gains they give are those of the tables in ISO 5349-1
/// and ISO 2631-1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighting {
    band_hz: [f64; 2],
    transition_hz: f64,
    transition_q: f64,
    step: Option<Step>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Step {
    f5_hz: f64,
    q5: f64,
    f6_hz: f64,
    q6: f64,
}

/// At what rate samples stand, and at what rate the sensor gave them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sampling {
    /// Rate of the samples, Hz.
    pub rate_hz: f64,
    /// Rate at which the sensor was logged, Hz, before [`resample`](super::resample) brought it to `rate_hz`.
    pub native_rate_hz: f64,
}

impl Sampling {
    /// The frequency up to which the samples hold what the sensor felt, Hz: half the slower of both rates,
    /// or 0.4 of the samples' rate where the log was thinned to it. `NaN` unless both are positive.
    pub fn covered_to_hz(&self) -> f64 {
        if !(self.rate_hz > 0.0 && self.native_rate_hz > 0.0) {
            return f64::NAN;
        }
        let own = if self.native_rate_hz > SAME_RATE * self.rate_hz { THINNED_SHARE } else { 0.5 };
        (0.5 * self.native_rate_hz).min(own * self.rate_hz)
    }

    /// What straight lines between slower samples left of a tone, 0..1: `sinc^2(f / native rate)`, the
    /// spectrum of the triangle they put on every sample.
    fn line_gain(&self, f_hz: f64) -> f64 {
        let turns = f_hz / self.native_rate_hz;
        if self.rate_hz <= SAME_RATE * self.native_rate_hz || turns == 0.0 {
            return 1.0;
        }
        let half = 0.5 * TAU * turns;
        (half.sin() / half).powi(2)
    }
}

impl Weighting {
    /// Wh of ISO 5349-1, vibration passed to the hands; nominal 6.3 to 1250 Hz.
    pub const HAND_ARM: Self = Self {
        band_hz: [6.309_573_444_801_933, 1_258.925_411_794_167_3], // 10^0.8 and 10^3.1
        transition_hz: 100.0 / TAU,
        transition_q: 0.64,
        step: None,
    };

    /// Wk of ISO 2631-1, vertical vibration of the whole body; nominal 0.5 to 80 Hz.
    pub const WHOLE_BODY_VERTICAL: Self = Self {
        band_hz: [0.4, 100.0],
        transition_hz: 12.5,
        transition_q: 0.63,
        step: Some(Step { f5_hz: 2.37, q5: 0.91, f6_hz: 3.35, q6: 0.91 }),
    };

    /// Complex gain at `f_hz`; its magnitude is the weighting factor of the standards' tables.
    pub fn gain(&self, f_hz: f64) -> Complex64 {
        // Each factor in terms of i f / fk; 1/x is avoided so that 0 Hz gives 0.
        let quadratic = |fk: f64, q: f64| {
            let x = f_hz / fk;
            Complex64::new(1.0 - x * x, x / q)
        };
        let [low_hz, high_hz] = self.band_hz;
        let high_pass = -(f_hz / low_hz).powi(2) / quadratic(low_hz, FRAC_1_SQRT_2);
        let low_pass = quadratic(high_hz, FRAC_1_SQRT_2).inv();
        let transition =
            Complex64::new(1.0, f_hz / self.transition_hz) / quadratic(self.transition_hz, self.transition_q);
        let step = self.step.map_or(Complex64::ONE, |Step { f5_hz, q5, f6_hz, q6 }| {
            quadratic(f5_hz, q5) / quadratic(f6_hz, q6) * (f5_hz / f6_hz).powi(2)
        });
        high_pass * low_pass * transition * step
    }

    /// Weighted acceleration, in the unit of the samples, each stretch between missing samples on its own.
    ///
    /// The gain is applied in the frequency domain, so it is the analogue one at every frequency up to
    /// [`Sampling::covered_to_hz`], above which nothing is passed; what straight lines between slower samples
    /// took is given back (to 3 %). A stretch's mean (gravity, the sensor's zero) is taken out first, and its
    /// ends are continued by their mirror image, fading out, so that neither end jumps and nothing wraps
    /// round; peaks within a second of an end (0.1 s for the hands) may still be a fifth off.
    ///
    /// A stretch shorter than a period of the high-pass (2.5 s for the whole body, 0.16 s for the hands) is
    /// missing in the result; so is everything where the rates are not positive.
    pub fn apply(&self, samples: &[f32], sampling: Sampling) -> Vec<f32> {
        self.apply_with(&mut FftPlanner::new(), samples, sampling)
    }

    /// [`apply`](Self::apply) with a planner that other channels of the same length use as well.
    pub fn apply_with(&self, planner: &mut FftPlanner<f64>, samples: &[f32], sampling: Sampling) -> Vec<f32> {
        let period = sampling.rate_hz / self.band_hz[0];
        let covered_hz = sampling.covered_to_hz();
        if covered_hz.is_nan() || !period.is_finite() {
            return vec![f32::NAN; samples.len()];
        }
        let memory = (MEMORY_PERIODS * period).ceil() as usize;
        let mut gains = Vec::new();
        map_stretches(samples, |stretch| {
            let n = stretch.len();
            if (n as f64) < period {
                return vec![f64::NAN; n];
            }
            let continued = Continued::new(stretch, memory.min(n - 1));
            // Overlap-save: block by block, and of each what lies within memory of an end is left out, since it
            // wraps round.
            let length = (n + 2 * memory).min((4 * memory).max(SHORTEST_BLOCK)).next_power_of_two();
            if gains.len() != length / 2 + 1 {
                gains = self.gains(length, sampling);
            }
            let (forward, inverse) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
            let mut scratch = vec![
                Complex64::ZERO;
                forward.get_inplace_scratch_len().max(inverse.get_inplace_scratch_len())
            ];
            let mut block = vec![Complex64::ZERO; length];
            let mut out = Vec::with_capacity(n);
            while out.len() < n {
                let from = out.len();
                block
                    .iter_mut()
                    .zip(from..)
                    .for_each(|(z, k)| *z = continued.at(k as isize - memory as isize).into());
                forward.process_with_scratch(&mut block, &mut scratch);
                for (k, gain) in gains.iter().enumerate() {
                    block[k] *= gain;
                    // The upper half holds the negative frequencies.
                    if k > 0 && 2 * k < length {
                        block[length - k] *= gain.conj();
                    }
                }
                inverse.process_with_scratch(&mut block, &mut scratch);
                let whole = &block[memory..length - memory];
                out.extend(whole.iter().take(n - from).map(|z| z.re));
            }
            out
        })
    }

    /// The gain at each frequency of a transform, from 0 up to half the rate, and what going there and back
    /// multiplies by taken out.
    fn gains(&self, length: usize, sampling: Sampling) -> Vec<Complex64> {
        let covered_hz = sampling.covered_to_hz();
        let frequencies_hz = (0..=length / 2).map(|k| k as f64 * sampling.rate_hz / length as f64);
        let gain = |f_hz| match f_hz < covered_hz {
            true => self.gain(f_hz) / (length as f64 * sampling.line_gain(f_hz)),
            false => Complex64::ZERO,
        };
        frequencies_hz.map(gain).collect()
    }
}

/// A stretch about its mean, continued at either end by its mirror image, which fades to zero by a raised cosine.
struct Continued<'a> {
    stretch: &'a [f64],
    mean: f64,
    mirrored: usize,
}

impl<'a> Continued<'a> {
    /// `mirrored` samples are continued, fewer than the stretch has.
    fn new(stretch: &'a [f64], mirrored: usize) -> Self {
        Self { stretch, mean: stretch.iter().sum::<f64>() / stretch.len() as f64, mirrored }
    }

    fn at(&self, k: isize) -> f64 {
        let last = self.stretch.len() as isize - 1;
        let beyond = (-k).max(k - last).max(0) as usize;
        if beyond > self.mirrored {
            return 0.0;
        }
        let fade = match beyond {
            0 => 1.0,
            _ => 0.5 + 0.5 * (0.5 * TAU * beyond as f64 / (self.mirrored + 1) as f64).cos(),
        };
        let mirror = if k < 0 {
            -k
        } else if k > last {
            2 * last - k
        } else {
            k
        };
        (self.stretch[mirror as usize] - self.mean) * fade
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table A.2 of ISO 5349-1 at exact third-octave frequencies 10^(n/10) Hz (from memory).
    const HAND_ARM: [(f64, f64, f64); 11] = [
        (8.0, 0.727, 5e-4),
        (9.0, 0.873, 5e-4),
        (10.0, 0.951, 5e-4),
        (11.0, 0.958, 5e-4),
        (12.0, 0.896, 5e-4),
        (13.0, 0.782, 5e-4),
        (15.0, 0.519, 5e-4),
        (18.0, 0.256, 5e-4),
        (21.0, 0.127, 5e-4),
        (24.0, 0.0634, 5e-5),
        (27.0, 0.0314, 5e-5),
    ];

    /// Table 3 of ISO 2631-1, Wk, at nominal third-octave frequencies, Hz (from memory).
    const WHOLE_BODY: [(f64, f64, f64); 9] = [
        (1.0, 0.482, 5e-4),
        (2.0, 0.531, 5e-4),
        (4.0, 0.967, 5e-4),
        (5.0, 1.039, 5e-4),
        (6.3, 1.054, 5e-4),
        (8.0, 1.036, 5e-4),
        (16.0, 0.768, 5e-4),
        (31.5, 0.405, 5e-4),
        (63.0, 0.186, 5e-4),
    ];

    /// Weighting, frequency in Hz, table value, half its last digit.
    fn tables() -> impl Iterator<Item = (Weighting, f64, f64, f64)> {
        let hand =
            HAND_ARM.into_iter().map(|(n, w, digit)| (Weighting::HAND_ARM, 10_f64.powf(n / 10.0), w, digit));
        let body = WHOLE_BODY.into_iter().map(|(f, w, digit)| (Weighting::WHOLE_BODY_VERTICAL, f, w, digit));
        hand.chain(body)
    }

    /// Within 0.2 %, or half the table's last digit where that is more.
    fn agrees(gain: f64, table: f64, digit: f64) -> bool {
        (gain - table).abs() <= digit.max(0.002 * table)
    }

    #[test]
    fn gains_are_those_of_the_tables() {
        for (weighting, f_hz, table, digit) in tables() {
            let gain = weighting.gain(f_hz).norm();
            assert!(agrees(gain, table, digit), "{f_hz} Hz: {gain} against {table}");
        }
        assert_eq!(Weighting::HAND_ARM.gain(0.0).norm(), 0.0);
    }

    /// How large a tone of size 1 with gravity under it comes out, from the RMS away from the ends.
    fn weighted_tone(weighting: Weighting, f_hz: f64, sampling: Sampling) -> f64 {
        let n = (20.0 * sampling.rate_hz) as usize;
        let tone: Vec<f32> =
            (0..n).map(|k| (9.81 + (TAU * f_hz * k as f64 / sampling.rate_hz).sin()) as f32).collect();
        let out = weighting.apply(&tone, sampling);
        let middle = &out[n / 10..n - n / 10];
        let mean_square = middle.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / middle.len() as f64;
        (2.0 * mean_square).sqrt()
    }

    #[test]
    fn what_is_applied_meets_the_tables_at_every_rate() {
        for rate_hz in [100.0, 200.0, 500.0, 1000.0, 2000.0] {
            let sampling = Sampling { rate_hz, native_rate_hz: rate_hz };
            for (weighting, f_hz, table, digit) in tables() {
                let gain = weighted_tone(weighting, f_hz, sampling);
                if f_hz < 0.98 * sampling.covered_to_hz() {
                    assert!(agrees(gain, table, digit), "{f_hz} Hz at {rate_hz} Hz: {gain} for {table}");
                } else if (f_hz % rate_hz).min(rate_hz - f_hz % rate_hz) > 1.02 * sampling.covered_to_hz() {
                    assert!(gain < 0.01 * table, "{f_hz} Hz at {rate_hz} Hz is not cut off: {gain}");
                }
            }
        }
    }

    #[test]
    fn a_slow_log_on_a_fast_grid_keeps_its_size() {
        for (native_rate_hz, rate_hz) in [(100.0, 250.0), (200.0, 1000.0), (416.0, 1000.0)] {
            let sampling = Sampling { rate_hz, native_rate_hz };
            for f_hz in [8.0, 0.25 * native_rate_hz, 0.4 * native_rate_hz] {
                let times_s: Vec<f64> =
                    (0..(20.0 * native_rate_hz) as usize).map(|k| k as f64 / native_rate_hz).collect();
                let logged: Vec<f32> = times_s.iter().map(|t| (TAU * f_hz * t).sin() as f32).collect();
                let n = (19.0 * rate_hz) as usize;
                let grid = super::super::resample(&times_s, &logged, 0.0, rate_hz, n);
                let out = Weighting::HAND_ARM.apply(&grid, sampling);
                let middle = &out[n / 4..3 * n / 4];
                let mean_square =
                    middle.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / middle.len() as f64;
                let ratio = (2.0 * mean_square).sqrt() / Weighting::HAND_ARM.gain(f_hz).norm();
                // Images of the tone that fold back below half the native rate are left.
                assert!((ratio - 1.0).abs() < 0.03, "{f_hz} Hz, {native_rate_hz} on {rate_hz}: {ratio}");
            }
        }
    }

    #[test]
    fn what_a_rate_covers() {
        let covered = |native_rate_hz, rate_hz| Sampling { rate_hz, native_rate_hz }.covered_to_hz();
        assert_eq!(covered(1000.0, 1000.0), 500.0);
        assert_eq!(covered(200.0, 1000.0), 100.0);
        assert_eq!(covered(1600.0, 500.0), 200.0);
        assert!(covered(0.0, 500.0).is_nan() && covered(100.0, f64::NAN).is_nan());
    }

    #[test]
    fn a_gap_breaks_nothing_but_itself() {
        let sampling = Sampling { rate_hz: 500.0, native_rate_hz: 500.0 };
        let mut samples: Vec<f32> =
            (0..10_000).map(|k| (9.81 + (TAU * 16.0 * f64::from(k) / 500.0).sin()) as f32).collect();
        samples[5000..5010].fill(f32::NAN);
        samples[9000] = f32::NAN; // leaves 2 s, too short for the whole body
        let out = Weighting::WHOLE_BODY_VERTICAL.apply(&samples, sampling);
        assert!(out[5000..5010].iter().chain(&out[9000..]).all(|x| x.is_nan()));
        let most = |part: &[f32]| part.iter().fold(0.0_f32, |most, x| most.max(x.abs()));
        // The tone's own size right up to the gap: no step of gravity, no ringing.
        for part in [&out[..250], &out[4750..5000], &out[5010..5260]] {
            assert!((0.6..1.0).contains(&most(part)), "{}", most(part));
        }
        let nothing = Weighting::HAND_ARM.apply(&samples, Sampling { rate_hz: 0.0, native_rate_hz: 0.0 });
        assert!(nothing.len() == samples.len() && nothing.iter().all(|x| x.is_nan()));
    }

    /// Constructed: the same noise, begun elsewhere, is cut into blocks elsewhere.
    #[test]
    fn where_blocks_meet_nothing_shows() {
        let mut random = crate::signal::Random::seeded(8);
        let noise: Vec<f32> = (0..70_000).map(|_| (9.81 + random.share()) as f32).collect();
        let sampling = Sampling { rate_hz: 1000.0, native_rate_hz: 1000.0 };
        for weighting in [Weighting::HAND_ARM, Weighting::WHOLE_BODY_VERTICAL] {
            let begun = |at: usize| weighting.apply(&noise[at..], sampling)[10_000 - at..60_000].to_vec();
            let (one, other) = (begun(0), begun(5_000));
            let apart = one.iter().zip(&other).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            let most = one.iter().fold(0.0_f32, |most, x| most.max(x.abs()));
            // White noise has as much at half the rate, where the gain ends at once and so rings on, as anywhere.
            assert!(apart < 2e-3 * most, "{apart} of {most}");
        }
    }
}
