//! Every metric that was not asked about beforehand.

use serde::{Deserialize, Serialize};

use super::{Contrast, Evidence, RunToRun, RunValues, Scale};
use crate::measured::Measured;
use crate::signal::q_values;

/// A metric to be looked at beside the plan's.
#[derive(Clone, Copy, Debug)]
pub struct ExploredMetric<'a> {
    /// Its key in the read-out.
    pub metric: &'a str,
    /// How its differences are counted.
    pub scale: Scale,
    /// The metric in every run of the day, in the order ridden.
    pub day: &'a [RunValues],
    /// Its scatter on earlier days.
    pub archive: RunToRun,
}

/// One metric that was looked at without having been asked about: a lead for the next test, no verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Explored {
    /// Its key in the read-out.
    pub metric: String,
    /// How its differences were counted.
    pub scale: Scale,
    /// The difference, and where it comes from.
    pub contrast: Measured<Contrast>,
    /// What it rests on.
    pub evidence: Measured<Evidence>,
    /// The share of false leads to expect among the metrics with this q or a smaller one; see [`q_values`].
    pub q: Measured,
}

/// Compares two set-ups on many metrics at once.
///
/// The q values count every metric that has a p value here, so the list must not be chosen by its results.
pub fn explore(metrics: &[ExploredMetric<'_>], sections: &[String], setups: [&str; 2]) -> Vec<Explored> {
    let mut explored: Vec<Explored> = metrics
        .iter()
        .map(|&ExploredMetric { metric, scale, day, archive }| {
            let contrast = Contrast::new(day, setups, sections, scale);
            let evidence = contrast.clone().and_then(|contrast| {
                let scatter = RunToRun::of(day, &contrast.section_names(), scale).with(archive);
                Evidence::of(&contrast, &scatter, scale)
            });
            Explored {
                metric: metric.to_owned(),
                scale,
                contrast: contrast.into(),
                q: evidence.clone().map(|evidence| evidence.p).into(),
                evidence: evidence.into(),
            }
        })
        .collect();
    let p: Vec<f64> =
        explored.iter().map(|one| one.evidence.get().map_or(f64::NAN, |evidence| evidence.p)).collect();
    for (one, q) in explored.iter_mut().zip(q_values(&p)) {
        one.q = one.evidence.get().map(|_| q).into();
    }
    explored
}
