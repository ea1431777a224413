//! The set-ups that were ridden on a day, and the question that two of them are compared on.

use super::{Change, ChangeKind, Descent, Named, NamedPlan, changes};
use crate::day::Day;

/// The runs of a day that were ridden with one set-up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RiddenSetup {
    /// What it is called: by its first run, no two of a day alike.
    pub name: String,
    /// Its runs by their place in the day, in the order ridden; there is one at least.
    pub runs: Vec<usize>,
    /// Whether its sheet says something. A run without a sheet stands alone: nobody can tell what it is like.
    pub is_written: bool,
}

/// The question that stands between two set-ups.
#[derive(Clone, Debug, PartialEq)]
pub struct AskedBetween {
    /// The run on whose sheet it stands, by its place in the day.
    pub run: usize,
    /// The question.
    pub named: NamedPlan,
    /// The first run of the newer set-up: the question gets a verdict only if it was named before that run.
    pub newer: usize,
}

impl AskedBetween {
    /// Whether it was named before anything was known of the newer set-up, so that it can be proved.
    pub fn counts(&self) -> bool {
        self.run == self.newer && self.named.named == Named::BeforeTheRun
    }
}

impl Day {
    /// The set-ups that were ridden, in the order of their first runs.
    pub fn ridden_setups(&self) -> Vec<RiddenSetup> {
        let mut setups: Vec<RiddenSetup> = Vec::new();
        for run in 0..self.runs.len() {
            let first = match self.first_with_setup_of(Descent::Ridden(run)) {
                Some(Descent::Ridden(first)) => Some(first),
                _ => None,
            };
            let known =
                first.and_then(|first| setups.iter_mut().find(|setup| setup.runs.first() == Some(&first)));
            match known {
                Some(setup) => setup.runs.push(run),
                None => {
                    let name = self.run_name(Descent::Ridden(run));
                    let taken = setups.iter().any(|setup| setup.name == name);
                    let name = if taken { format!("{name} ({})", run + 1) } else { name };
                    setups.push(RiddenSetup { name, runs: vec![run], is_written: first.is_some() });
                }
            }
        }
        setups
    }

    /// The last change that was ridden: the set-up of the run before it and that of the run with it, by their place
    /// among the [`ridden_setups`](Self::ridden_setups).
    pub fn last_change(&self) -> Option<[usize; 2]> {
        let setups = self.ridden_setups();
        let of = |run: usize| setups.iter().position(|setup| setup.runs.contains(&run));
        let pair = |run: usize| Some([of(run - 1)?, of(run)?]);
        (1..self.runs.len()).rev().filter_map(pair).find(|[before, after]| before != after)
    }

    /// What differs between two set-ups; against one that is not written nothing can be said.
    pub fn changes_of(&self, [a, b]: [&RiddenSetup; 2]) -> Vec<Change> {
        let sheet = |setup: &RiddenSetup| {
            let first = setup.runs.first().filter(|_| setup.is_written)?;
            self.runs.get(*first).map(|run| &run.setup)
        };
        sheet(a).zip(sheet(b)).map(|(a, b)| changes(a, b)).unwrap_or_default()
    }

    /// Whether two set-ups differ in more than one thing, so that nobody can say which of them did it.
    pub fn differ_in_two(&self, setups: [&RiddenSetup; 2]) -> bool {
        self.changes_of(setups).iter().filter(|change| change.kind == ChangeKind::Adjusted).count() > 1
    }

    /// The question between two set-ups: the one on the sheet of the newer one's first run. Where that asks
    /// nothing, the first that a later run of either asks, which comes too late to be proved.
    pub fn asked_between(&self, [a, b]: [&RiddenSetup; 2]) -> Option<AskedBetween> {
        let newer = a.runs.first()?.max(b.runs.first()?);
        let mut runs: Vec<usize> = a.runs.iter().chain(&b.runs).copied().filter(|run| run >= newer).collect();
        runs.sort_unstable();
        runs.into_iter().find_map(|run| {
            let named = self.runs.get(run)?.plan.clone()?;
            Some(AskedBetween { run, named, newer: *newer })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::day::Log;
    use crate::decide::Metric;
    use crate::role::End;
    use crate::setup::{Entry, Item, Part};

    /// Runs with so many clicks of rear rebound; a blank is a sheet that says nothing.
    fn day(clicks: &[&str]) -> Day {
        let mut day = Day::default();
        for (k, clicks) in clicks.iter().enumerate() {
            let log = Log { file: k.to_string(), ..Log::default() };
            let run = day.start_run(format!("Run {}", k + 1), log);
            let item = Item::At(End::Rear, Part::Rebound);
            let setup = &mut day.sheet_mut(run).unwrap().setup;
            setup.set(item, Entry::read(clicks, setup.unit(item), item.units()));
        }
        day
    }

    fn runs(day: &Day) -> Vec<Vec<usize>> {
        day.ridden_setups().into_iter().map(|setup| setup.runs).collect()
    }

    #[test]
    fn runs_of_one_set_up_stand_together() {
        let mut there = day(&["3", "8", "3", "6", "8"]);
        assert_eq!(runs(&there), [vec![0, 2], vec![1, 4], vec![3]]);
        assert_eq!(there.last_change(), Some([2, 1]));
        let setups = there.ridden_setups();
        assert_eq!(there.changes_of([&setups[0], &setups[1]])[0].before.as_deref(), Some("3"));
        assert!(!there.differ_in_two([&setups[0], &setups[1]]));
        // Two runs of one name are still two.
        there.runs[3].name = "Run 2".to_owned();
        let names: Vec<String> = there.ridden_setups().into_iter().map(|setup| setup.name).collect();
        assert_eq!(names, ["Run 1", "Run 2", "Run 2 (4)"]);
    }

    #[test]
    fn what_is_not_written_stands_alone() {
        let there = day(&["", "", "3"]);
        assert_eq!(runs(&there), [vec![0], vec![1], vec![2]]);
        let setups = there.ridden_setups();
        assert_eq!(setups.iter().map(|setup| setup.is_written).collect::<Vec<_>>(), [false, false, true]);
        assert!(there.changes_of([&setups[1], &setups[2]]).is_empty());
        assert_eq!(there.last_change(), Some([1, 2]));
        assert_eq!(day(&["3", "3"]).last_change(), None);
        assert_eq!(Day::default().last_change(), None);
    }

    #[test]
    fn only_what_was_named_before_the_newer_set_up_counts() {
        let mut there = day(&["3", "8", "3"]);
        let plan = Metric::of("time_s").map(|metric| metric.usual_plan(vec!["run".to_owned()]));
        let setups = there.ridden_setups();
        let asked = |day: &Day| day.asked_between([&setups[1], &setups[0]]);
        assert_eq!(asked(&there), None);
        // Named for the way back, when the new set-up was known already.
        there.runs[2].plan = plan.clone().map(|plan| NamedPlan { plan, named: Named::BeforeTheRun });
        let late = asked(&there).unwrap();
        assert_eq!((late.run, late.newer, late.counts()), (2, 1, false));
        there.runs[1].plan = plan.clone().map(|plan| NamedPlan { plan, named: Named::AfterTheRun });
        assert_eq!(asked(&there).map(|asked| (asked.run, asked.counts())), Some((1, false)));
        there.runs[1].plan = plan.map(|plan| NamedPlan { plan, named: Named::BeforeTheRun });
        assert!(asked(&there).unwrap().counts());
    }
}
