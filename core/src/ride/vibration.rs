//! What the rider has to take: vibration of the hands (ISO 5349-1) and of the whole body (ISO 2631-1).
//!
//! The stem is not the grip and the frame is not the seat, on which the standards measure: these numbers
//! compare runs and are no medical assessment.

use std::ops::Range;

use rustfft::FftPlanner;
use serde::{Deserialize, Serialize};

use crate::measured::{Measured, NotMeasured};
use crate::signal::{Sampling, Weighting};

/// Daily exposure A(8) of the hands from which an employer must act, m/s^2 (Directive 2002/44/EC, article 3).
pub const HAND_ARM_ACTION_MPS2: f64 = 2.5;
/// Daily exposure A(8) of the hands not to be exceeded at work, m/s^2 (Directive 2002/44/EC, article 3).
pub const HAND_ARM_LIMIT_MPS2: f64 = 5.0;
/// Above this crest factor RMS alone understates shocks and the vibration dose value counts (ISO 2631-1,
/// 6.2.1 and 6.3).
pub const SHOCKS_CREST_FACTOR: f64 = 9.0;
/// Third octaves of hand-arm vibration, centre frequencies, Hz (ISO 5349-1).
pub const HAND_ARM_BAND_HZ: [f64; 2] = [6.3, 1250.0];
/// Third octaves of whole-body vibration, centre frequencies, Hz (ISO 2631-1).
pub const WHOLE_BODY_BAND_HZ: [f64; 2] = [0.5, 80.0];

/// Below this much coverage hand-arm vibration is not measured, Hz: of vibration with a flat spectrum a
/// quarter of the weighted power, an eighth of the RMS, lies above.
const HAND_ARM_NEEDS_HZ: f64 = 40.0;
/// The same for the whole body, Hz.
const WHOLE_BODY_NEEDS_HZ: f64 = 25.0;
/// Peaks and doses of the whole body need this much, Hz: at 25 Hz what is folded back makes the crest a third
/// larger, at 50 Hz a hundredth (model).
const WHOLE_BODY_PEAKS_NEED_HZ: f64 = 40.0;
/// A logger's crystal is never exact.
const RATE_TOLERANCE: f64 = 0.99;
/// The day of A(8), s.
const EIGHT_HOURS_S: f64 = 8.0 * 3600.0;
/// A shorter stretch has no RMS worth the name, s.
const SHORTEST_S: f64 = 1.0;
/// Peaks and doses need all but this share of the time.
const MISSING_MAX: f64 = 0.05;

/// Vibration over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VibrationReadout {
    /// RMS of the Wh-weighted acceleration of the bar, vector sum of three axes, m/s^2:
    /// `a_hv = sqrt(a_hwx^2 + a_hwy^2 + a_hwz^2)` (ISO 5349-1, equation 1).
    pub hand_arm_rms_mps2: Measured,
    /// What this section adds to the daily exposure, m/s^2: `A_i(8) = a_hv sqrt(T / 8 h)` with its own length
    /// `T`; the day's `A(8)` is the root of the sum of its runs' squares (ISO 5349-1, equations 2 and 3). See
    /// [`HAND_ARM_ACTION_MPS2`] and [`HAND_ARM_LIMIT_MPS2`].
    pub hand_arm_a8_mps2: Measured,
    /// What the bar sensor's rate lets through, Hz; of [`HAND_ARM_BAND_HZ`] the rest is cut off.
    pub hand_arm_covered_to_hz: Measured,
    /// RMS of the Wk-weighted vertical acceleration of the frame, m/s^2 (ISO 2631-1, 6.1).
    pub whole_run_rms_mps2: Measured,
    /// Its largest magnitude over its RMS; see [`SHOCKS_CREST_FACTOR`].
    pub whole_run_crest: Measured,
    /// Vibration dose value `(integral of a_w^4 dt)^(1/4)`, m/s^1.75 (ISO 2631-1, 6.3.2); grows with time, so
    /// it compares only sections of like length.
    pub whole_run_vdv_mps175: Measured,
    /// What the frame sensor's rate lets through, Hz; of [`WHOLE_BODY_BAND_HZ`] the rest is cut off.
    pub whole_run_covered_to_hz: Measured,
}

/// What vibration is read from; specific force on one grid, m/s^2, NaN where missing.
#[derive(Clone, Debug)]
pub struct VibrationInput<'a> {
    /// The bar sensor's three axes, any orthogonal ones, or why they cannot be used.
    pub bar_mps2: Result<[&'a [f32]; 3], NotMeasured>,
    /// Rate at which it was logged, Hz; the slowest axis counts.
    pub bar_native_hz: f64,
    /// The frame sensor's axis that points up, or why it cannot be used.
    pub frame_up_mps2: Result<&'a [f32], NotMeasured>,
    /// Rate at which it was logged, Hz.
    pub frame_native_hz: f64,
    /// Rate of the grid, Hz.
    pub rate_hz: f64,
}

/// Weighted vibration of a whole run, from which every section is read.
#[derive(Clone, Debug, PartialEq)]
pub struct Vibration {
    /// Squared vector sum at the bar, m^2/s^4.
    hand_arm: Result<Weighted, NotMeasured>,
    /// Vertical at the frame, m/s^2.
    whole_body: Result<Weighted, NotMeasured>,
    rate_hz: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct Weighted {
    samples: Vec<f32>,
    covered_to_hz: f64,
    /// Whether its peaks can be read, too.
    peaks: Result<(), NotMeasured>,
}

impl Vibration {
    /// Weights a whole run. Gravity goes out with the mean of each stretch between gaps, and what is left of
    /// it as the bike tips with the high-pass of either weighting; see [`Weighting::apply`].
    pub fn new(input: &VibrationInput<'_>) -> Self {
        let mut planner = FftPlanner::new();
        Self {
            hand_arm: input.bar_mps2.clone().and_then(|axes| {
                let sampling = Sampling { rate_hz: input.rate_hz, native_rate_hz: input.bar_native_hz };
                let covered_to_hz = covered(sampling, HAND_ARM_NEEDS_HZ, "hand-arm vibration")?;
                let [x, y, z] = axes.map(|axis| Weighting::HAND_ARM.apply_with(&mut planner, axis, sampling));
                let sum = |((x, y), z): ((&f32, &f32), &f32)| x * x + y * y + z * z;
                let samples = x.iter().zip(&y).zip(&z).map(sum).collect();
                Ok(Weighted { samples, covered_to_hz, peaks: Ok(()) })
            }),
            whole_body: input.frame_up_mps2.clone().and_then(|up| {
                let sampling = Sampling { rate_hz: input.rate_hz, native_rate_hz: input.frame_native_hz };
                let covered_to_hz = covered(sampling, WHOLE_BODY_NEEDS_HZ, "whole-body vibration")?;
                let samples = Weighting::WHOLE_BODY_VERTICAL.apply_with(&mut planner, up, sampling);
                let peaks = covered(sampling, WHOLE_BODY_PEAKS_NEED_HZ, "a peak of whole-body vibration");
                Ok(Weighted { samples, covered_to_hz, peaks: peaks.map(|_| ()) })
            }),
            rate_hz: input.rate_hz,
        }
    }

    /// Reads a range of samples.
    pub fn read(&self, range: Range<usize>) -> VibrationReadout {
        let part = |weighted: &Result<Weighted, NotMeasured>| match weighted {
            Ok(weighted) => Part::of(weighted.samples.get(range.clone()).unwrap_or_default(), self.rate_hz),
            Err(reason) => Err(reason.clone()),
        };
        let covered = |weighted: &Result<Weighted, NotMeasured>| {
            weighted.as_ref().map(|weighted| weighted.covered_to_hz).map_err(Clone::clone).into()
        };
        let hand_arm = part(&self.hand_arm).map(|part| (part.mean().sqrt(), part.finite.len()));
        let whole_body = part(&self.whole_body);
        let shocks = self.whole_body.as_ref().map_err(Clone::clone).and_then(|body| body.peaks.clone());
        let shocks = shocks.and_then(|()| whole_body.clone());
        let exposure_s = range.len() as f64 / self.rate_hz;
        let exposed = hand_arm.clone().map(|(rms, _)| rms * (exposure_s / EIGHT_HOURS_S).sqrt());
        VibrationReadout {
            hand_arm_rms_mps2: match hand_arm {
                Ok((rms, n)) => Measured::value(rms).with_n(n),
                Err(reason) => Measured::not(reason),
            },
            hand_arm_a8_mps2: exposed.into(),
            hand_arm_covered_to_hz: covered(&self.hand_arm),
            whole_run_rms_mps2: match &whole_body {
                Ok(part) => Measured::value(part.rms()).with_n(part.finite.len()),
                Err(reason) => Measured::not(reason.clone()),
            },
            whole_run_crest: shocks.clone().and_then(|part| part.crest()).into(),
            whole_run_vdv_mps175: shocks.and_then(|part| part.dose(self.rate_hz)).into(),
            whole_run_covered_to_hz: covered(&self.whole_body),
        }
    }
}

/// How far the rate reaches, Hz, if that is far enough.
fn covered(sampling: Sampling, needs_hz: f64, what: &str) -> Result<f64, NotMeasured> {
    let covered_hz = sampling.covered_to_hz();
    if covered_hz.is_nan() {
        return Err(NotMeasured::because("the accelerometer's rate is not known"));
    }
    if covered_hz < RATE_TOLERANCE * needs_hz {
        return Err(NotMeasured::because(format!(
            "the accelerometer is logged at {:.0} Hz, which covers {covered_hz:.0} Hz; {what} needs \
             {needs_hz:.0} Hz",
            sampling.native_rate_hz
        )));
    }
    Ok(covered_hz)
}

/// The finite samples of one section.
#[derive(Clone)]
struct Part {
    finite: Vec<f64>,
    missing_share: f64,
}

impl Part {
    fn of(samples: &[f32], rate_hz: f64) -> Result<Self, NotMeasured> {
        let finite: Vec<f64> = samples.iter().filter(|x| x.is_finite()).map(|&x| f64::from(x)).collect();
        if (finite.len() as f64) < SHORTEST_S * rate_hz {
            return Err(NotMeasured::because(
                "less than a second here is without a gap, or too near to one to be weighted",
            ));
        }
        let missing_share = 1.0 - finite.len() as f64 / samples.len() as f64;
        Ok(Self { finite, missing_share })
    }

    fn mean(&self) -> f64 {
        self.finite.iter().sum::<f64>() / self.finite.len() as f64
    }

    fn rms(&self) -> f64 {
        (self.finite.iter().map(|x| x * x).sum::<f64>() / self.finite.len() as f64).sqrt()
    }

    fn whole(&self) -> Result<(), NotMeasured> {
        if self.missing_share > MISSING_MAX {
            return Err(NotMeasured::because(
                "vibration of the frame is missing for more than a twentieth of the time",
            ));
        }
        Ok(())
    }

    fn crest(&self) -> Result<f64, NotMeasured> {
        self.whole()?;
        let rms = self.rms();
        if rms <= 0.0 {
            return Err(NotMeasured::because("the frame does not vibrate here"));
        }
        Ok(self.finite.iter().fold(0.0_f64, |most, x| most.max(x.abs())) / rms)
    }

    fn dose(&self, rate_hz: f64) -> Result<f64, NotMeasured> {
        self.whole()?;
        Ok((self.finite.iter().map(|x| x.powi(4)).sum::<f64>() / rate_hz).powf(0.25))
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    const RATE_HZ: f64 = 1000.0;

    fn tone(size_mps2: f64, f_hz: f64, rate_hz: f64) -> Vec<f32> {
        let at = |k| 9.81 + size_mps2 * (TAU * f_hz * f64::from(k) / rate_hz).sin();
        (0..(60.0 * rate_hz) as u32).map(|k| at(k) as f32).collect()
    }

    fn missing(place: &str) -> NotMeasured {
        NotMeasured::because(format!("no {place} acceleration is logged"))
    }

    fn vibration(bar: Option<&[f32]>, frame: Option<&[f32]>) -> Vibration {
        let still = vec![0.0; bar.map_or(0, <[f32]>::len)];
        let input = VibrationInput {
            bar_mps2: bar.map(|bar| [bar, still.as_slice(), bar]).ok_or_else(|| missing("bar")),
            bar_native_hz: RATE_HZ,
            frame_up_mps2: frame.ok_or_else(|| missing("frame")),
            frame_native_hz: RATE_HZ,
            rate_hz: RATE_HZ,
        };
        Vibration::new(&input)
    }

    fn near(value: &Measured, expected: f64, share: f64) {
        let value = value.get().unwrap();
        assert!((value / expected - 1.0).abs() < share, "{value} instead of {expected}");
    }

    /// Weighting factors: ISO 5349-1, table A.2 at 10^1.2 Hz; ISO 2631-1, table 3 at 8 Hz (both from memory).
    /// A tone's peak is sqrt(2) of its RMS; the mean of its fourth power is 3/8 of its size's.
    #[test]
    fn a_tone_reads_as_the_tables_say() {
        let bar = tone(10.0, 10_f64.powf(1.2), RATE_HZ);
        let frame = tone(2.0, 8.0, RATE_HZ);
        let vibration = vibration(Some(&bar), Some(&frame));
        let read = vibration.read(0..60_000);
        // The bar feels the tone on two axes.
        let on_one_axis = 10.0 * 0.896 / 2.0_f64.sqrt();
        near(&read.hand_arm_rms_mps2, on_one_axis * 2.0_f64.sqrt(), 0.002);
        // One minute of 480: the 480th part of the squares.
        near(&read.hand_arm_a8_mps2, on_one_axis * 2.0_f64.sqrt() / 480.0_f64.sqrt(), 0.002);
        near(&read.hand_arm_covered_to_hz, 500.0, 1e-12);
        let size = 2.0 * 1.036;
        near(&read.whole_run_rms_mps2, size / 2.0_f64.sqrt(), 0.002);
        let inside = vibration.read(3000..57_000);
        near(&inside.whole_run_crest, 2.0_f64.sqrt(), 0.002);
        near(&inside.whole_run_vdv_mps175, size * (0.375_f64 * 54.0).powf(0.25), 0.002);
    }

    #[test]
    fn a_knock_raises_the_crest_factor() {
        let mut frame = tone(0.5, 8.0, RATE_HZ);
        for k in 0..40 {
            frame[30_000 + k] += 60.0 * (0.5 * TAU * k as f64 / 40.0).sin() as f32;
        }
        let read = vibration(None, Some(&frame)).read(0..60_000);
        assert!(*read.whole_run_crest.get().unwrap() > SHOCKS_CREST_FACTOR);
    }

    #[test]
    fn what_is_missing_says_so() {
        let frame = tone(2.0, 8.0, RATE_HZ);
        let nothing = vibration(None, None).read(0..60_000);
        assert!(nothing.hand_arm_rms_mps2.get().unwrap_err().0.contains("bar"));
        assert!(nothing.whole_run_vdv_mps175.get().unwrap_err().0.contains("frame"));
        let read_frame = vibration(Some(&frame), None).read(0..60_000);
        assert!(read_frame.hand_arm_rms_mps2.get().is_ok());

        let slow = |native_rate_hz| {
            let input = VibrationInput {
                bar_mps2: Ok([&frame; 3]),
                bar_native_hz: native_rate_hz,
                frame_up_mps2: Ok(&frame),
                frame_native_hz: native_rate_hz,
                rate_hz: RATE_HZ,
            };
            Vibration::new(&input).read(0..frame.len())
        };
        let reason = slow(60.0).hand_arm_rms_mps2.get().unwrap_err().0;
        assert!(reason.contains("60 Hz") && reason.contains("40 Hz"), "{reason}");
        assert!(slow(60.0).whole_run_rms_mps2.get().is_ok() && slow(40.0).whole_run_rms_mps2.get().is_err());
        assert!(slow(f64::NAN).hand_arm_rms_mps2.get().is_err());
    }

    #[test]
    fn gaps_cost_the_peaks_before_the_rms() {
        let mut frame = tone(2.0, 8.0, RATE_HZ);
        frame[20_000..24_000].fill(f32::NAN);
        let input = VibrationInput {
            bar_mps2: Err(missing("bar")),
            bar_native_hz: 0.0,
            frame_up_mps2: Ok(&frame),
            frame_native_hz: RATE_HZ,
            rate_hz: RATE_HZ,
        };
        let vibration = Vibration::new(&input);
        let all = vibration.read(0..60_000);
        near(&all.whole_run_rms_mps2, 2.0 * 1.036 / 2.0_f64.sqrt(), 0.002);
        assert!(all.whole_run_crest.get().unwrap_err().0.contains("twentieth"));
        for outside in [19_900..24_100, 70_000..80_000, 5..5] {
            assert!(vibration.read(outside).whole_run_rms_mps2.get().is_err());
        }
    }

    /// The bounds of [`HAND_ARM_NEEDS_HZ`] and [`WHOLE_BODY_NEEDS_HZ`], from the weightings themselves.
    #[test]
    fn what_the_least_rate_loses_is_as_documented() {
        for (weighting, needs_hz) in
            [(Weighting::HAND_ARM, HAND_ARM_NEEDS_HZ), (Weighting::WHOLE_BODY_VERTICAL, WHOLE_BODY_NEEDS_HZ)]
        {
            let power = |to_hz: f64| -> f64 {
                (0..(20.0 * to_hz) as u32).map(|k| weighting.gain(0.05 * f64::from(k)).norm_sqr()).sum()
            };
            let kept = power(needs_hz) / power(5000.0);
            assert!((kept - 0.75).abs() < 0.03, "{kept}");
        }
    }
}
