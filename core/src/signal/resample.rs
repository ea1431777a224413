//! From irregular stamps to a uniform grid: linear between samples, never across a gap.

use std::ops::Range;

use super::{Sos, median};

/// A step of more than this many median steps is a gap.
pub const GAP_STEPS: f64 = 3.0;

/// A grid point this close to a stamp, in median steps, is at that stamp: rounding must not put it in a gap.
const SAME_STAMP_STEPS: f64 = 1e-6;

/// A source this much faster than the grid is being thinned; less is a difference of clocks.
const THINNING: f64 = 1.01;

/// Median of the steps between stamps, s; `None` with fewer than two stamps.
///
/// A channel with blank rows has its own: leave those rows' stamps out.
pub fn median_step(times_s: &[f64]) -> Option<f64> {
    let steps: Vec<f64> = times_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    median(&steps).filter(|&step| step > 0.0)
}

/// Values at `start_s + k / rate_hz` for `k` in `0..len`, by straight lines between samples.
///
/// Missing (`NaN`) samples are skipped and the channel's own median step decides what is a gap, so a slow
/// channel on a fast file is as good as one on its own. Grid points in a gap or outside the samples are
/// `NaN`. Stamps must rise; one that does not is skipped. Where the grid is slower than the samples, they
/// first pass a zero-phase Butterworth low-pass of order 8 at 0.4 of the grid's rate (a piece between gaps
/// too short for it is missing). Linear time.
pub fn resample(times_s: &[f64], values: &[f32], start_s: f64, rate_hz: f64, len: usize) -> Vec<f32> {
    let (times_s, values) = present(times_s, values);
    match median_step(&times_s) {
        Some(step_s) => resample_present(&times_s, &values, step_s, start_s, rate_hz, len),
        None => vec![f32::NAN; len],
    }
}

/// [`resample`] of a channel whose own median step, s, is known already.
pub fn resample_with_step(
    times_s: &[f64],
    values: &[f32],
    step_s: f64,
    start_s: f64,
    rate_hz: f64,
    len: usize,
) -> Vec<f32> {
    let (times_s, values) = present(times_s, values);
    resample_present(&times_s, &values, step_s, start_s, rate_hz, len)
}

fn resample_present(
    times_s: &[f64],
    values: &[f64],
    step_s: f64,
    start_s: f64,
    rate_hz: f64,
    len: usize,
) -> Vec<f32> {
    let mut out = vec![f32::NAN; len];
    let thinning = rate_hz * THINNING < 1.0 / step_s;
    let filter = if thinning { Sos::low_pass(8, 0.4 * rate_hz, 1.0 / step_s).ok() } else { None };
    let tolerance_s = SAME_STAMP_STEPS * step_s;
    for piece in pieces(times_s, GAP_STEPS * step_s) {
        let (times_s, values) = (&times_s[piece.clone()], &values[piece]);
        // Grid points inside the piece; the float-to-integer casts saturate at both ends.
        let first = ((times_s[0] - tolerance_s - start_s) * rate_hz).ceil().max(0.0) as usize;
        let last_s = times_s[times_s.len() - 1];
        let end = ((last_s + tolerance_s - start_s) * rate_hz + 1.0).floor().max(0.0) as usize;
        let Some(places) = out.get_mut(first..end.min(len)) else { continue };
        let wanted_s = (first..).map(|k| start_s + k as f64 / rate_hz);
        match &filter {
            None => interpolate(times_s, values, wanted_s, places),
            Some(filter) => {
                let (even_s, even) = evened(times_s, values, step_s);
                interpolate(&even_s, &filter.zero_phase(&even), wanted_s, places);
            }
        }
    }
    out
}

/// Stamps and values of the samples that are there, in rising time.
fn present(times_s: &[f64], values: &[f32]) -> (Vec<f64>, Vec<f64>) {
    let mut last_s = f64::NEG_INFINITY;
    times_s
        .iter()
        .zip(values)
        .filter(|&(&t, x)| {
            let keep = x.is_finite() && t.is_finite() && t > last_s;
            last_s = if keep { t } else { last_s };
            keep
        })
        .map(|(&t, &x)| (t, f64::from(x)))
        .unzip()
}

/// Ranges of samples without a longer step between them.
fn pieces(times_s: &[f64], longest_s: f64) -> impl Iterator<Item = Range<usize>> + '_ {
    let mut from = 0;
    times_s.chunk_by(move |a, b| b - a <= longest_s).map(move |piece| {
        let range = from..from + piece.len();
        from = range.end;
        range
    })
}

/// The same piece at even steps of about `step_s` from its first stamp to its last.
fn evened(times_s: &[f64], values: &[f64], step_s: f64) -> (Vec<f64>, Vec<f64>) {
    let (first_s, last_s) = (times_s[0], times_s[times_s.len() - 1]);
    // At most three times as many steps as the piece has, since it has no gap.
    let steps = ((last_s - first_s) / step_s).round().max(1.0);
    let stamps = (0..=steps as usize).map(|k| first_s + (last_s - first_s) * (k as f64 / steps));
    let even_s: Vec<f64> = stamps.collect();
    let mut even = vec![0.0; even_s.len()];
    interpolate(times_s, values, even_s.iter().copied(), &mut even);
    (even_s, even)
}

/// A number that interpolation can store.
trait Sample {
    fn store(value: f64) -> Self;
}

impl Sample for f64 {
    fn store(value: f64) -> Self {
        value
    }
}

impl Sample for f32 {
    fn store(value: f64) -> Self {
        value as f32
    }
}

/// Fills `places` with the values at the rising times `wanted_s`; beyond either end, that end's value.
fn interpolate<T: Sample>(
    times_s: &[f64],
    values: &[f64],
    wanted_s: impl Iterator<Item = f64>,
    places: &mut [T],
) {
    let last = times_s.len() - 1;
    let mut next = 0; // First stamp not before the wanted time.
    for (place, wanted) in places.iter_mut().zip(wanted_s) {
        while next < last && times_s[next] < wanted {
            next += 1;
        }
        let before = next.saturating_sub(1);
        let span = times_s[next] - times_s[before];
        let share = if span > 0.0 { ((wanted - times_s[before]) / span).clamp(0.0, 1.0) } else { 0.0 };
        *place = T::store(values[before] + share * (values[next] - values[before]));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn straight_lines_between_irregular_stamps() {
        let out = resample(&[0.0, 0.1, 0.15, 0.3], &[0.0, 1.0, 2.0, 5.0], 0.05, 20.0, 6);
        let expected = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
        assert!(out.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6), "{out:?}");
    }

    #[test]
    fn a_gap_is_missing_and_its_rims_are_not() {
        let times: Vec<f64> =
            (0..100).filter(|k| !(40..60).contains(k)).map(|k| f64::from(k) * 0.01).collect();
        let out = resample(&times, &vec![1.0; times.len()], -0.02, 100.0, 104);
        for (k, y) in out.iter().enumerate() {
            let measured = (2..42).contains(&k) || (62..102).contains(&k);
            assert_eq!(y.is_finite(), measured, "{k}");
        }
    }

    #[test]
    fn a_slow_channel_with_blank_rows_is_not_all_gaps() {
        let times: Vec<f64> = (0..1000).map(|k| f64::from(k) * 0.001).collect();
        let values: Vec<f32> = (0..1000).map(|k| if k % 10 == 0 { k as f32 } else { f32::NAN }).collect();
        let out = resample(&times, &values, 0.0, 1000.0, 1000);
        assert!(out[..991].iter().enumerate().all(|(k, y)| (y - k as f32).abs() < 1e-3));
        assert!(out[991..].iter().all(|y| y.is_nan()));
    }

    #[test]
    fn thinning_keeps_the_slow_and_drops_the_fast() {
        let times: Vec<f64> = (0..5000).map(|k| f64::from(k) * 0.001).collect();
        let tone = |hz: f64, t: f64| (std::f64::consts::TAU * hz * t).sin();
        let values: Vec<f32> = times.iter().map(|&t| (tone(5.0, t) + tone(140.0, t)) as f32).collect();
        let out = resample(&times, &values, 0.0, 200.0, 1000);
        for (k, y) in out.iter().enumerate().skip(50).take(900) {
            // 140 Hz would come back as 60 Hz; order 8 twice at 80 Hz leaves 1e-4 of it.
            assert!((f64::from(*y) - tone(5.0, k as f64 / 200.0)).abs() < 3e-4, "{k}: {y}");
        }
    }

    #[test]
    fn nothing_to_go_by_is_all_missing() {
        assert!(resample(&[], &[], 0.0, 100.0, 3).iter().all(|y| y.is_nan()));
        assert!(resample(&[1.0], &[1.0], 0.0, 100.0, 300).iter().all(|y| y.is_nan()));
        assert!(resample(&[1.0, 1.0], &[1.0, 2.0], 0.0, 100.0, 300).iter().all(|y| y.is_nan()));
        assert!(resample(&[5.0, 6.0], &[1.0, 2.0], 0.0, 1.0, 3).iter().all(|y| y.is_nan()));
        assert!(resample(&[0.0, 1.0], &[1.0, 2.0], f64::NAN, 1.0, 3).iter().all(|y| y.is_nan()));
        assert!(resample(&[0.0, 1.0], &[1.0, 2.0], 0.0, f64::NAN, 3).iter().all(|y| y.is_nan()));
    }
}
