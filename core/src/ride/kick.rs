//! How hard the rear throws the rider forward.

use std::ops::Range;

use super::basis::Basis;
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::percentile;

/// Smaller rear strokes do not kick, m.
const SMALLEST_M: f64 = 0.030;
/// How long after the rear starts back its kick is looked for, s.
const AFTER_S: f64 = 0.3;
/// Fewer rebounds say nothing.
const FEWEST: usize = 8;

/// Kick over one section, rad/s: the largest nose-down pitch rate of the frame within 0.3 s after the rear,
/// compressed by 30 mm or more, starts back; median and 95th percentile over the rebounds.
///
/// `pitch_rate_radps`: the frame's pitch rate, 0.5-12 Hz, + nose down.
pub fn kick(
    basis: &Basis<'_>,
    pitch_rate_radps: &Result<Vec<f32>, NotMeasured>,
    section: &Range<usize>,
) -> [Measured; 2] {
    let kicks = pitch_rate_radps.as_ref().map_err(Clone::clone).and_then(|rate| {
        let hits = basis.hits(End::Rear)?;
        let rebounds = hits.iter().filter(|hit| hit.stroke_m() >= SMALLEST_M).map(|hit| hit.deepest);
        let here = rebounds.filter(|&from| section.contains(&from) && basis.rolling[from]);
        let after = basis.samples(AFTER_S);
        let kicks: Vec<f32> = here.filter_map(|from| peak(rate.get(from..=from + after)?)).collect();
        if kicks.len() >= FEWEST {
            return Ok(kicks);
        }
        Err(NotMeasured::because(format!(
            "the rear came back from {} hits of 30 mm here; it takes {FEWEST}",
            kicks.len()
        )))
    });
    [50.0, 95.0].map(|percent| match &kicks {
        Ok(kicks) => match percentile(kicks, percent) {
            Some(kick) => Measured::value(kick).with_n(kicks.len()),
            None => Measured::not(NotMeasured::because("the rear never comes back from a hit here")),
        },
        Err(reason) => Measured::not(reason.clone()),
    })
}

/// The largest value, `None` if one is missing.
fn peak(rate: &[f32]) -> Option<f32> {
    if rate.iter().any(|v| v.is_nan()) {
        return None;
    }
    rate.iter().copied().reduce(f32::max)
}
