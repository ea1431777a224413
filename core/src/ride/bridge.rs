//! What stands in for a short stretch of missing inertial samples.

use std::ops::Range;

/// Level and slope of turn rate at either end are those of a parabola through so much of it, s.
const SLOPE_S: f64 = 0.025;
/// A parabola needs more samples than it has coefficients, or it follows their noise.
const FEWEST: usize = 4;

/// How to bridge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bridge {
    /// A straight line. For specific force, whose slope beside a gap is that of vibration: means over more
    /// than a sample on either side were worse too (model).
    Straight,
    /// A cubic that leaves and arrives with the slopes on either side (Hermite). For turn rate, which is
    /// smooth at the length of a gap.
    Cubic,
}

/// Fills every gap (`NaN`) between measured samples; what is missing before the first and after the last of
/// them stays so.
pub fn bridge(samples: &mut [f64], rate_hz: f64, kind: Bridge) {
    let mut next = 0;
    while let Some(start) = position(samples, next, |x| x.is_nan()) {
        let Some(end) = position(samples, start, |x| !x.is_nan()) else { return };
        next = end;
        if start == 0 {
            continue;
        }
        let gap = start..end;
        let filled: Vec<f64> = match kind {
            Bridge::Straight => hermite(samples, &gap, None),
            Bridge::Cubic => {
                let reach = ((SLOPE_S * rate_hz).round() as usize).max(FEWEST);
                hermite(samples, &gap, Some(reach))
            }
        };
        samples[gap].copy_from_slice(&filled);
    }
}

fn position(samples: &[f64], from: usize, holds: impl Fn(&f64) -> bool) -> Option<usize> {
    samples.get(from..)?.iter().position(holds).map(|n| from + n)
}

/// The Hermite cubic from the last sample before the gap to the first after it, with slopes from `reach`
/// samples on either side; a straight line without.
fn hermite(samples: &[f64], gap: &Range<usize>, reach: Option<usize>) -> Vec<f64> {
    let (from, to) = (gap.start - 1, gap.end);
    let steps = (to - from) as f64;
    let reach = reach.unwrap_or(0);
    let before = samples[..=from].iter().rev().take(reach).take_while(|x| !x.is_nan());
    let after = samples[to..].iter().take(reach).take_while(|x| !x.is_nan());
    let straight = (samples[to] - samples[from]) / steps;
    // Seen from the gap, what lies before it runs backwards.
    let leaving = level_and_slope(before).map(|[level, slope]| [level, -slope]);
    let [a, slope_a] = leaving.unwrap_or([samples[from], straight]);
    let [b, slope_b] = level_and_slope(after).unwrap_or([samples[to], straight]);
    (1..to - from)
        .map(|k| {
            let s = k as f64 / steps;
            let r = 1.0 - s;
            r * r * (a * (1.0 + 2.0 * s) + slope_a * steps * s)
                + s * s * (b * (1.0 + 2.0 * r) - slope_b * steps * r)
        })
        .collect()
}

/// Value and slope per sample at the first of the values, by a parabola of least squares (Savitzky and Golay
/// 1964, at an end).
fn level_and_slope<'a>(values: impl Iterator<Item = &'a f64> + Clone) -> Option<[f64; 2]> {
    let n = values.clone().count();
    if n < FEWEST {
        return None;
    }
    // Orthogonal polynomials of degree 1 and 2 on n equidistant points about their middle.
    let middle = 0.5 * (n - 1) as f64;
    let square = (0..n).map(|k| (k as f64 - middle).powi(2)).sum::<f64>() / n as f64;
    let (mut sums, mut norms) = ([0.0; 3], [0.0; 3]);
    for (k, value) in values.enumerate() {
        let x = k as f64 - middle;
        for (d, p) in [1.0, x, x * x - square].into_iter().enumerate() {
            sums[d] += p * value;
            norms[d] += p * p;
        }
    }
    let [mean, slope, bend] = [0, 1, 2].map(|d| sums[d] / norms[d]);
    let x = -middle;
    Some([mean + slope * x + bend * (x * x - square), slope + 2.0 * bend * x])
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAP: Range<usize> = 40..50;

    fn bridged(values: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut samples: Vec<f64> = (0..100).map(|i| values(f64::from(i) / 200.0)).collect();
        samples[GAP].fill(f64::NAN);
        bridge(&mut samples, 200.0, Bridge::Cubic);
        samples
    }

    #[test]
    fn a_parabola_is_bridged_exactly_and_a_wave_nearly() {
        let parabola = |t: f64| 1.0 - 3.0 * t + 20.0 * t * t;
        for (i, x) in bridged(parabola).into_iter().enumerate() {
            assert!((x - parabola(i as f64 / 200.0)).abs() < 1e-9, "{x} at {i}");
        }
        // Pitching at 5 Hz: over 50 ms a straight line is off by up to 0.3 of the amplitude.
        let wave = |t: f64| (31.4 * t).sin();
        for (i, x) in bridged(wave).into_iter().enumerate() {
            assert!((x - wave(i as f64 / 200.0)).abs() < 0.1, "{x} at {i}");
        }
    }

    #[test]
    fn edges_stay_missing_and_few_samples_make_a_straight_line() {
        let nan = f64::NAN;
        for kind in [Bridge::Straight, Bridge::Cubic] {
            let mut samples = [nan, 1.0, nan, 3.0, nan];
            bridge(&mut samples, 200.0, kind);
            assert!(samples[0].is_nan() && samples[4].is_nan());
            assert!((samples[2] - 2.0).abs() < 1e-12);
            bridge(&mut [nan; 3], 200.0, kind);
            bridge(&mut [], 200.0, kind);
        }
    }
}
