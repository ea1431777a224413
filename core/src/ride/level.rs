//! Whether the bike stays level: pitch against the ground chord, heave, frame pitch rate.

use rustfft::num_complex::Complex;

use crate::bike::Bike;
use crate::measured::NotMeasured;
use crate::signal::{SavitzkyGolay, Welch};

/// A bench bounce pitches the frame in this band, Hz.
const BENCH_BAND_HZ: [f64; 2] = [0.5, 4.0];

/// Pitch of the frame against the line through both wheels' contact points, from travel alone, rad.
///
/// With the fork at `head_angle_rad` from the horizontal and the wheelbase at full extension,
/// z_f = travel_f sin HA, z_r = vertical rear axle travel, and
/// pitch = atan2(z_f - z_r, WB - travel_f cos HA); + nose down (ISO 8855). 0 at full extension of
/// both ends. NaN where a travel is missing.
pub fn chord_pitch_rad(bike: &Bike, front_m: f64, rear_m: f64) -> f64 {
    let (sin, cos) = bike.head_angle_rad.sin_cos();
    (front_m * sin - rear_m).atan2(bike.wheelbase_m - front_m * cos)
}

/// Heave: how far the frame has sunk without pitching, (z_f + z_r) / 2, m, + down.
pub fn heave_m(bike: &Bike, front_m: f64, rear_m: f64) -> f64 {
    (front_m * bike.head_angle_rad.sin() + rear_m) / 2.0
}

/// How far two sensors of one pitching motion agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PitchAgreement {
    /// Frame pitch rate over rate of pitch against the chord, 1 where both are right.
    pub gain: f64,
    /// Share of the one that follows the other, 0..1.
    pub coherence: f64,
}

/// Compares the gyro's pitch rate with the rate of pitch against the chord, 0.5-4 Hz.
///
/// On a flat floor the ground does not turn, so both are the same motion: gain 1 +- 0.05 and coherence
/// over 0.95 say that travel sensors, geometry and gyro are right. Gain is that of least squares over
/// the band, |sum S_xy| / sum S_xx, coherence |sum S_xy|^2 / (sum S_xx sum S_yy), with Welch's spectra
/// (Bendat and Piersol, Random Data, chapter 6).
///
/// # Errors
/// Where the spectra have fewer than 16 segments (17 s), or nothing moves.
pub fn pitch_agreement(
    chord_pitch_rad: &[f32],
    pitch_rate_radps: &[f32],
    rate_hz: f64,
) -> Result<PitchAgreement, NotMeasured> {
    let chord_rate = SavitzkyGolay::new(rate_hz).derivative_stretches(chord_pitch_rad);
    let cross = Welch::new(rate_hz).cross(&chord_rate, pitch_rate_radps)?;
    let [low_hz, high_hz] = BENCH_BAND_HZ;
    let band = || (0..cross.xx.len()).filter(|&k| (low_hz..=high_hz).contains(&(k as f64 * cross.step_hz)));
    let sum = |density: &[f64]| band().map(|k| density[k]).sum::<f64>();
    let (xx, yy) = (sum(&cross.xx), sum(&cross.yy));
    let xy = band().map(|k| cross.xy[k]).sum::<Complex<f64>>().norm();
    if xx <= 0.0 || yy <= 0.0 {
        return Err(NotMeasured::because("the bike does not pitch here"));
    }
    Ok(PitchAgreement { gain: xy / xx, coherence: xy * xy / (xx * yy) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bench_bounce_shows_gain_and_coherence() {
        let rate_hz = 200.0;
        let t = |i: u32| f64::from(i) / rate_hz;
        // Bounced at 1.5 Hz with a 2.7 Hz wobble, 30 s.
        let pitch = |t: f64| 0.03 * (9.42 * t).sin() + 0.01 * (16.96 * t).sin();
        let rate = |t: f64| 0.03 * 9.42 * (9.42 * t).cos() + 0.01 * 16.96 * (16.96 * t).cos();
        let chord: Vec<f32> = (0..6000).map(|i| pitch(t(i)) as f32).collect();
        let gyro: Vec<f32> = (0..6000).map(|i| 0.9 * rate(t(i)) as f32).collect();
        let found = pitch_agreement(&chord, &gyro, rate_hz).unwrap();
        assert!((found.gain - 0.9).abs() < 0.01 && found.coherence > 0.999, "{found:?}");
        // Another motion altogether.
        let other: Vec<f32> = (0..6000).map(|i| (12.3 * t(i)).sin() as f32).collect();
        assert!(pitch_agreement(&chord, &other, rate_hz).unwrap().coherence < 0.3);
        assert!(pitch_agreement(&chord[..1000], &gyro[..1000], rate_hz).is_err());
    }

    /// Worked by hand from the formula: HA 63 deg, WB 1250 mm.
    #[test]
    fn chord_pitch_of_five_pairs() {
        let bike = Bike { head_angle_rad: 63_f64.to_radians(), wheelbase_m: 1.25, ..Bike::default() };
        let cases = [
            (150.0, 200.0, -3.213),
            (60.0, 20.0, 1.567),
            (50.0, 0.0, 2.079),
            (100.0, 100.0, -0.518),
            (0.0, 0.0, 0.0),
        ];
        for (front_mm, rear_mm, expected_deg) in cases {
            let pitch_deg = chord_pitch_rad(&bike, front_mm / 1000.0, rear_mm / 1000.0).to_degrees();
            assert!((pitch_deg - expected_deg).abs() < 5e-4, "({front_mm}, {rear_mm}) mm: {pitch_deg} deg");
        }
    }

    #[test]
    fn one_millimetre_is_about_a_twentieth_of_a_degree() {
        let bike = Bike::default();
        let step_deg = chord_pitch_rad(&bike, 0.05, 0.051).to_degrees()
            - chord_pitch_rad(&bike, 0.05, 0.05).to_degrees();
        assert!((step_deg + 0.05).abs() < 0.01, "{step_deg}");
    }

    #[test]
    fn heave_is_the_mean_of_vertical_travels() {
        let bike = Bike { head_angle_rad: std::f64::consts::FRAC_PI_2, ..Bike::default() };
        assert!((heave_m(&bike, 0.1, 0.06) - 0.08).abs() < 1e-12);
    }
}
