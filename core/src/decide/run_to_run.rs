//! How much a metric varies between runs of an unchanged bike.

use serde::{Deserialize, Serialize};

use super::matched::{mean, unlike};
use super::{RunValues, Scale, TEST_LEVEL};
use crate::signal::t_quantile;

/// Scatter between repeats of one set-up, pooled.
///
/// A trend between the repeats counts as scatter: it makes intervals wider, never narrower.
///
/// Sums add, so that an archive needs to keep one of these for each day, metric and scale.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RunToRun {
    /// Squared deviations of the runs' numbers from their set-up's mean, summed; on the plan's scale.
    pub sum_squares: f64,
    /// Runs that were counted.
    pub runs: usize,
    /// Set-ups that they were ridden with.
    pub setups: usize,
}

impl RunToRun {
    /// The scatter of one day's runs: each run's number is its mean over `sections`, on the scale.
    ///
    /// A set-up is read on those of the sections that all its runs have, each ridden within
    /// [`LIKE_SPEED_MPS`](super::LIKE_SPEED_MPS) of their mean speed. Runs with none of the sections, and
    /// set-ups ridden once, say nothing.
    pub fn of(runs: &[RunValues], sections: &[String], scale: Scale) -> Self {
        let runs: Vec<&RunValues> = runs.iter().filter(|run| run.has_any(sections, scale)).collect();
        let mut setups: Vec<&str> = runs.iter().map(|run| run.setup.as_str()).collect();
        setups.sort_unstable();
        setups.dedup();
        let mut pooled = Self::default();
        for setup in setups {
            let repeats: Vec<&RunValues> = runs.iter().copied().filter(|run| run.setup == setup).collect();
            let shared: Vec<String> = sections
                .iter()
                .filter(|section| unlike(section, &[&repeats], scale).is_none())
                .cloned()
                .collect();
            let numbers: Vec<f64> = repeats.iter().filter_map(|run| run.mean(&shared, scale)).collect();
            let Some(mean) = mean(numbers.iter().copied()).filter(|_| numbers.len() > 1) else { continue };
            pooled = pooled.with(Self {
                sum_squares: numbers.iter().map(|number| (number - mean).powi(2)).sum(),
                runs: numbers.len(),
                setups: 1,
            });
        }
        pooled
    }

    /// Both together: a day with its archive.
    pub fn with(self, other: Self) -> Self {
        Self {
            sum_squares: self.sum_squares + other.sum_squares,
            runs: self.runs + other.runs,
            setups: self.setups + other.setups,
        }
    }

    /// Degrees of freedom: runs less set-ups.
    pub fn df(&self) -> usize {
        self.runs.saturating_sub(self.setups)
    }

    /// By how much two runs of one set-up differ at most, nineteen times in twenty: `t(0.975, df) s sqrt 2`, on the
    /// plan's scale.
    pub fn pair_differs_by(&self) -> Option<f64> {
        let sd = self.sd()?;
        Some(t_quantile(1.0 - 0.5 * TEST_LEVEL, self.df() as f64) * sd * std::f64::consts::SQRT_2)
    }

    /// Standard deviation from run to run, on the plan's scale; `None` where nothing was ridden twice, or the
    /// sum is not a number that repeats can give.
    pub fn sd(&self) -> Option<f64> {
        let sd = (self.sum_squares / self.df() as f64).sqrt();
        (self.df() > 0 && sd.is_finite()).then_some(sd)
    }
}
