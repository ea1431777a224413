//! Everything that a day's runs and the archive say about two set-ups.

use serde::{Deserialize, Serialize};

use super::{
    Archive, Comparison, Contrast, Explored, ExploredMetric, METRICS, Plan, RunSummary, RunToRun, RunValues,
    Scale, compare, explore,
};
use crate::measured::NotMeasured;

/// The time of a section, as the archive calls it.
const TIME: &str = "time_s";

/// Set-up B beside set-up A.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BackToBack {
    /// The question and its answer, if one was asked.
    pub asked: Option<Asked>,
    /// Every other metric, on the same sections.
    pub explored: Vec<Explored>,
    /// How much the time over each section varies from run to run with nothing changed, plain, in s.
    pub times: Vec<(String, RunToRun)>,
}

/// What became of the question.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// The comparison, or why there is none.
    pub comparison: Result<Comparison, NotMeasured>,
    /// The repeats that its scatter rests on: those of the day, and those of the earlier days.
    pub scatter: [RunToRun; 2],
}

/// Compares two set-ups of a day, A and B, by name: `runs` in the order ridden, other set-ups included.
///
/// `plan` is the question; without one nothing is asked. The rest is explored on the plan's sections, else on
/// `sections`; on the logarithmic scale where a metric is always positive. Scatter is always that of the sections
/// which were compared.
pub fn back_to_back(
    runs: &[RunSummary],
    setups: [&str; 2],
    plan: Option<&Plan>,
    sections: &[String],
    archive: &Archive,
) -> BackToBack {
    let sections = plan.map_or(sections, |plan| &plan.sections);
    let values = |metric: &str| -> Vec<RunValues> { runs.iter().map(|run| run.values(metric)).collect() };
    let scatter = |metric: &str, day: &[RunValues], scale: Scale| {
        let compared = Contrast::new(day, setups, sections, scale);
        let compared = compared.map(|contrast| contrast.section_names()).unwrap_or_default();
        [RunToRun::of(day, &compared, scale), archive.run_to_run(metric, &compared, scale)]
    };
    let asked = plan.map(|plan| {
        let day = values(&plan.metric);
        let scatter = scatter(&plan.metric, &day, plan.scale);
        Asked { comparison: compare(plan, &day, setups, &scatter[1]), scatter }
    });
    let others: Vec<_> = METRICS
        .iter()
        .filter(|metric| plan.is_none_or(|plan| plan.metric != metric.key))
        .map(|metric| {
            let scale = if metric.is_positive { Scale::Logarithmic } else { Scale::Plain };
            (metric.key, scale, values(metric.key))
        })
        .collect();
    let others: Vec<_> = others
        .iter()
        .map(|(metric, scale, day)| {
            let [_, archive] = scatter(metric, day, *scale);
            ExploredMetric { metric, scale: *scale, day, archive }
        })
        .collect();
    let mut everywhere: Vec<&str> = Vec::new();
    for section in runs.iter().flat_map(|run| &run.sections) {
        if !everywhere.contains(&section.name.as_str()) {
            everywhere.push(&section.name);
        }
    }
    let times = values(TIME);
    let time_scatter = |section: &str| {
        let only = [section.to_owned()];
        let today = RunToRun::of(&times, &only, Scale::Plain);
        (section.to_owned(), today.with(archive.run_to_run(TIME, &only, Scale::Plain)))
    };
    BackToBack {
        asked,
        explored: explore(&others, sections, setups),
        times: everywhere.into_iter().map(time_scatter).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{ArchivedDay, Metric, SectionSummary, Verdict};
    use super::*;

    /// A run of three sections; a fourth has no such number.
    fn run(name: &str, setup: &str, recovery_s: f32) -> RunSummary {
        let section = |section: &str, at: f32| SectionSummary {
            name: section.to_owned(),
            numbers: [("time_s", 20.0), ("distance_m", 160.0), ("rear.recovery_p50_s", recovery_s * at)]
                .map(|(key, number)| (key.to_owned(), number))
                .into(),
        };
        let mut sections = vec![section("top", 1.0), section("roots", 1.2), section("finish", 0.8)];
        sections.push(SectionSummary { name: "flat".to_owned(), numbers: Default::default() });
        RunSummary { run: name.to_owned(), setup: setup.to_owned(), sections }
    }

    fn plan() -> Plan {
        let sections = ["top", "roots", "flat"].map(str::to_owned).to_vec();
        Plan {
            scale: Scale::Logarithmic,
            worth_having: 0.05,
            ..Metric::of("rear.recovery_p50_s").unwrap().usual_plan(sections)
        }
    }

    fn day() -> Vec<RunSummary> {
        vec![run("1", "A", 0.30), run("2", "B", 0.20), run("3", "A", 0.31)]
    }

    fn archive() -> Archive {
        let runs = (0..12).map(|k| run(&k.to_string(), "winter", 0.3 + 0.002 * (k % 3) as f32)).collect();
        let elsewhere = RunSummary { sections: Vec::new(), ..run("1", "A", 1.0) };
        let day = |name: &str, runs| ArchivedDay { name: name.to_owned(), runs, ..ArchivedDay::default() };
        Archive { days: vec![day("before", runs), day("elsewhere", vec![elsewhere.clone(), elsewhere])] }
    }

    #[test]
    fn the_question_is_answered_and_the_rest_explored() {
        let found = back_to_back(&day(), ["A", "B"], Some(&plan()), &[], &archive());
        let asked = found.asked.unwrap();
        let comparison = asked.comparison.unwrap();
        assert_eq!(comparison.verdict.get(), Ok(&Verdict::Better));
        assert!((comparison.contrast.levels[1] - 0.2 * 1.2_f64.sqrt()).abs() < 1e-6);
        assert_eq!(asked.scatter.map(|scatter| scatter.df()), [1, 11]);
        assert_eq!(comparison.evidence.get().unwrap().df, 12);
        assert_eq!(found.explored.len(), METRICS.len() - 1);
        assert!(found.explored.iter().all(|one| one.metric != "rear.recovery_p50_s"));
        // All runs took as long to the last digit.
        let time = found.explored.iter().find(|one| one.metric == TIME).unwrap();
        assert_eq!(time.contrast.get().unwrap().difference, 0.0);
        assert!(time.q.get().unwrap_err().0.contains("loaded twice"));
        let names: Vec<&str> = found.times.iter().map(|(section, _)| section.as_str()).collect();
        assert_eq!(names, ["top", "roots", "finish", "flat"]);
        assert_eq!(found.times[0].1.df(), 12);
        assert_eq!(found.times[3].1.df(), 0);
    }

    #[test]
    fn nothing_asked_leaves_everything_to_be_explored() {
        let sections = ["top".to_owned()];
        let found = back_to_back(&day(), ["A", "B"], None, &sections, &Archive::default());
        assert_eq!((found.asked, found.explored.len()), (None, METRICS.len()));
        let recovery = found.explored.iter().find(|one| one.metric == "rear.recovery_p50_s").unwrap();
        assert_eq!(recovery.contrast.get().unwrap().sections.len(), 1);
        assert_eq!(recovery.evidence.get().unwrap().df, 1);
        let alone = back_to_back(&day()[..2], ["A", "B"], Some(&plan()), &[], &Archive::default());
        let comparison = alone.asked.unwrap().comparison.unwrap();
        assert!((comparison.contrast.difference + 1.0 / 3.0).abs() < 1e-6);
        assert!(comparison.verdict.get().unwrap_err().0.contains("ridden twice"));
        assert!(
            back_to_back(&[], ["A", "B"], Some(&plan()), &[], &archive()).asked.unwrap().comparison.is_err()
        );
    }
}
