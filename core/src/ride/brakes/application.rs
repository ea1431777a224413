//! When a brake is on, and how hard.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::measured::{Measured, NotMeasured};
use crate::ride::basis::Basis;
use crate::role::{End, Role};

/// A brake is on from this pressure, Pa (common practice: 1.0 bar)...
pub const ON_PA: f32 = 1.0e5;
/// ...until it falls below this one, Pa (0.6 bar, so that noise at the threshold makes one application).
pub const OFF_PA: f32 = 0.6e5;
/// Missing samples for no longer than this do not end an application, s: no hand lets go and pulls again in
/// that time.
const BRIDGED_S: f64 = 0.1;
/// The rise rate is the largest over this time, s: short against the build-up of a hand's pull, long
/// against noise.
const RISE_S: f64 = 0.05;

/// One pull of a brake lever.
#[derive(Clone, Debug, PartialEq)]
pub struct Application {
    /// From the sample at which it is on to the first at which it is off again.
    pub range: Range<usize>,
    /// Highest pressure, Pa.
    pub peak_pa: f32,
}

/// Every application of one brake, in order: on at 1.0 bar, off below 0.6 bar. Samples missing for up to
/// 0.1 s are bridged; a longer gap ends one.
pub fn applications(pressure_pa: &[f32], rate_hz: f64) -> Vec<Application> {
    let bridged = (BRIDGED_S * rate_hz).round() as usize;
    let mut found = Vec::new();
    let mut on: Option<Application> = None;
    let mut missing = 0;
    for (i, &pressure) in pressure_pa.iter().enumerate() {
        if pressure.is_nan() {
            missing += 1;
            if missing > bridged {
                found.extend(on.take());
            }
            continue;
        }
        missing = 0;
        match &mut on {
            None if pressure >= ON_PA => on = Some(Application { range: i..i + 1, peak_pa: pressure }),
            Some(application) if pressure >= OFF_PA => {
                application.range.end = i + 1;
                application.peak_pa = application.peak_pa.max(pressure);
            }
            Some(_) => found.extend(on.take()),
            None => {}
        }
    }
    found.extend(on);
    found
}

/// One application in numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ApplicationReadout {
    /// When it came on, on the run's clock, s.
    pub start_s: f64,
    /// How long it was on, s.
    pub length_s: f64,
    /// Highest pressure, Pa.
    pub peak_pa: f64,
    /// Mean pressure, Pa.
    pub mean_pa: f64,
    /// Pressure over time, Pa s.
    pub area_pa_s: f64,
    /// Steepest rise of pressure over 50 ms, Pa/s.
    pub rise_rate_pa_per_s: Measured,
}

impl ApplicationReadout {
    /// Measures one application of the brake at one end.
    pub fn of(basis: &Basis<'_>, end: End, pressure_pa: &[f32], application: &Application) -> Self {
        let rate_hz = basis.rate_hz();
        let span = span(application, pressure_pa);
        let length_s = span.len() as f64 / rate_hz;
        let area = area_pa_s(pressure_pa, span.clone(), rate_hz);
        let peak_pa = f64::from(application.peak_pa);
        Self {
            start_s: basis.time_s(span.start),
            length_s,
            peak_pa,
            // The log's last sample alone has a pressure but no length.
            mean_pa: if span.is_empty() { peak_pa } else { area / length_s },
            area_pa_s: area,
            rise_rate_pa_per_s: basis
                .needs_rate(Role::Brake(end), 2.0 / RISE_S, "rise rates need")
                .and_then(|()| {
                    rise_rate(pressure_pa, span, basis.samples(RISE_S)).map(|rise| rise * rate_hz).ok_or_else(
                        || NotMeasured::because("pressure is missing where this application begins"),
                    )
                })
                .into(),
        }
    }
}

/// From coming on to the first sample that is off, or to the last one measured where that is missing: the
/// time between the two is how long it was on.
pub fn span(application: &Application, pressure_pa: &[f32]) -> Range<usize> {
    let Range { start, end } = application.range;
    let is_off_there = pressure_pa.get(end).is_some_and(|pressure| !pressure.is_nan());
    start..if is_off_there { end } else { end - 1 }
}

/// Pressure over time from `span.start` to `span.end`, both samples included, Pa s: trapezoids, straight
/// across what is missing.
pub fn area_pa_s(pressure_pa: &[f32], span: Range<usize>, rate_hz: f64) -> f64 {
    let mut area = 0.0;
    let mut before: Option<(usize, f64)> = None;
    for (i, &pressure) in pressure_pa.iter().enumerate().take(span.end + 1).skip(span.start) {
        if pressure.is_nan() {
            continue;
        }
        let pressure = f64::from(pressure);
        if let Some((j, earlier)) = before {
            area += (earlier + pressure) / 2.0 * (i - j) as f64 / rate_hz;
        }
        before = Some((i, pressure));
    }
    area
}

/// Largest rise over `window` samples that ends in `span`, Pa per sample.
fn rise_rate(pressure_pa: &[f32], span: Range<usize>, window: usize) -> Option<f64> {
    let window = window.max(1);
    (span.start..=span.end)
        .filter_map(|i| {
            let (before, now) = (pressure_pa.get(i.checked_sub(window)?)?, pressure_pa.get(i)?);
            let rise = (f64::from(*now) - f64::from(*before)) / window as f64;
            rise.is_finite().then_some(rise)
        })
        .reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pascal(bar: &[f32]) -> Vec<f32> {
        bar.iter().map(|bar| bar * 1e5).collect()
    }

    #[test]
    fn on_at_one_bar_off_below_six_tenths() {
        let pressure = pascal(&[0.0, 0.9, 1.0, 3.0, 0.7, 0.6, 0.5, 0.8, 1.2, f32::NAN, 2.0]);
        let ranges =
            |rate_hz| -> Vec<_> { applications(&pressure, rate_hz).into_iter().map(|on| on.range).collect() };
        // One missing sample is a whole second here...
        assert_eq!(ranges(1.0), [2..6, 8..9, 10..11]);
        // ...and a tenth of one here.
        assert_eq!(ranges(10.0), [2..6, 8..11]);
        assert_eq!(applications(&pressure, 1.0)[0].peak_pa, 3e5);
    }

    /// By hand: 2 and 4 bar make (2 + 4) / 2, then (4 + 0) / 2 on the way off, each for half a second.
    #[test]
    fn area_is_made_of_trapezoids() {
        let pressure = pascal(&[0.0, 2.0, 4.0, 0.0]);
        let on = &applications(&pressure, 2.0)[0];
        assert_eq!(span(on, &pressure), 1..3);
        assert!((area_pa_s(&pressure, 1..3, 2.0) - 2.5e5).abs() < 1.0);
        // Straight across a gap: (2 + 2) / 2 for a second.
        assert!((area_pa_s(&pascal(&[2.0, f32::NAN, 2.0]), 0..2, 2.0) - 2e5).abs() < 1.0);
        // A log that ends with the brake on ends the application at its last sample.
        let cut = &pressure[..3];
        assert_eq!(span(&applications(cut, 2.0)[0], cut), 1..2);
    }
}
