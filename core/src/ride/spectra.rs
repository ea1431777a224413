//! At which frequencies axles, frame and bar move.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use crate::measured::{Measured, NotMeasured};
use crate::role::{Axis, End, Place, Role};
use crate::signal::{Spectrum, Welch};

/// Long enough for the lowest band, s.
const SEGMENT_S: f64 = 4.0;
/// Of a logged rate, up to here nothing is folded or rounded off.
const TOLD_SHARE: f64 = 0.4;
/// Bands `1000 Hz * 10^(k / 10)`: 1 Hz to 50 Hz by their rounded names.
const BANDS: Range<i32> = -30..-12;

/// RMS in each one-third-octave band, Welch's method, segments of 4 s.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpectraReadout {
    /// Of the front axle's speed, m/s.
    pub front_axle_speed_mps: Measured<Vec<f64>>,
    /// Of the rear axle's speed, m/s.
    pub rear_axle_speed_mps: Measured<Vec<f64>>,
    /// Of the frame's acceleration upwards, m/s^2.
    pub frame_up_mps2: Measured<Vec<f64>>,
    /// Of the bar's acceleration upwards, m/s^2.
    pub bar_up_mps2: Measured<Vec<f64>>,
}

impl SpectraReadout {
    /// Exact mid-band frequencies, Hz (IEC 61260-1:2014, 5.2: base-ten ratio `10^(3/10)`, one third), in the order of
    /// the bands. A slowly logged channel has fewer bands: the first of these.
    pub fn centres_hz() -> impl Iterator<Item = f64> {
        BANDS.map(|k| 1e3 * 10_f64.powf(f64::from(k) / 10.0))
    }

    /// Reads one stretch.
    pub fn of(basis: &Basis<'_>, range: &Range<usize>) -> Self {
        let welch = Welch::with_segment(basis.rate_hz(), SEGMENT_S);
        let read = |role: Role, samples: Result<&[f32], NotMeasured>| {
            let bands = samples.and_then(|samples| {
                let native_hz = basis.native_rate_hz(role).unwrap_or_default().min(basis.rate_hz());
                Ok(band_rms(&welch.density(&samples[range.clone()])?, TOLD_SHARE * native_hz))
            });
            Measured::from(bands)
        };
        let axle = |end| read(Role::Travel(end), basis.axle_speed_mps(end));
        let up = |place| {
            let role = Role::Accel(place, Axis::Z);
            read(role, basis.logged(role))
        };
        Self {
            front_axle_speed_mps: axle(End::Front),
            rear_axle_speed_mps: axle(End::Rear),
            frame_up_mps2: up(Place::Frame),
            bar_up_mps2: up(Place::Bar),
        }
    }
}

/// RMS in each band that ends at `to_hz` or below. A bin's power is spread evenly over its width.
fn band_rms(spectrum: &Spectrum, to_hz: f64) -> Vec<f64> {
    let edge = 10_f64.powf(0.05);
    let bands = SpectraReadout::centres_hz().map(|centre| [centre / edge, centre * edge]);
    let half = spectrum.step_hz / 2.0;
    bands
        .take_while(|[_, high]| *high <= to_hz)
        .map(|[low, high]| {
            let power = spectrum.density.iter().enumerate().map(|(k, density)| {
                let middle = k as f64 * spectrum.step_hz;
                density * ((middle + half).min(high) - (middle - half).max(low)).max(0.0)
            });
            power.sum::<f64>().sqrt()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine of amplitude A has an RMS of A / sqrt(2), and all of it in the band it lies in; the window spreads it
    /// over a bin to either side.
    #[test]
    fn a_sine_stands_in_its_band_with_its_rms() {
        let samples: Vec<f64> =
            (0..40_000).map(|i| 3.0 * (std::f64::consts::TAU * 12.5 * f64::from(i) / 1000.0).sin()).collect();
        let bands = band_rms(&Welch::with_segment(1000.0, SEGMENT_S).density(&samples).unwrap(), 400.0);
        let centres: Vec<f64> = SpectraReadout::centres_hz().collect();
        assert_eq!(bands.len(), 18);
        let strongest = (0..bands.len()).max_by(|&a, &b| bands[a].total_cmp(&bands[b])).unwrap();
        assert!((centres[strongest] - 12.589).abs() < 1e-3, "{centres:?}");
        assert!((bands[strongest] - 3.0 / 2_f64.sqrt()).abs() < 1e-3, "{bands:?}");
        assert!(bands[..strongest - 1].iter().all(|rms| *rms < 1e-3), "{bands:?}");
    }

    /// IEC 61260-1 names them 1, 1.25, 1.6 ... 50 Hz.
    #[test]
    fn bands_are_those_of_the_standard() {
        let centres: Vec<f64> = SpectraReadout::centres_hz().collect();
        let names = [
            1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0,
            50.0,
        ];
        assert_eq!(centres.len(), names.len());
        assert!(centres.iter().zip(names).all(|(exact, name)| (exact / name - 1.0).abs() < 0.02));
    }

    /// Bands side by side leave no power out: white noise of density 1/Hz has in each as much as it is wide.
    #[test]
    fn nothing_falls_between_two_bands() {
        let flat = Spectrum { step_hz: 0.25, density: vec![1.0; 400], segments: 1 };
        let bands = band_rms(&flat, 60.0);
        let edge = 10_f64.powf(0.05);
        for (rms, centre) in bands.iter().zip(SpectraReadout::centres_hz()) {
            let width = centre * (edge - 1.0 / edge);
            assert!((rms * rms - width).abs() < 1e-9 * width, "{centre}");
        }
        assert!(band_rms(&flat, 10.0).len() < bands.len());
    }
}
