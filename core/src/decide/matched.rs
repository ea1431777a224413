//! Like with like: the sections that two set-ups can be compared on.

use serde::{Deserialize, Serialize};

use super::Scale;
use crate::measured::{Measured, NotMeasured};

/// Runs whose mean speeds in a section differ by more are not compared there, m/s: shaking, hits and brake
/// work all grow with speed (common practice).
pub const LIKE_SPEED_MPS: f64 = 1.0;

/// One metric in one run.
#[derive(Clone, Debug, PartialEq)]
pub struct RunValues {
    /// Name of the run.
    pub run: String,
    /// Name of the set-up it was ridden with; the same name is the same set-up.
    pub setup: String,
    /// The metric in its sections.
    pub sections: Vec<SectionValue>,
}

/// One metric in one section of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionValue {
    /// Name of the section.
    pub section: String,
    /// The metric.
    pub value: Measured,
    /// Mean speed in the section, m/s.
    pub mean_speed_mps: Measured,
}

/// What B made of one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionDifference {
    /// Name of the section.
    pub section: String,
    /// Mean of B less mean of A, as [`Scale::told`] tells it.
    pub difference: f64,
    /// Mean speed with B less that with A, m/s; not measured where a run has no speed, so that nobody can say
    /// whether like is compared with like.
    pub speed_difference_mps: Measured,
}

/// A section or a run that was not compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// Name of the section or the run.
    pub name: String,
    /// Why, in a sentence fit for the screen.
    pub reason: String,
}

impl RunValues {
    fn section(&self, name: &str) -> Option<&SectionValue> {
        self.sections.iter().find(|value| value.section == name)
    }

    /// The metric in a section on the plan's scale, or why it has none there.
    fn place(&self, section: &str, scale: Scale) -> Result<f64, NotMeasured> {
        let value = self
            .section(section)
            .ok_or_else(|| NotMeasured::because("it does not have this section"))?
            .value
            .get()?;
        scale.place(*value).ok_or_else(|| {
            NotMeasured::because(format!("its value there, {value}, has no place on the plan's scale"))
        })
    }

    fn speed_mps(&self, section: &str) -> Result<f64, NotMeasured> {
        let unknown = || NotMeasured::because(format!("{} has no speed here", self.run));
        let speed = self.section(section).and_then(|value| value.mean_speed_mps.get().ok().copied());
        speed.filter(|speed| speed.is_finite()).ok_or_else(unknown)
    }

    /// Whether the run can be compared anywhere.
    pub(super) fn has_any(&self, sections: &[String], scale: Scale) -> bool {
        sections.iter().any(|section| self.place(section, scale).is_ok())
    }

    /// The run's one number: its mean over sections, on the scale; `None` if it lacks one of them.
    pub(super) fn mean(&self, sections: &[String], scale: Scale) -> Option<f64> {
        let places: Option<Vec<f64>> =
            sections.iter().map(|section| self.place(section, scale).ok()).collect();
        places.and_then(|places| mean(places.into_iter()))
    }
}

/// Why a section cannot be used for all of these runs, if so: one has no value in it, or rode it more than
/// [`LIKE_SPEED_MPS`] faster or slower than the runs that it is compared with rode it on average.
///
/// A run is compared with the runs of every other group; those of a lone group with their own mean. Runs
/// without a speed are let through.
pub(super) fn unlike(section: &str, groups: &[&[&RunValues]], scale: Scale) -> Option<String> {
    for run in groups.iter().copied().flatten() {
        if let Err(NotMeasured(reason)) = run.place(section, scale) {
            return Some(format!("{}: {reason}", run.run));
        }
    }
    for (g, group) in groups.iter().enumerate() {
        for run in *group {
            let others = groups.iter().enumerate().filter(|(other, _)| *other != g || groups.len() == 1);
            let speeds = others.flat_map(|(_, others)| *others).filter_map(|run| run.speed_mps(section).ok());
            let (Ok(own), Some(theirs)) = (run.speed_mps(section), mean(speeds)) else { continue };
            if (own - theirs).abs() > LIKE_SPEED_MPS {
                let (by, way) = ((own - theirs).abs(), if own > theirs { "faster" } else { "slower" });
                return Some(format!(
                    "{} was {by:.1} m/s {way} here than the runs it is compared with",
                    run.run
                ));
            }
        }
    }
    None
}

/// B less A in one section in which every run has a value.
pub(super) fn difference(
    section: &str,
    [a, b]: [&[&RunValues]; 2],
    scale: Scale,
) -> Option<(f64, SectionDifference)> {
    let place = |runs: &[&RunValues]| mean(runs.iter().filter_map(|run| run.place(section, scale).ok()));
    let difference = place(b)? - place(a)?;
    let speed = |runs: &[&RunValues]| {
        let speeds: Result<Vec<f64>, NotMeasured> = runs.iter().map(|run| run.speed_mps(section)).collect();
        Ok(mean(speeds?.into_iter()).unwrap_or(f64::NAN))
    };
    let speed_difference = speed(b).and_then(|b| Ok(b - speed(a)?));
    let told = SectionDifference {
        section: section.to_owned(),
        difference: scale.told(difference),
        speed_difference_mps: speed_difference.into(),
    };
    Some((difference, told))
}

/// The mean of a set-up's runs over sections in which every run has a value, in the metric's unit.
pub(super) fn level(sections: &[SectionDifference], runs: &[&RunValues], scale: Scale) -> Option<f64> {
    let names: Vec<String> = sections.iter().map(|compared| compared.section.clone()).collect();
    mean(runs.iter().filter_map(|run| run.mean(&names, scale))).map(|place| scale.value(place))
}

/// Mean of the values; `None` where there are none.
pub(super) fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0_usize), |(sum, n), value| (sum + value, n + 1));
    (n > 0).then(|| sum / n as f64)
}
