//! How much the frame shakes sideways.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use crate::measured::{Measured, NotMeasured};
use crate::role::{Axis, Place, Role};
use crate::signal::{median, percentile};

/// Slower is steering, faster is what spokes and welds do, Hz.
const BAND_HZ: [f64; 2] = [4.0, 30.0];
/// Length of a window, s.
const WINDOW_S: f64 = 0.5;
/// From one window to the next, s.
const STEP_S: f64 = 0.1;
/// Further over, bumps push along the frame's y axis too, rad (15 deg).
const UPRIGHT_RAD: f32 = 15.0 * std::f32::consts::PI / 180.0;
/// A window leans to a side from this mean lean on, rad (2 deg: what lean is known to).
const LEANING_RAD: f64 = 2.0 * std::f64::consts::PI / 180.0;
/// Fewer windows say nothing.
const FEWEST: usize = 10;

/// Lateral shake over one section: RMS of the frame's lateral acceleration, 4-30 Hz, in windows of 0.5 s
/// every 0.1 s, wherever the bike rolls on the ground with less than 15 deg of lean all through the window.
/// It grows with speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LateralReadout {
    /// Median over the windows, m/s^2.
    pub shake_rms_mps2: Measured,
    /// 95th percentile over the windows, m/s^2.
    pub shake_rms_p95_mps2: Measured,
    /// Median over the windows with 2 deg of lean and more to the left, m/s^2.
    pub shake_left_rms_mps2: Measured,
    /// Median over the windows with 2 deg of lean and more to the right, m/s^2.
    pub shake_right_rms_mps2: Measured,
}

/// One window.
#[derive(Clone, Debug)]
struct Window {
    range: Range<usize>,
    rms_mps2: f64,
    lean_rad: f64,
}

/// Lateral shake of a run, window by window.
pub struct Shake(Result<Vec<Window>, NotMeasured>);

impl Shake {
    /// Prepares a run.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self(windows(basis))
    }

    /// Reads the windows that lie in a section.
    pub fn read(&self, section: &Range<usize>) -> LateralReadout {
        let of = |statistic: fn(&[f64]) -> Option<f64>, leans: fn(f64) -> bool, which: &str| {
            let windows = self.0.as_ref().map_err(Clone::clone)?;
            let inside = windows.iter().filter(|window| {
                section.start <= window.range.start
                    && window.range.end <= section.end
                    && leans(window.lean_rad)
            });
            let rms: Vec<f64> = inside.map(|window| window.rms_mps2).collect();
            statistic(&rms).filter(|_| rms.len() >= FEWEST).map(|value| (value, rms.len())).ok_or_else(|| {
                NotMeasured::because(format!(
                    "the bike hardly rolls {which} for half a second at a time here"
                ))
            })
        };
        let told = |found: Result<(f64, usize), NotMeasured>| match found {
            Ok((value, n)) => Measured::value(value).with_n(n),
            Err(reason) => Measured::not(reason),
        };
        LateralReadout {
            shake_rms_mps2: told(of(median, |_| true, "upright")),
            shake_rms_p95_mps2: told(of(|rms| percentile(rms, 95.0), |_| true, "upright")),
            shake_left_rms_mps2: told(of(
                median,
                |lean| lean <= -LEANING_RAD,
                "leaning a little to the left",
            )),
            shake_right_rms_mps2: told(of(
                median,
                |lean| lean >= LEANING_RAD,
                "leaning a little to the right",
            )),
        }
    }
}

fn windows(basis: &Basis<'_>) -> Result<Vec<Window>, NotMeasured> {
    let lateral = basis.in_band(Role::Accel(Place::Frame, Axis::Y), BAND_HZ)?;
    let lean = basis.roll_rad()?;
    let [length, step] = [WINDOW_S, STEP_S].map(|seconds| basis.samples(seconds).max(1));
    let mean = |range: Range<usize>, of: &dyn Fn(usize) -> f64| range.map(of).sum::<f64>() / length as f64;
    let starts = (0..(basis.len() + 1).saturating_sub(length)).step_by(step);
    let judged = |&i: &usize| basis.grounded[i] && lean[i].abs() < UPRIGHT_RAD && !lateral[i].is_nan();
    Ok(starts
        .map(|start| start..start + length)
        .filter(|range| range.clone().all(|i| judged(&i)))
        .map(|range| Window {
            rms_mps2: mean(range.clone(), &|i| f64::from(lateral[i]).powi(2)).sqrt(),
            lean_rad: mean(range.clone(), &|i| f64::from(lean[i])),
            range,
        })
        .collect())
}
