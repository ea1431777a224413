//! A straight line by weighted least squares.

use super::Clock;

/// `y = level + slope (x - pivot)`; about the pivot, level and slope are independent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    /// Weighted mean of x.
    pub pivot: f64,
    pub level: f64,
    pub slope: f64,
    /// Standard deviations that follow from those given for the points; infinite for an undetermined slope.
    pub level_sd: f64,
    pub slope_sd: f64,
}

impl Line {
    /// The line through points `(x, y, standard deviation of y)`, of which there must be one at least.
    pub fn through(points: &[(f64, f64, f64)]) -> Self {
        let weighted = |value: &dyn Fn(f64, f64) -> f64| {
            points.iter().map(|&(x, y, sd)| value(x, y) / (sd * sd)).sum::<f64>()
        };
        let weight = weighted(&|_, _| 1.0);
        let pivot = weighted(&|x, _| x) / weight;
        let level = weighted(&|_, y| y) / weight;
        let spread = weighted(&|x, _| (x - pivot).powi(2));
        // Points at one x carry rounding only.
        let determined = spread > weight * (1e-9 * (1.0 + pivot.abs())).powi(2);
        let slope = if determined { weighted(&|x, y| (x - pivot) * (y - level)) / spread } else { 0.0 };
        let slope_sd = if determined { spread.sqrt().recip() } else { f64::INFINITY };
        Self { pivot, level, slope, level_sd: weight.sqrt().recip(), slope_sd }
    }

    pub fn at(&self, x: f64) -> f64 {
        self.level + self.slope * (x - self.pivot)
    }

    /// The same line with standard deviations widened where the points scatter more than they should, and
    /// flat unless its slope is then known to `usable_sd` and exceeds two standard deviations.
    pub fn with_believable_slope(self, points: &[(f64, f64, f64)], usable_sd: f64) -> Self {
        let scatter = self.excess_scatter(points);
        let slope_sd = self.slope_sd * scatter;
        let believable = slope_sd < usable_sd && self.slope.abs() > 2.0 * slope_sd;
        Self {
            slope: if believable { self.slope } else { 0.0 },
            level_sd: self.level_sd * scatter,
            slope_sd,
            ..self
        }
    }

    /// The clock of a source whose time is x and whose lead of the day is y.
    pub fn clock(&self) -> Clock {
        Clock { offset_s: self.level - self.slope * self.pivot, drift: self.slope }
    }

    /// By how much the points scatter more than their standard deviations say; 1 if they do not, or if
    /// there are too few to tell (Birge 1932).
    fn excess_scatter(&self, points: &[(f64, f64, f64)]) -> f64 {
        let Some(freedom) = points.len().checked_sub(2).filter(|&n| n > 0) else { return 1.0 };
        let squares: f64 = points.iter().map(|&(x, y, sd)| ((y - self.at(x)) / sd).powi(2)).sum();
        (squares / freedom as f64).sqrt().max(1.0)
    }
}
