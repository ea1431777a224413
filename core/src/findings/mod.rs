//! From numbers to what they mean: findings, each with its evidence, the usual remedy and what else it may be.
//!
//! A rule reads a run's read-out and nothing else, so that findings can be made anew when a limit or the baseline
//! changes. What a doubted sensor spoils is not measured there, so no rule can read it: doubts come first and silence
//! what hangs on them.

mod baseline;
mod brakes;
mod case;
mod dive;
mod drift;
mod finding;
mod limits;
mod next_run;
mod one_step;
mod rebound;
mod sensors;
mod shake;
mod spring;
mod uneven;
mod words;

pub use baseline::Baseline;
pub use finding::{
    Adjuster, Adjustment, Advice, Certainty, Confidence, Direction, DoubtedChannel, Evidence, Finding,
    FindingKind, Judged, Measure, Moment, Step,
};
pub use limits::{Limit, Limits, Origin};

use serde::{Deserialize, Serialize};

use self::case::Case;
use crate::bike::Bike;
use crate::readout::RunReadout;

/// What findings need to know besides the run; kept in the day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FindingSettings {
    /// The limits that the owner has set.
    #[serde(default, skip_serializing_if = "Limits::is_default")]
    pub limits: Limits,
    /// How the bike usually is on this track.
    #[serde(default, skip_serializing_if = "Baseline::is_empty")]
    pub baseline: Baseline,
}

impl FindingSettings {
    /// Whether nothing was set.
    pub fn is_default(&self) -> bool {
        self.limits.is_default() && self.baseline.is_empty()
    }
}

/// What a run shows, the most important first: doubts about sensors, then what is wrong before what follows from it.
/// At most one adjustment is proposed over the whole list.
pub fn findings(run: &RunReadout, bike: &Bike, settings: &FindingSettings) -> Vec<Finding> {
    let Some(case) = Case::new(run, bike, settings) else { return sensors::doubts(run) };
    let mut found = sensors::doubts(run);
    found.extend(brakes::findings(&case));
    found.extend(drift::findings(&case));
    found.extend(rebound::findings(&case));
    found.extend(spring::findings(&case));
    found.extend(uneven::findings(&case));
    found.extend(dive::findings(&case));
    found.extend(shake::findings(&case));
    in_order(&mut found);
    one_step::propose(&mut found);
    found
}

/// Doubts, what is sure, hints; within each the order of [`FindingKind`], causes before what they cause, then by size.
fn in_order(found: &mut [Finding]) {
    let key = |finding: &Finding| {
        let doubt = finding.kind == FindingKind::SensorDoubt;
        (!doubt, !doubt && finding.confidence.level == Certainty::Hint, finding.kind as usize)
    };
    found.sort_by(|a, b| {
        key(a).cmp(&key(b)).then(b.confidence.times_limit.total_cmp(&a.confidence.times_limit))
    });
}
