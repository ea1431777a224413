//! A slope that outliers do not move: the median of the slopes of all pairs (Theil 1950, Sen 1968).

use super::interval::NORMAL_95;
use super::median;

/// Points beyond this are thinned evenly: all pairs of so many are two million already.
const MOST_POINTS: usize = 2000;

/// Median slope of all pairs of points with different `x`; points with a missing value are left out.
/// `None` with fewer than two different `x`.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<f64> {
    median(&slopes(&points(x, y)))
}

/// [`theil_sen`] with its 95 % interval from the rank correlation's variance, ties corrected for (Sen 1968).
pub fn theil_sen_interval(x: &[f64], y: &[f64]) -> Option<(f64, [f64; 2])> {
    let points = points(x, y);
    let mut slopes = slopes(&points);
    let slope = median(&slopes)?;
    slopes.sort_by(f64::total_cmp);
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (n, pairs) = (points.len() as f64, slopes.len() as f64);
    let of_ties = |k: f64| k * (k - 1.0) * (2.0 * k + 5.0);
    let variance =
        (of_ties(n) - ties(x).map(of_ties).sum::<f64>() - ties(y).map(of_ties).sum::<f64>()) / 18.0;
    let half = NORMAL_95 * variance.max(0.0).sqrt();
    let last = slopes.len() - 1;
    let low = ((pairs - half) / 2.0).round_ties_even() as isize - 1;
    let high = ((pairs + half) / 2.0).round_ties_even() as usize;
    Some((slope, [slopes[low.max(0) as usize], slopes[high.min(last)]]))
}

fn points(x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    let finite = x.iter().copied().zip(y.iter().copied()).filter(|(x, y)| x.is_finite() && y.is_finite());
    let points: Vec<(f64, f64)> = finite.collect();
    if points.len() <= MOST_POINTS {
        return points;
    }
    (0..MOST_POINTS).map(|k| points[k * points.len() / MOST_POINTS]).collect()
}

fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let pairs = points.iter().enumerate().flat_map(|(k, a)| points[k + 1..].iter().map(move |b| (a, b)));
    pairs.filter(|(a, b)| a.0 != b.0).map(|(a, b)| (b.1 - a.1) / (b.0 - a.0)).collect()
}

/// How many share each value.
fn ties(mut values: Vec<f64>) -> impl Iterator<Item = f64> {
    values.sort_by(f64::total_cmp);
    let counts: Vec<f64> = values.chunk_by(|a, b| a == b).map(|same| same.len() as f64).collect();
    counts.into_iter()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outliers_and_missing_points_do_not_move_it() {
        let x: Vec<f64> = (0..5000).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 3.0 - 0.25 * x).collect();
        y[100..600].fill(1e6);
        y[700] = f64::NAN;
        assert!((theil_sen(&x, &y).unwrap() + 0.25).abs() < 1e-9);
        assert_eq!(theil_sen(&[1.0, 1.0], &[2.0, 3.0]), None);
        assert_eq!(theil_sen(&[], &[]), None);
        assert_eq!(theil_sen_interval(&[1.0, 1.0], &[2.0, 3.0]), None);
        let (slope, [low, high]) = theil_sen_interval(&x, &y).unwrap();
        assert!(low <= slope && slope <= high);
    }
}
