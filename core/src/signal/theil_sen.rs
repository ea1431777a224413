//! A slope that outliers do not move: the median of the slopes of all pairs (Theil 1950, Sen 1968).

use super::median;

/// Points beyond this are thinned evenly: all pairs of so many are two million already.
const MOST_POINTS: usize = 2000;

/// Median slope of all pairs of points with different `x`; points with a missing value are left out.
/// `None` with fewer than two different `x`.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<f64> {
    let finite = x.iter().copied().zip(y.iter().copied()).filter(|(x, y)| x.is_finite() && y.is_finite());
    let mut points: Vec<(f64, f64)> = finite.collect();
    if points.len() > MOST_POINTS {
        points = (0..MOST_POINTS).map(|k| points[k * points.len() / MOST_POINTS]).collect();
    }
    let pairs = points.iter().enumerate().flat_map(|(k, a)| points[k + 1..].iter().map(move |b| (a, b)));
    let slopes: Vec<f64> =
        pairs.filter(|(a, b)| a.0 != b.0).map(|(a, b)| (b.1 - a.1) / (b.0 - a.0)).collect();
    median(&slopes)
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
    }
}
