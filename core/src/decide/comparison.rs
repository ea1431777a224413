//! The verdict on one back-to-back test.

use serde::{Deserialize, Serialize};

use super::{Contrast, Direction, Evidence, Plan, RunToRun, RunValues};
use crate::measured::{Measured, NotMeasured};

/// What may be said about B against A.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The 95 % interval leaves out no difference, and the estimate is beyond what is worth having.
    Better,
    /// The same to the other side.
    Worse,
    /// The 90 % interval lies wholly inside what is worth having: two one-sided tests at 5 %.
    NoDifferenceThatMatters,
    /// The runs cannot tell.
    NotDistinguishable,
}

/// Set-up B against set-up A on the plan's metric.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// What was asked.
    pub plan: Plan,
    /// The difference, and where it comes from.
    pub contrast: Contrast,
    /// What it rests on; not measured where nothing was ridden twice.
    pub evidence: Measured<Evidence>,
    /// p value of the difference being as large as is worth having or larger, to either side: the worse of
    /// two one-sided tests (Schuirmann 1987). Small: no difference that matters.
    pub p_worth_having: Measured,
    /// What may be said.
    pub verdict: Measured<Verdict>,
}

/// Compares two set-ups, A and B, on the plan's metric.
///
/// `day` holds that metric in every run of the day, in the order ridden, other set-ups included, since their
/// repeats tell about the scatter; `archive` holds the scatter of earlier days. See [`Contrast`] and
/// [`Evidence`].
///
/// # Errors
/// Where there is nothing to compare: see [`Contrast::new`] and [`Plan::check`]. What only lacks repeats
/// still has its difference, but no evidence and no verdict.
pub fn compare(
    plan: &Plan,
    day: &[RunValues],
    setups: [&str; 2],
    archive: &RunToRun,
) -> Result<Comparison, NotMeasured> {
    plan.check()?;
    let contrast = Contrast::new(day, setups, &plan.sections, plan.scale)?;
    let scatter = RunToRun::of(day, &contrast.section_names(), plan.scale).with(*archive);
    let evidence = Evidence::of(&contrast, &scatter, plan.scale);
    let p_worth_having =
        evidence.as_ref().map(|evidence| evidence.p_worth_having(&contrast, plan.worth_having, plan.scale));
    let verdict = evidence.as_ref().map(|evidence| verdict(plan, &contrast, evidence));
    Ok(Comparison {
        p_worth_having: p_worth_having.map_err(Clone::clone).into(),
        verdict: verdict.map_err(Clone::clone).into(),
        evidence: evidence.into(),
        plan: plan.clone(),
        contrast,
    })
}

fn verdict(plan: &Plan, contrast: &Contrast, evidence: &Evidence) -> Verdict {
    let limit = plan.scale.untold(plan.worth_having);
    let matters = |difference: f64| plan.scale.untold(difference).abs() >= limit;
    let [low, high] = evidence.interval;
    if (low > 0.0 || high < 0.0) && matters(contrast.difference) {
        let more = contrast.difference > 0.0;
        return if more == (plan.direction == Direction::More) { Verdict::Better } else { Verdict::Worse };
    }
    if evidence.interval_90.iter().any(|&end| matters(end)) {
        return Verdict::NotDistinguishable;
    }
    Verdict::NoDifferenceThatMatters
}

#[cfg(test)]
mod tests {
    use super::super::{Scale, SectionValue};
    use super::*;

    fn run(name: &str, setup: &str, sections: &[(&str, f64, f64)]) -> RunValues {
        let sections = sections
            .iter()
            .map(|&(section, value, speed)| SectionValue {
                section: section.to_owned(),
                value: Measured::value(value),
                mean_speed_mps: Measured::value(speed),
            })
            .collect();
        RunValues { run: name.to_owned(), setup: setup.to_owned(), sections }
    }

    fn plan(direction: Direction, scale: Scale, worth_having: f64) -> Plan {
        let sections = vec!["top".to_owned(), "roots".to_owned()];
        Plan { metric: "heave_rms_m".to_owned(), direction, scale, sections, worth_having }
    }

    /// 20 repeats with a standard deviation of 0.01.
    const ARCHIVE: RunToRun = RunToRun { sum_squares: 20.0 * 1e-4, runs: 24, setups: 4 };

    fn verdict_of(b: f64, direction: Direction, worth_having: f64) -> Verdict {
        let day = [
            run("1", "A", &[("top", 1.0, 8.0), ("roots", 2.0, 6.0)]),
            run("2", "B", &[("top", 1.0 + b, 8.0), ("roots", 2.0 + b, 6.0)]),
            run("3", "A", &[("top", 1.0, 8.0), ("roots", 2.02, 6.0)]),
        ];
        let comparison =
            compare(&plan(direction, Scale::Plain, worth_having), &day, ["A", "B"], &ARCHIVE).unwrap();
        assert!(comparison.contrast.steady_trend_removed && comparison.contrast.ridden_in_turn);
        *comparison.verdict.get().unwrap()
    }

    #[test]
    fn each_verdict_is_reached() {
        assert_eq!(verdict_of(0.1, Direction::More, 0.02), Verdict::Better);
        assert_eq!(verdict_of(0.1, Direction::Less, 0.02), Verdict::Worse);
        assert_eq!(verdict_of(-0.1, Direction::Less, 0.02), Verdict::Better);
        assert_eq!(verdict_of(0.0, Direction::Less, 0.05), Verdict::NoDifferenceThatMatters);
        assert_eq!(verdict_of(0.02, Direction::Less, 0.01), Verdict::NotDistinguishable);
        // Sure, but not worth having, and not surely less than that either.
        assert_eq!(verdict_of(0.05, Direction::More, 0.06), Verdict::NotDistinguishable);
    }

    #[test]
    fn the_difference_survives_a_day_without_repeats() {
        let day = [
            run("1", "A", &[("top", 1.0, 8.0), ("roots", 2.0, 6.0)]),
            run("2", "B", &[("top", 1.1, 8.0), ("roots", 2.2, 6.0)]),
        ];
        let plan = plan(Direction::Less, Scale::Logarithmic, 0.02);
        let comparison = compare(&plan, &day, ["A", "B"], &RunToRun::default()).unwrap();
        assert!((comparison.contrast.difference - 0.1).abs() < 1e-12);
        assert!(!comparison.contrast.steady_trend_removed && !comparison.contrast.ridden_in_turn);
        assert!(comparison.verdict.get().unwrap_err().0.contains("ridden twice"));
        let text = serde_json::to_string(&comparison).unwrap();
        assert_eq!(serde_json::from_str::<Comparison>(&text).unwrap(), comparison);

        // A-B-A, and B once more at the end: in turn, but B is the later one.
        let again = [day[0].clone(), day[1].clone(), day[0].clone(), day[1].clone()];
        let contrast = compare(&plan, &again, ["A", "B"], &ARCHIVE).unwrap().contrast;
        assert!(!contrast.steady_trend_removed && contrast.ridden_in_turn);

        let mut twice = day.to_vec();
        twice.push(day[0].clone());
        let comparison = compare(&plan, &twice, ["A", "B"], &RunToRun::default()).unwrap();
        assert!(comparison.verdict.get().unwrap_err().0.contains("loaded twice"));
    }

    #[test]
    fn only_like_with_like() {
        let mut day = vec![
            run("one", "A", &[("top", 1.0, 8.0), ("roots", 2.0, 6.0), ("finish", 1.0, 9.0)]),
            run("two", "B", &[("top", 1.1, 9.5), ("roots", 2.2, 6.9), ("finish", 9.0, 9.0)]),
            run("three", "B", &[("finish", 1.0, 9.0)]),
        ];
        let plan = plan(Direction::Less, Scale::Logarithmic, 0.02);
        let contrast = compare(&plan, &day, ["A", "B"], &ARCHIVE).unwrap().contrast;
        assert_eq!(contrast.runs, [1, 1]);
        assert_eq!(contrast.runs_left_out[0].name, "three");
        assert_eq!(contrast.sections.len(), 1);
        assert!((contrast.sections[0].speed_difference_mps.get().unwrap() - 0.9).abs() < 1e-12);
        assert_eq!(contrast.sections_left_out[0].name, "top");
        let reason = &contrast.sections_left_out[0].reason;
        assert!(reason.contains("1.5 m/s"), "{reason}");

        // A value that has no logarithm, and a speed that nobody knows.
        day[1].sections[0].value = Measured::value(0.0);
        day[1].sections[1].mean_speed_mps = Measured::not(NotMeasured::because("no speed is logged"));
        let contrast = compare(&plan, &day, ["A", "B"], &ARCHIVE).unwrap().contrast;
        assert!(contrast.sections_left_out[0].reason.contains("no place"));
        let reason = contrast.sections[0].speed_difference_mps.get().unwrap_err().0;
        assert!(reason.contains("two has no speed"), "{reason}");
    }

    #[test]
    fn nothing_to_compare_says_why() {
        let day = [run("one", "A", &[("top", 1.0, 8.0)]), run("two", "B", &[("roots", 1.1, 8.0)])];
        let plan = plan(Direction::Less, Scale::Plain, 0.02);
        let reason = |setups| compare(&plan, &day, setups, &ARCHIVE).unwrap_err().0;
        assert!(reason(["A", "A"]).contains("with itself"));
        assert!(reason(["A", "C"]).contains("set-up C"));
        assert!(reason(["A", "B"]).contains("no section can be compared"), "{}", reason(["A", "B"]));
        assert!(compare(&plan, &[], ["A", "B"], &ARCHIVE).is_err());
    }

    #[test]
    fn repeats_are_pooled_by_setup() {
        let at = |name, setup, value| run(name, setup, &[("top", value, 8.0)]);
        let day = [
            at("1", "A", 1.0),
            at("2", "B", 5.0),
            at("3", "A", 3.0),
            at("4", "C", 7.0),
            at("5", "C", 7.0),
            at("6", "C", 10.0),
        ];
        let scatter = RunToRun::of(&day, &["top".to_owned()], Scale::Plain);
        // (1, 3): 2; (7, 7, 10): 6.
        assert_eq!(scatter, RunToRun { sum_squares: 8.0, runs: 5, setups: 2 });
        assert_eq!((scatter.df(), scatter.sd()), (3, Some((8.0_f64 / 3.0).sqrt())));
        assert_eq!(RunToRun::default().sd(), None);
    }
}
