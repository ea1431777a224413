//! Calibration against published references.

use evenkeel_core::calibrate::MonotoneCubic;
use evenkeel_tests::python::reference;

/// Source: `scipy.interpolate.PchipInterpolator` (Fritsch and Butland 1984), run on the same points:
/// a linkage, and points with a plateau, a turn and uneven steps.
#[test]
fn monotone_cubic_is_scipys() {
    let linkage: Vec<[f64; 2]> =
        (0..=30).map(|i| f64::from(i) * 2.5).map(|s| [s, 3.0 * s - 0.004 * s * s]).collect();
    let rough = vec![[0.0, 1.0], [0.3, 1.0], [1.0, 4.0], [1.1, 4.5], [3.0, -2.0], [7.0, -2.1], [7.5, 6.0]];
    for points in [linkage, rough, vec![[0.0, 0.0], [2.0, 5.0]]] {
        let curve = MonotoneCubic::through(&points).unwrap();
        let (first, last) = (points[0][0], points[points.len() - 1][0]);
        let at: Vec<f64> = (0..=500).map(|i| first + (last - first) * f64::from(i) / 500.0).collect();
        let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|p| (p[0], p[1])).unzip();
        let theirs = reference("pchip", &[("x", &x), ("y", &y), ("at", &at)]);
        for (i, &x) in at.iter().enumerate() {
            assert!((curve.at(x) - theirs["value"][i]).abs() < 1e-9, "value at {x}");
            assert!((curve.slope_at(x) - theirs["slope"][i]).abs() < 1e-7, "slope at {x}");
        }
    }
}
