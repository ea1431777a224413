//! What the scatter between runs lets a difference mean.

use serde::{Deserialize, Serialize};

use super::{Contrast, RunToRun, Scale};
use crate::measured::NotMeasured;
use crate::signal::{detectable_noncentrality, t_quantile, t_upper_tail};

/// Level of the two-sided test, and of each of the two one-sided ones.
pub const TEST_LEVEL: f64 = 0.05;
/// The smallest detectable difference is found with this probability (common practice).
pub const DETECTION_POWER: f64 = 0.8;

/// The evidence for a difference, with `e = s sqrt(1/nA + 1/nB)`, `s` from run to run, and Student's t.
///
/// Intervals and the smallest detectable difference are told as the difference itself is: in the metric's
/// unit, or as a share on the logarithmic scale.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// 95 % interval, difference `+- t(0.975, df) e`.
    pub interval: [f64; 2],
    /// 90 % interval, difference `+- t(0.95, df) e`; inside what is worth having exactly when both one-sided
    /// tests reject.
    pub interval_90: [f64; 2],
    /// `s`, on the plan's scale (nearly a share, where logarithmic).
    pub run_to_run_sd: f64,
    /// Degrees of freedom: runs less set-ups, over the day and the archive.
    pub df: usize,
    /// Two-sided p value of there being no difference.
    pub p: f64,
    /// The smallest true difference whose 95 % interval will leave out zero four times in five, `d e`;
    /// see [`detectable_noncentrality`] for `d`.
    pub smallest_detectable: f64,
}

impl Evidence {
    /// Weighs a difference by the scatter of the repeats of the same day, on the same sections, and of the
    /// archive.
    ///
    /// # Errors
    /// Where nothing was ridden twice, or the repeats do not differ at all.
    pub fn of(contrast: &Contrast, scatter: &RunToRun, scale: Scale) -> Result<Self, NotMeasured> {
        let sd = scatter.sd().ok_or_else(|| {
            NotMeasured::because(
                "no set-up was ridden twice, on this day or before, so nobody knows how much runs differ by \
                 themselves; ride one again",
            )
        })?;
        if sd <= 0.0 {
            return Err(NotMeasured::because(
                "repeats of one set-up agree to the last digit; is one file loaded twice?",
            ));
        }
        let df = scatter.df();
        let error = standard_error(sd, contrast.runs);
        let difference = scale.untold(contrast.difference);
        let noncentrality = detectable_noncentrality(df as f64, TEST_LEVEL, DETECTION_POWER)
            .ok_or_else(|| NotMeasured::because("there are too few repeats to find any difference"))?;
        let interval = |level: f64| {
            let reach = t_quantile(1.0 - 0.5 * level, df as f64) * error;
            [difference - reach, difference + reach].map(|end| scale.told(end))
        };
        Ok(Self {
            interval: interval(TEST_LEVEL),
            interval_90: interval(2.0 * TEST_LEVEL),
            run_to_run_sd: sd,
            df,
            p: 2.0 * t_upper_tail(difference.abs() / error, df as f64),
            smallest_detectable: scale.told(noncentrality * error),
        })
    }

    /// p value of the difference being as large as `worth_having` or larger: that of the worse of two
    /// one-sided tests (Schuirmann 1987), against `-worth_having` and `+worth_having`.
    pub(super) fn p_worth_having(&self, contrast: &Contrast, worth_having: f64, scale: Scale) -> f64 {
        let error = standard_error(self.run_to_run_sd, contrast.runs);
        let short = scale.untold(worth_having) - scale.untold(contrast.difference).abs();
        t_upper_tail(short / error, self.df as f64)
    }
}

/// `s sqrt(1/nA + 1/nB)`
fn standard_error(sd: f64, runs: [usize; 2]) -> f64 {
    sd * runs.map(|n| 1.0 / n as f64).iter().sum::<f64>().sqrt()
}
