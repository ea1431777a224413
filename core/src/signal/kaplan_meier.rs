//! How long something takes when some of it was cut short (Kaplan and Meier 1958).

use super::interval::NORMAL_95;

/// A time until something happened, or until watching for it ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Duration {
    /// It happened after this time, s.
    Observed(f64),
    /// It had not happened when watching ended after this time, s.
    Censored(f64),
}

impl Duration {
    fn seconds(self) -> f64 {
        match self {
            Self::Observed(s) | Self::Censored(s) => s,
        }
    }
}

/// Product-limit estimate of how many have not happened yet.
#[derive(Clone, Debug, PartialEq)]
pub struct KaplanMeier {
    /// Rising times at which something happened, s, with the share that had not happened just after.
    pub steps: Vec<(f64, f64)>,
    /// Greenwood's sum at each step: the variance of the share over its square.
    greenwood: Vec<f64>,
}

impl KaplanMeier {
    /// The estimate from durations; ones that are not finite are left out. One that was cut short at the
    /// very time of an event counts as still watched then.
    pub fn new(durations: &[Duration]) -> Self {
        let mut sorted: Vec<Duration> =
            durations.iter().copied().filter(|d| d.seconds().is_finite()).collect();
        sorted.sort_by(|a, b| a.seconds().total_cmp(&b.seconds()));
        let mut watched = sorted.len();
        let mut left = 1.0;
        let mut steps = Vec::new();
        let (mut sum, mut greenwood) = (0.0, Vec::new());
        for same in sorted.chunk_by(|a, b| a.seconds() == b.seconds()) {
            let happened = same.iter().filter(|d| matches!(d, Duration::Observed(_))).count();
            if happened > 0 {
                left *= 1.0 - happened as f64 / watched as f64;
                steps.push((same[0].seconds(), left));
                sum += happened as f64 / (watched as f64 * (watched - happened) as f64);
                greenwood.push(sum);
            }
            watched -= same.len();
        }
        Self { steps, greenwood }
    }

    /// 95 % bounds of the share left at each step, from its log-log transform (Kalbfleisch and Prentice);
    /// `NaN` once none is left.
    pub fn bounds(&self) -> Vec<[f64; 2]> {
        let bounds = self.steps.iter().zip(&self.greenwood).map(|(&(_, left), variance)| {
            let width = NORMAL_95 * variance.sqrt() / left.ln();
            [left.powf((-width).exp()), left.powf(width.exp())]
        });
        bounds.collect()
    }

    /// 95 % interval of [`quantile_s`](Self::quantile_s): the times at which the share left may be the asked
    /// one (Brookmeyer and Crowley 1982); `None` where watching ended before.
    pub fn quantile_interval_s(&self, share: f64) -> Option<[f64; 2]> {
        let bounds = self.bounds();
        let first = |bound: usize| {
            let within = bounds.iter().position(|b| b[bound] <= 1.0 - share + 1e-12)?;
            Some(self.steps[within].0)
        };
        Some([first(0)?, first(1)?])
    }

    /// The time by which a share (0.5 for the median) has happened, s; `None` where watching ended before.
    pub fn quantile_s(&self, share: f64) -> Option<f64> {
        // A share that is reached exactly must not be missed by rounding.
        self.steps.iter().find(|(_, left)| 1.0 - left >= share - 1e-12).map(|&(time_s, _)| time_s)
    }
}

#[cfg(test)]
mod tests {
    use super::Duration::{Censored, Observed};
    use super::*;

    #[test]
    fn what_was_cut_short_still_counts_as_watched() {
        let estimate = KaplanMeier::new(&[Observed(1.0), Censored(2.0), Observed(3.0), Observed(4.0)]);
        // 3/4 left, then half of these two, then none.
        assert_eq!(estimate.steps, [(1.0, 0.75), (3.0, 0.375), (4.0, 0.0)]);
        assert_eq!((estimate.quantile_s(0.25), estimate.quantile_s(0.5)), (Some(1.0), Some(3.0)));
        assert_eq!(KaplanMeier::new(&[Observed(1.0), Censored(2.0)]).quantile_s(0.9), None);
        assert_eq!(KaplanMeier::new(&[]).quantile_s(0.5), None);
        assert_eq!(KaplanMeier::new(&[Observed(1.0), Censored(2.0)]).quantile_interval_s(0.5), None);
    }

    #[test]
    fn the_interval_holds_the_median() {
        let durations: Vec<_> = (1..=100).map(|k| Observed(f64::from(k))).collect();
        let estimate = KaplanMeier::new(&durations);
        assert_eq!(estimate.quantile_s(0.5), Some(50.0));
        let [low, high] = estimate.quantile_interval_s(0.5).unwrap();
        assert!((38.0..46.0).contains(&low) && (55.0..63.0).contains(&high), "{low}..{high}");
    }
}
