//! One set-up against another: the difference itself.

use serde::{Deserialize, Serialize};

use super::matched::{difference, level, mean, unlike};
use super::{LeftOut, RunValues, Scale, SectionDifference};
use crate::measured::NotMeasured;

/// Set-up B less set-up A on one metric, over the sections that both rode at like speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contrast {
    /// Names of the set-ups: A before the change, B with it.
    pub setups: [String; 2],
    /// Runs counted of each.
    pub runs: [usize; 2],
    /// Mean of B's runs less mean of A's, averaged over the sections: in the metric's unit, or as a share
    /// (-0.06: B has 6 % less) on the logarithmic scale.
    pub difference: f64,
    /// What A and B have on average over the sections that were compared, in the metric's unit; on the logarithmic
    /// scale the geometric mean.
    pub levels: [f64; 2],
    /// The sections that were compared.
    pub sections: Vec<SectionDifference>,
    /// The sections that were not.
    pub sections_left_out: Vec<LeftOut>,
    /// Runs of either set-up that were not counted.
    pub runs_left_out: Vec<LeftOut>,
    /// Both set-ups were ridden equally late on average, as in A-B-A, so that a steady trend is taken out.
    /// Where it is not, learning or a drying track counts as a difference.
    pub steady_trend_removed: bool,
    /// A run with one set-up lies between two with the other, so that at least part of a trend is taken out.
    pub ridden_in_turn: bool,
}

impl Contrast {
    /// Compares two set-ups of a day, whose runs stand in the order ridden; with A-B-A this is
    /// `B - (A1 + A2) / 2`. A run is one vote, however many sections it has.
    ///
    /// # Errors
    /// Where there is nothing to compare: one set-up twice, a set-up without a run, no section that both rode
    /// at like speed.
    pub fn new(
        day: &[RunValues],
        setups: [&str; 2],
        sections: &[String],
        scale: Scale,
    ) -> Result<Self, NotMeasured> {
        if setups[0] == setups[1] {
            return Err(NotMeasured::because("a set-up cannot be compared with itself"));
        }
        let mut runs_left_out = Vec::new();
        let mut groups: [Vec<(usize, &RunValues)>; 2] = Default::default();
        for (place, run) in day.iter().enumerate() {
            let Some(group) = setups.iter().position(|setup| *setup == run.setup) else { continue };
            if run.has_any(sections, scale) {
                groups[group].push((place, run));
            } else {
                let reason = "it has the metric in none of the plan's sections".to_owned();
                runs_left_out.push(LeftOut { name: run.run.clone(), reason });
            }
        }
        for (setup, group) in setups.iter().zip(&groups) {
            if group.is_empty() {
                return Err(NotMeasured::because(format!("no run with set-up {setup} has the metric")));
            }
        }
        let [late_a, late_b] =
            groups.each_ref().map(|group| mean(group.iter().map(|(place, _)| *place as f64)));
        let places = groups.each_ref().map(|group| group.iter().map(|(place, _)| *place).collect::<Vec<_>>());
        let [a, b] = groups.map(|group| group.into_iter().map(|(_, run)| run).collect::<Vec<_>>());

        let (mut compared, mut differences, mut sections_left_out) = (Vec::new(), Vec::new(), Vec::new());
        for section in sections {
            if let Some(reason) = unlike(section, &[&a, &b], scale) {
                sections_left_out.push(LeftOut { name: section.clone(), reason });
            } else if let Some((place, told)) = difference(section, [&a, &b], scale) {
                differences.push(place);
                compared.push(told);
            }
        }
        let Some(mean_difference) = mean(differences.into_iter()) else {
            let reasons: Vec<String> =
                sections_left_out.iter().map(|out| format!("{} ({})", out.name, out.reason)).collect();
            let reason = format!("no section can be compared: {}", reasons.join("; "));
            return Err(NotMeasured::because(reason));
        };
        let levels = [&a, &b].map(|runs| level(&compared, runs, scale).unwrap_or(f64::NAN));
        Ok(Self {
            setups: setups.map(str::to_owned),
            runs: [a.len(), b.len()],
            difference: scale.told(mean_difference),
            levels,
            sections: compared,
            sections_left_out,
            runs_left_out,
            ridden_in_turn: encloses(&places[0], &places[1]) || encloses(&places[1], &places[0]),
            steady_trend_removed: late_a.zip(late_b).is_some_and(|(a, b)| (a - b).abs() < 1e-9),
        })
    }

    /// Names of the sections that were compared.
    pub(super) fn section_names(&self) -> Vec<String> {
        self.sections.iter().map(|compared| compared.section.clone()).collect()
    }
}

/// Whether one of the inner places lies between two of the outer ones.
fn encloses(outer: &[usize], inner: &[usize]) -> bool {
    let (first, last) = (outer.iter().min(), outer.iter().max());
    inner.iter().any(|place| Some(place) > first && Some(place) < last)
}
