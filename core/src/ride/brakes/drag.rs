//! A brake dragged: lightly on, and for long.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::application::{Application, ON_PA};
use crate::measured::NotMeasured;
use crate::ride::contact::ranges_where;
use crate::signal::percentile;

/// A pull shorter than this says nothing about how hard the rider brakes, s.
const SHORTEST_USUAL_S: f64 = 0.1;
/// Which percentile of the peaks is the usual one (common practice: hard, but not the hardest).
const USUAL_PERCENT: f64 = 90.0;
/// Up to this share of the usual peak a brake is on lightly (common practice).
pub const LIGHT_SHARE: f64 = 0.25;
/// Lightly on for this long is dragged, s (common practice).
pub const DRAG_S: f64 = 1.0;

/// One stretch with the brake lightly on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DragReadout {
    /// Its start on the run's clock, s.
    pub start_s: f64,
    /// How long it lasts, s.
    pub length_s: f64,
    /// Mean pressure, Pa.
    pub mean_pa: f64,
}

/// How hard the rider usually pulls: 90th percentile of the peaks of applications over 0.1 s, Pa.
///
/// `applications`: length in s and peak in Pa of each, of one run or of all runs of a day.
pub fn usual_peak_pa(applications: impl IntoIterator<Item = (f64, f64)>) -> Result<f64, NotMeasured> {
    let peaks: Vec<f64> = applications
        .into_iter()
        .filter_map(|(length_s, peak_pa)| (length_s > SHORTEST_USUAL_S).then_some(peak_pa))
        .collect();
    percentile(&peaks, USUAL_PERCENT)
        .ok_or_else(|| NotMeasured::because("this brake is never pulled for a tenth of a second"))
}

/// Up to which pressure a brake counts as lightly on, Pa.
///
/// # Errors
/// Where the usual peak is so low that light braking would be no braking.
pub fn light_pa(usual_peak_pa: f64) -> Result<f32, NotMeasured> {
    let light = (LIGHT_SHARE * usual_peak_pa) as f32;
    if light > ON_PA {
        return Ok(light);
    }
    Err(NotMeasured::because(format!(
        "the usual peak of this brake is {:.1} bar; dragging can be told from braking from {:.0} bar on",
        usual_peak_pa / 1e5,
        f64::from(ON_PA) / LIGHT_SHARE / 1e5
    )))
}

/// Stretches of at least a second in which the brake is on, no harder than `light_pa`, while the bike rolls.
///
/// The tail of an application counts, and a stretch belongs to itself, not to the application in which it
/// lies. A bike held by its brake is not dragged.
pub fn drags(
    pressure_pa: &[f32],
    applications: &[Application],
    ridden: &[bool],
    light_pa: f32,
    rate_hz: f64,
) -> Vec<Range<usize>> {
    let shortest = (DRAG_S * rate_hz).round() as usize;
    applications
        .iter()
        .flat_map(|on| {
            let start = on.range.start;
            // What is missing within an application is a few samples, and goes with its neighbours.
            let light = |i: usize| ridden[i] && (pressure_pa[i].is_nan() || pressure_pa[i] <= light_pa);
            ranges_where(on.range.len(), shortest, move |k| light(start + k))
                .into_iter()
                .map(move |stretch| start + stretch.start..start + stretch.end)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::application::applications;
    use super::*;

    fn bar(stretches: &[(f32, usize)]) -> Vec<f32> {
        stretches.iter().flat_map(|&(bar, n)| std::iter::repeat_n(bar * 1e5, n)).collect()
    }

    fn found(pressure: &[f32]) -> Vec<Range<usize>> {
        drags(pressure, &applications(pressure, 10.0), &vec![true; pressure.len()], 5e5, 10.0)
    }

    #[test]
    fn light_and_long_is_dragged() {
        assert_eq!(found(&bar(&[(0.0, 5), (3.0, 10), (0.0, 5)])), std::slice::from_ref(&(5..15)));
        assert_eq!(found(&bar(&[(0.0, 5), (3.0, 9), (0.0, 5)])), []);
        assert_eq!(found(&bar(&[(0.0, 5), (6.0, 30), (0.0, 5)])), []);
        // A tail is dragged too, by itself; a pull in between makes two stretches of which one is too short.
        assert_eq!(found(&bar(&[(20.0, 8), (2.0, 12), (0.0, 5)])), std::slice::from_ref(&(8..20)));
        assert_eq!(found(&bar(&[(2.0, 6), (20.0, 3), (2.0, 14), (0.0, 2)])), std::slice::from_ref(&(9..23)));
    }

    #[test]
    fn a_bike_held_still_is_not_dragged() {
        let pressure = bar(&[(3.0, 40), (0.0, 5)]);
        let ridden: Vec<bool> = (0..45).map(|i| i < 15).collect();
        assert_eq!(drags(&pressure, &applications(&pressure, 10.0), &ridden, 5e5, 10.0).len(), 1);
        let held = [false; 45];
        assert_eq!(drags(&pressure, &applications(&pressure, 10.0), &held, 5e5, 10.0), []);
    }

    /// By hand: peaks 10, 20, 30 bar; type 7 puts the 90th percentile at 0.8 of the way from 20 to 30.
    #[test]
    fn the_usual_peak_leaves_out_dabs() {
        let pulls = [(0.5, 10e5), (0.05, 90e5), (0.4, 30e5), (0.3, 20e5)];
        assert!((usual_peak_pa(pulls).unwrap() - 28e5).abs() < 1e-6);
        assert!(usual_peak_pa([(0.05, 9e5)]).is_err());
        assert!(light_pa(4e5).unwrap_err().0.contains("4.0 bar"));
        assert_eq!(light_pa(20e5), Ok(5e5));
    }
}
