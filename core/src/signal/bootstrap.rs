//! How far a statistic of few samples may be off, from the samples alone.

use super::{Random, median, percentiles};
use crate::Measured;

/// Resamples unless said.
pub const DRAWS: usize = 2000;

/// A statistic of some samples and its 95 % percentile bootstrap interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bootstrapped {
    /// The statistic of the samples themselves.
    pub estimate: f64,
    /// 2.5th and 97.5th percentile of the statistic over the resamples.
    pub interval: [f64; 2],
    /// How many finite samples there were.
    pub n: usize,
}

impl From<Bootstrapped> for Measured {
    fn from(found: Bootstrapped) -> Self {
        Self::value(found.estimate).with_n(found.n).with_interval(found.interval)
    }
}

/// The median and its 95 % percentile bootstrap interval (Efron 1979) from [`DRAWS`] resamples.
///
/// Missing samples are left out; `None` where none is left. The same samples and seed always give the same
/// interval. It holds for the samples' own kind only: hits of one run describe that run. Below about eight
/// samples it is too narrow.
pub fn bootstrap_median<T: Copy + Into<f64>>(samples: &[T], seed: u64) -> Option<Bootstrapped> {
    bootstrap(samples, |drawn| median(drawn).unwrap_or(f64::NAN), DRAWS, seed)
}

/// Any statistic and its interval from `draws` resamples of as many samples with replacement: see
/// [`bootstrap_median`]. Resamples whose statistic is not finite are left out.
pub fn bootstrap<T: Copy + Into<f64>>(
    samples: &[T],
    statistic: impl Fn(&[f64]) -> f64,
    draws: usize,
    seed: u64,
) -> Option<Bootstrapped> {
    let finite: Vec<f64> = samples.iter().map(|&x| x.into()).filter(|x| x.is_finite()).collect();
    if finite.is_empty() {
        return None;
    }
    let mut random = Random::seeded(seed);
    let mut drawn = vec![0.0; finite.len()];
    let statistics: Vec<f64> = (0..draws)
        .map(|_| {
            drawn.fill_with(|| finite[random.below(finite.len())]);
            statistic(&drawn)
        })
        .collect();
    let interval = percentiles(&statistics, [2.5, 97.5])?;
    Some(Bootstrapped { estimate: statistic(&finite), interval, n: finite.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_samples_give_the_same_interval() {
        let ratios = [0.9_f32, 1.1, f32::NAN, 1.0, 0.7, 1.3, 1.05, 0.95, 1.2];
        let first = bootstrap_median(&ratios, 7).unwrap();
        assert_eq!(Some(first), bootstrap_median(&ratios, 7));
        assert_eq!(first.n, 8);
        assert!((first.estimate - 1.025).abs() < 1e-6);
        assert!(first.interval[0] < first.estimate && first.estimate < first.interval[1]);
    }

    #[test]
    fn too_little_to_vary() {
        assert_eq!(bootstrap_median(&[f64::NAN], 1), None);
        assert_eq!(bootstrap_median(&[2.0], 1).map(|b| b.interval), Some([2.0, 2.0]));
        assert_eq!(bootstrap(&[1.0, 2.0], |_| f64::NAN, 10, 1), None);
    }

    /// Order statistics 41 and 61 of 101: the exact binomial interval (Conover 1999, section 3.2).
    #[test]
    fn a_spread_of_values_has_a_median_within_its_interval() {
        let values: Vec<f64> = (0..101).map(f64::from).collect();
        let found = bootstrap_median(&values, 1).unwrap();
        let [low, high] = found.interval;
        assert!(found.estimate == 50.0 && found.n == 101);
        assert!((low - 40.0).abs() <= 2.0 && (high - 60.0).abs() <= 2.0, "{low}..{high}");
    }
}
