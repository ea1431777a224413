//! Monotone cubic interpolation (PCHIP: Fritsch and Butland 1984, the variant of
//! `scipy.interpolate.PchipInterpolator`), straight on beyond both ends.

/// A monotone cubic through given points.
#[derive(Clone, Debug, PartialEq)]
pub struct MonotoneCubic {
    points: Vec<[f64; 2]>,
    slopes: Vec<f64>,
}

impl MonotoneCubic {
    /// A curve through `points` (x, y), in any order.
    ///
    /// # Errors
    /// Fewer than two points, a point that is not a number, or two points at one x.
    pub fn through(points: &[[f64; 2]]) -> Result<Self, TableError> {
        let mut points = points.to_vec();
        if points.len() < 2 {
            return Err(TableError("a table needs two points or more".to_owned()));
        }
        if let Some(bad) = points.iter().find(|point| !point.iter().all(|v| v.is_finite())) {
            return Err(TableError(format!("the point ({}, {}) is not a number", bad[0], bad[1])));
        }
        points.sort_by(|a, b| a[0].total_cmp(&b[0]));
        if let Some(pair) = points.windows(2).find(|pair| pair[0][0] == pair[1][0]) {
            return Err(TableError(format!("two points share the value {}", pair[0][0])));
        }
        let slopes = slopes(&points);
        Ok(Self { points, slopes })
    }

    /// Value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let (i, t, h) = self.locate(x);
        let ([_, y0], [_, y1]) = (self.points[i], self.points[i + 1]);
        let (m0, m1) = (self.slopes[i], self.slopes[i + 1]);
        if t < 0.0 {
            return y0 + m0 * t * h;
        }
        if t > 1.0 {
            return y1 + m1 * (t - 1.0) * h;
        }
        let (t2, t3) = (t * t, t * t * t);
        (2.0 * t3 - 3.0 * t2 + 1.0) * y0
            + (t3 - 2.0 * t2 + t) * h * m0
            + (3.0 * t2 - 2.0 * t3) * y1
            + (t3 - t2) * h * m1
    }

    /// Slope dy/dx at `x`.
    pub fn slope_at(&self, x: f64) -> f64 {
        let (i, t, h) = self.locate(x);
        let t = t.clamp(0.0, 1.0);
        let secant = (self.points[i + 1][1] - self.points[i][1]) / h;
        let (m0, m1) = (self.slopes[i], self.slopes[i + 1]);
        6.0 * t * (1.0 - t) * secant + (3.0 * t * t - 4.0 * t + 1.0) * m0 + (3.0 * t * t - 2.0 * t) * m1
    }

    /// Interval index, place in it (0..1 inside), and its width.
    fn locate(&self, x: f64) -> (usize, f64, f64) {
        let above = self.points.partition_point(|point| point[0] <= x);
        let i = above.saturating_sub(1).min(self.points.len() - 2);
        let h = self.points[i + 1][0] - self.points[i][0];
        (i, (x - self.points[i][0]) / h, h)
    }
}

/// Why a table cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableError(pub String);

impl std::fmt::Display for TableError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for TableError {}

fn slopes(points: &[[f64; 2]]) -> Vec<f64> {
    let h: Vec<f64> = points.windows(2).map(|p| p[1][0] - p[0][0]).collect();
    let secant: Vec<f64> = points.windows(2).zip(&h).map(|(p, h)| (p[1][1] - p[0][1]) / h).collect();
    if let [only] = secant[..] {
        return vec![only; 2];
    }
    let last = h.len() - 1;
    let inner = (1..h.len()).map(|i| {
        let (before, after) = (secant[i - 1], secant[i]);
        if before * after <= 0.0 {
            return 0.0;
        }
        // Harmonic mean, each side weighted by the other's width: never overshoots.
        let (w1, w2) = (2.0 * h[i] + h[i - 1], h[i] + 2.0 * h[i - 1]);
        (w1 + w2) / (w1 / before + w2 / after)
    });
    std::iter::once(end_slope(h[0], h[1], secant[0], secant[1]))
        .chain(inner)
        .chain([end_slope(h[last], h[last - 1], secant[last], secant[last - 1])])
        .collect()
}

/// One-sided three-point slope, kept from overshooting.
fn end_slope(h0: f64, h1: f64, secant0: f64, secant1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * secant0 - h0 * secant1) / (h0 + h1);
    if slope * secant0 <= 0.0 {
        0.0
    } else if secant0 * secant1 <= 0.0 && slope.abs() > 3.0 * secant0.abs() {
        3.0 * secant0
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_stays_straight_beyond_its_ends() {
        let curve = MonotoneCubic::through(&[[0.0, 1.0], [1.0, 3.0], [4.0, 9.0]]).unwrap();
        for x in [-2.0, 0.0, 0.3, 1.0, 2.7, 4.0, 7.0] {
            assert!((curve.at(x) - (1.0 + 2.0 * x)).abs() < 1e-12);
            assert!((curve.slope_at(x) - 2.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_table_that_cannot_be_one_says_why() {
        assert!(MonotoneCubic::through(&[[0.0, 0.0]]).is_err());
        assert!(MonotoneCubic::through(&[[0.0, 0.0], [0.0, 1.0]]).is_err());
        assert!(MonotoneCubic::through(&[[0.0, 0.0], [f64::NAN, 1.0]]).is_err());
    }
}
