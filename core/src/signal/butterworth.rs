//! Butterworth filters: poles evenly spaced on a half circle, moved to the band, then to the sampled
//! world by the bilinear transform with prewarped cutoffs (Oppenheim and Schafer, *Discrete-Time Signal
//! Processing*, chapter 7).

use std::f64::consts::PI;
use std::fmt;

use rustfft::num_complex::Complex64;

use super::sos::{Section, Sos};

/// Why a filter cannot be made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FilterError {
    /// Orders run from 1 to 16; beyond, the sections say less than their rounding.
    Order(usize),
    /// A cutoff must lie above zero and below half the sampling rate.
    Cutoff {
        /// The cutoff asked for, Hz.
        cutoff_hz: f64,
        /// The sampling rate, Hz.
        rate_hz: f64,
    },
    /// A band's lower cutoff must lie below its upper one.
    Band {
        /// Lower cutoff asked for, Hz.
        low_hz: f64,
        /// Upper cutoff asked for, Hz.
        high_hz: f64,
    },
}

impl fmt::Display for FilterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Order(order) => write!(f, "a filter of order {order}: choose an order from 1 to 16"),
            Self::Cutoff { cutoff_hz, rate_hz } => write!(
                f,
                "a cutoff of {cutoff_hz} Hz cannot be had at {rate_hz} samples a second: choose one above 0 \
                 and below {} Hz",
                rate_hz / 2.0
            ),
            Self::Band { low_hz, high_hz } => {
                write!(f, "a band from {low_hz} Hz to {high_hz} Hz is empty: the first must be the lower")
            }
        }
    }
}

impl std::error::Error for FilterError {}

/// Largest order: see [`FilterError::Order`].
const MAX_ORDER: usize = 16;

impl Sos {
    /// Butterworth low-pass; one pass is -3 dB at `cutoff_hz`, a zero-phase pass -6 dB.
    pub fn low_pass(order: usize, cutoff_hz: f64, rate_hz: f64) -> Result<Self, FilterError> {
        check_order(order)?;
        let warped = prewarp(cutoff_hz, rate_hz)?;
        let sections = prototype(order).map(|pole| match pole {
            Pole::Pair(p) => Section { b: [1.0, 2.0, 1.0], a: pair(bilinear(p * warped)) },
            Pole::Real(p) => Section { b: [1.0, 1.0, 0.0], a: [-bilinear((p * warped).into()).re, 0.0] },
        });
        Ok(Self { sections: with_unit_gain(sections, 0.0), order })
    }

    /// Butterworth high-pass; one pass is -3 dB at `cutoff_hz`, a zero-phase pass -6 dB.
    pub fn high_pass(order: usize, cutoff_hz: f64, rate_hz: f64) -> Result<Self, FilterError> {
        check_order(order)?;
        let warped = prewarp(cutoff_hz, rate_hz)?;
        let sections = prototype(order).map(|pole| match pole {
            Pole::Pair(p) => Section { b: [1.0, -2.0, 1.0], a: pair(bilinear(warped / p)) },
            Pole::Real(p) => Section { b: [1.0, -1.0, 0.0], a: [-bilinear((warped / p).into()).re, 0.0] },
        });
        Ok(Self { sections: with_unit_gain(sections, PI), order })
    }

    /// Butterworth band-pass from `low_hz` to `high_hz`; one pass is -3 dB at both, a zero-phase pass -6 dB.
    ///
    /// `order` is that of each flank, so the whole filter has twice as many poles.
    pub fn band_pass(order: usize, low_hz: f64, high_hz: f64, rate_hz: f64) -> Result<Self, FilterError> {
        check_order(order)?;
        let (low, high) = (prewarp(low_hz, rate_hz)?, prewarp(high_hz, rate_hz)?);
        if low >= high {
            return Err(FilterError::Band { low_hz, high_hz });
        }
        let (width, centre_squared) = (high - low, low * high);
        // Each prototype pole p becomes the two roots of s^2 - p width s + centre^2.
        let roots = |p: Complex64| {
            let half = p * (width / 2.0);
            let root = (half * half - centre_squared).sqrt();
            (bilinear(half + root), bilinear(half - root))
        };
        let band = |a| Section { b: [1.0, 0.0, -1.0], a };
        let sections = prototype(order).flat_map(|pole| match pole {
            Pole::Pair(p) => {
                let (one, other) = roots(p);
                [Some(band(pair(one))), Some(band(pair(other)))]
            }
            Pole::Real(p) => {
                let (one, other) = roots(p.into());
                [Some(band([-(one + other).re, (one * other).re])), None]
            }
        });
        let centre = 2.0 * centre_squared.sqrt().atan();
        Ok(Self { sections: with_unit_gain(sections.flatten(), centre), order: 2 * order })
    }
}

enum Pole {
    /// A pole and its conjugate.
    Pair(Complex64),
    Real(f64),
}

/// Poles of the analogue low-pass with its cutoff at 1 rad/s.
fn prototype(order: usize) -> impl Iterator<Item = Pole> {
    let pairs = (0..order / 2).map(move |k| {
        let angle = PI * (2 * k + 1) as f64 / (2 * order) as f64;
        Pole::Pair(Complex64::new(-angle.sin(), angle.cos()))
    });
    pairs.chain((order % 2 == 1).then_some(Pole::Real(-1.0)))
}

fn check_order(order: usize) -> Result<(), FilterError> {
    if (1..=MAX_ORDER).contains(&order) { Ok(()) } else { Err(FilterError::Order(order)) }
}

/// The analogue frequency that the bilinear transform `s = (z - 1) / (z + 1)` moves to `cutoff_hz`.
fn prewarp(cutoff_hz: f64, rate_hz: f64) -> Result<f64, FilterError> {
    if cutoff_hz > 0.0 && cutoff_hz < rate_hz / 2.0 && rate_hz.is_finite() {
        Ok((PI * cutoff_hz / rate_hz).tan())
    } else {
        Err(FilterError::Cutoff { cutoff_hz, rate_hz })
    }
}

fn bilinear(s: Complex64) -> Complex64 {
    (1.0 + s) / (1.0 - s)
}

/// Denominator of a pole and its conjugate.
fn pair(pole: Complex64) -> [f64; 2] {
    [-2.0 * pole.re, pole.norm_sqr()]
}

/// Scales each section to gain 1 at `angle` (rad a sample).
fn with_unit_gain(sections: impl Iterator<Item = Section>, angle: f64) -> Vec<Section> {
    let delay = Complex64::cis(-angle);
    let scale = |section: Section| {
        let numerator = section.b[0] + delay * (section.b[1] + delay * section.b[2]);
        let denominator = 1.0 + delay * (section.a[0] + delay * section.a[1]);
        let gain = (numerator / denominator).norm();
        Section { b: section.b.map(|b| b / gain), ..section }
    };
    sections.map(scale).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice the half power of one pass: the definition of the cutoff.
    #[test]
    fn zero_phase_is_six_decibels_down_at_the_cutoff() {
        let rate_hz = 1000.0;
        let tone = |hz: f64| (0..4000).map(move |n| (2.0 * PI * hz * f64::from(n) / rate_hz).sin());
        for filter in [
            Sos::low_pass(4, 20.0, rate_hz),
            Sos::high_pass(3, 20.0, rate_hz),
            Sos::band_pass(2, 20.0, 40.0, rate_hz),
        ] {
            let out = filter.unwrap().zero_phase(&tone(20.0).collect::<Vec<_>>());
            let worst = tone(20.0).zip(out).skip(1000).take(2000).map(|(x, y)| (y - x / 2.0).abs());
            assert!(worst.fold(0.0, f64::max) < 1e-6);
        }
    }

    #[test]
    fn impossible_filters_are_refused_with_the_reason() {
        let text = |filter: Result<Sos, FilterError>| filter.unwrap_err().to_string();
        assert!(text(Sos::low_pass(4, 50.0, 100.0)).contains("below 50 Hz"));
        assert!(text(Sos::high_pass(0, 5.0, 100.0)).contains("1 to 16"));
        assert!(text(Sos::band_pass(4, 9.0, 3.0, 100.0)).contains("empty"));
        for cutoff_hz in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(Sos::low_pass(4, cutoff_hz, 100.0).is_err());
        }
        assert!(Sos::low_pass(4, 1.0, f64::INFINITY).is_err());
    }
}
