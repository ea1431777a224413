//! When a brake is on.

use std::ops::Range;

/// A brake is on from this pressure, Pa...
pub const ON_PA: f32 = 1.0e5;
/// ...until it falls below this one, Pa.
pub const OFF_PA: f32 = 0.6e5;

/// One pull of a brake lever.
#[derive(Clone, Debug, PartialEq)]
pub struct Application {
    /// From the sample at which it is on to the first at which it is off again.
    pub range: Range<usize>,
    /// Highest pressure, Pa.
    pub peak_pa: f32,
}

/// Every application of one brake, in order: on at 1.0 bar, off at 0.6 bar. A missing sample ends one.
pub fn applications(pressure_pa: &[f32]) -> Vec<Application> {
    let mut found = Vec::new();
    let mut on: Option<Application> = None;
    for (i, &pressure) in pressure_pa.iter().chain([&f32::NAN]).enumerate() {
        match &mut on {
            None if pressure >= ON_PA => on = Some(Application { range: i..i + 1, peak_pa: pressure }),
            Some(application) if pressure >= OFF_PA => {
                application.range.end = i + 1;
                application.peak_pa = application.peak_pa.max(pressure);
            }
            // Off, or missing.
            Some(_) => found.extend(on.take()),
            None => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn on_at_one_bar_off_below_six_tenths() {
        let bar = [0.0, 0.9, 1.0, 3.0, 0.7, 0.6, 0.5, 0.8, 1.2, f32::NAN, 2.0];
        let pressure: Vec<f32> = bar.iter().map(|bar| bar * 1e5).collect();
        let found = applications(&pressure);
        assert_eq!(found.iter().map(|on| on.range.clone()).collect::<Vec<_>>(), [2..6, 8..9, 10..11]);
        assert_eq!(found[0].peak_pa, 3e5);
    }
}
