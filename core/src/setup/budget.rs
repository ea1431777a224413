//! The runs that are left before it counts, and what is planned for each.

use super::{Change, ChangeKind, Named, NamedPlan, SetupSheet, changes};
use crate::day::{Day, Log, RunSheet};
use crate::decide::Plan;

/// A run of the day, ridden or to come, by its place among those.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Descent {
    /// One of [`Day::runs`].
    Ridden(usize),
    /// One of [`Day::coming`].
    Coming(usize),
}

/// Going back to the set-up before a change, so that a trend of the day cannot pass for its effect.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WayBack {
    /// The last run before the change.
    pub to: Descent,
    /// The run with the change.
    pub from: Descent,
}

impl Day {
    /// All runs, ridden and to come, in order.
    pub fn descents(&self) -> impl DoubleEndedIterator<Item = Descent> + use<> {
        (0..self.runs.len()).map(Descent::Ridden).chain((0..self.coming.len()).map(Descent::Coming))
    }

    /// A run's sheet.
    pub fn sheet(&self, run: Descent) -> Option<&RunSheet> {
        match run {
            Descent::Ridden(run) => self.runs.get(run),
            Descent::Coming(run) => self.coming.get(run),
        }
    }

    /// The same, to be written.
    pub fn sheet_mut(&mut self, run: Descent) -> Option<&mut RunSheet> {
        match run {
            Descent::Ridden(run) => self.runs.get_mut(run),
            Descent::Coming(run) => self.coming.get_mut(run),
        }
    }

    /// What a run is called; by its number where nobody named it.
    pub fn run_name(&self, run: Descent) -> String {
        let (named, number) = match run {
            Descent::Ridden(run) => (self.runs.get(run), run + 1),
            Descent::Coming(run) => (self.coming.get(run), self.runs.len() + run + 1),
        };
        named.map(|run| &run.name).filter(|name| !name.is_empty()).cloned().unwrap_or(format!("Run {number}"))
    }

    /// The run before a run.
    pub fn run_before(&self, run: Descent) -> Option<Descent> {
        self.descents().take_while(|&other| other != run).last()
    }

    fn setup(&self, run: Descent) -> Option<&SetupSheet> {
        self.sheet(run).map(|sheet| &sheet.setup)
    }

    fn changes_between(&self, before: Descent, after: Descent) -> Vec<Change> {
        match (self.setup(before), self.setup(after)) {
            (Some(before), Some(after)) if !before.is_blank() && !after.is_blank() => changes(before, after),
            _ => Vec::new(),
        }
    }

    fn adjusted_between(&self, before: Descent, after: Descent) -> Vec<Change> {
        let adjusted = |change: &Change| change.kind == ChangeKind::Adjusted;
        self.changes_between(before, after).into_iter().filter(adjusted).collect()
    }

    /// What changed on the bike since the run before. Against a blank sheet nothing can be said.
    pub fn changes_before(&self, run: Descent) -> Vec<Change> {
        self.run_before(run).map(|before| self.changes_between(before, run)).unwrap_or_default()
    }

    /// The first run of the day with the set-up of this one, itself perhaps; `None` where its sheet is blank. Runs
    /// with the same answer were ridden with the same set-up.
    pub fn first_with_setup_of(&self, run: Descent) -> Option<Descent> {
        self.setup(run).filter(|setup| !setup.is_blank())?;
        let same = |other: &Descent| {
            self.setup(*other).is_some_and(|setup| !setup.is_blank())
                && self.adjusted_between(*other, run).is_empty()
        };
        self.descents().find(same)
    }

    /// Says that a run changes two things or more at once, if it does, and against which run it changes one.
    pub fn warn_of_two_at_once(&self, run: Descent) -> Option<String> {
        let before = self.run_before(run)?;
        let together = self.adjusted_between(before, run);
        let names: Vec<&str> = together.iter().map(|change| change.name.as_str()).collect();
        let [first @ .., last] = names.as_slice() else { return None };
        if first.is_empty() {
            return None;
        }
        let count = match names.len() {
            2 => "Two things change".to_owned(),
            count => format!("{count} things change"),
        };
        let earlier = self.descents().take_while(|&other| other != before).collect::<Vec<_>>();
        let single = earlier.into_iter().rev().find_map(|other| {
            let changes = self.adjusted_between(other, run);
            let known = self.setup(other).is_some_and(|setup| !setup.is_blank());
            (known && changes.len() < 2).then(|| (other, changes.into_iter().next()))
        });
        let way_out = match single {
            Some((other, Some(change))) => {
                format!("Compared with {} it is one: {change}. Compare with that run.", self.run_name(other))
            }
            Some((other, None)) => {
                format!("It is the set-up of {} again: compare with the runs between.", self.run_name(other))
            }
            None => "If the run feels different, nobody can say which of them did it.".to_owned(),
        };
        Some(format!(
            "{count} at once since {}: {} and {last}. {way_out}",
            self.run_name(before),
            first.join(", ")
        ))
    }

    /// Runs left before it counts, where that was said; it falls with every run that is loaded.
    pub fn runs_left(&self) -> Option<usize> {
        self.practice_runs.map(|all| all.saturating_sub(self.runs.len()))
    }

    /// Says how many runs are left from now on.
    pub fn set_runs_left(&mut self, left: Option<usize>) {
        self.practice_runs = left.map(|left| left.saturating_add(self.runs.len()));
    }

    /// What the budget has against what is planned, in sentences.
    pub fn warn_of_budget(&self) -> Vec<String> {
        let Some(left) = self.runs_left() else { return Vec::new() };
        let planned = self.coming.len();
        let mut found = Vec::new();
        if planned > left {
            let runs = |count| if count == 1 { "1 run".to_owned() } else { format!("{count} runs") };
            found.push(format!("{} planned, but {} left before it counts.", runs(planned), runs(left)));
        }
        let last = left.checked_sub(1).map(Descent::Coming).filter(|&last| self.sheet(last).is_some());
        if let Some(last) = last
            && self.first_with_setup_of(last) == Some(last)
            && self.run_before(last).is_some_and(|before| !self.adjusted_between(before, last).is_empty())
        {
            found.push(format!(
                "{} is the last run before it counts, and it tries something new: if that is worse, no run is left to go back.",
                self.run_name(last)
            ));
        }
        found
    }

    /// Plans one more run: a copy of the last one.
    pub fn plan_next(&mut self) -> Descent {
        let last = self.descents().next_back();
        let setup =
            last.and_then(|run| self.setup(run)).map(|setup| setup.with_words("")).unwrap_or_default();
        self.coming.push(RunSheet { setup, ..RunSheet::default() });
        Descent::Coming(self.coming.len() - 1)
    }

    /// The way back that can be planned now: the last run changed something against the one before.
    pub fn way_back(&self) -> Option<WayBack> {
        let from = self.descents().next_back()?;
        let to = self.run_before(from)?;
        let goes_back_already = self.first_with_setup_of(from) < Some(to);
        (!self.adjusted_between(to, from).is_empty() && !goes_back_already).then_some(WayBack { to, from })
    }

    /// Plans the way back: A-B-A. The question stays the one that was named for B.
    pub fn plan_way_back(&mut self) -> Option<Descent> {
        let WayBack { to, from } = self.way_back()?;
        let words = format!("back to the set-up of {}", self.run_name(to));
        let setup = self.setup(to)?.with_words(words);
        let plan = self.sheet(from).and_then(|run| run.plan.clone()).map(|plan| plan.plan);
        self.coming.push(RunSheet { setup, ..RunSheet::default() });
        let run = Descent::Coming(self.coming.len() - 1);
        if let (Some(plan), Some(sheet)) = (plan, self.sheet_mut(run)) {
            sheet.name_plan(Some(plan));
        }
        Some(run)
    }

    /// Begins a run with its first log: what was planned for the next run is its sheet now; without a plan the
    /// sheet is a copy of the run before.
    pub fn start_run(&mut self, name: String, log: Log) -> Descent {
        if self.coming.is_empty() {
            self.plan_next();
        }
        let mut run = self.coming.remove(0);
        if run.name.is_empty() {
            run.name = name;
        }
        run.logs.push(log);
        self.runs.push(run);
        Descent::Ridden(self.runs.len() - 1)
    }
}

impl RunSheet {
    /// Names the question that this run is to answer, and keeps whether its log was there already.
    pub fn name_plan(&mut self, plan: Option<Plan>) {
        let named = if self.logs.is_empty() { Named::BeforeTheRun } else { Named::AfterTheRun };
        self.plan = plan.map(|plan| NamedPlan { plan, named });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::{Direction, Scale};
    use crate::role::End;
    use crate::setup::{Entry, Item, Part};

    const REBOUND: Item = Item::At(End::Rear, Part::Rebound);
    const COMPRESSION: Item = Item::At(End::Front, Part::SlowCompression);

    fn write(day: &mut Day, run: Descent, item: Item, text: &str) {
        let setup = &mut day.sheet_mut(run).unwrap().setup;
        setup.set(item, Entry::read(text, setup.unit(item), item.units()));
    }

    fn log(file: &str) -> Log {
        Log { file: file.to_owned(), ..Log::default() }
    }

    fn plan() -> Plan {
        Plan {
            metric: "time_s".to_owned(),
            direction: Direction::Less,
            scale: Scale::Plain,
            sections: vec!["run".to_owned()],
            worth_having: 0.3,
        }
    }

    /// Three runs ridden: A, B, A; rebound and compression noted.
    fn a_b_a() -> Day {
        let mut day = Day::default();
        for (name, clicks) in [("Run 1", "3"), ("Run 2", "8"), ("Run 3", "3")] {
            let run = day.start_run(name.to_owned(), log(name));
            write(&mut day, run, REBOUND, clicks);
            write(&mut day, run, COMPRESSION, "8");
        }
        day
    }

    fn told(day: &Day, run: Descent) -> Vec<String> {
        day.changes_before(run).iter().map(Change::to_string).collect()
    }

    #[test]
    fn a_run_starts_as_a_copy_of_the_one_before() {
        let mut day = a_b_a();
        day.sheet_mut(Descent::Ridden(2)).unwrap().setup.words = "back, to be sure".to_owned();
        let run = day.start_run("Run 4".to_owned(), log("four"));
        assert!(told(&day, run).is_empty());
        let sheet = day.sheet(run).unwrap();
        assert_eq!((sheet.setup.words.as_str(), sheet.logs.len()), ("", 1));
        assert_eq!(sheet.setup.get(REBOUND).map(Entry::typed).as_deref(), Some("3"));
        assert_eq!(
            [0, 1, 2, 3].map(|k| day.first_with_setup_of(Descent::Ridden(k))),
            [0, 1, 0, 0].map(|k| Some(Descent::Ridden(k)))
        );
    }

    #[test]
    fn what_was_planned_becomes_the_next_run() {
        let mut day = a_b_a();
        day.set_runs_left(Some(3));
        let next = day.plan_next();
        assert_eq!(day.run_name(next), "Run 4");
        write(&mut day, next, REBOUND, "8");
        day.sheet_mut(next).unwrap().name_plan(Some(plan()));
        assert_eq!(told(&day, next).len(), 1);
        let run = day.start_run("r4".to_owned(), log("four"));
        assert_eq!((run, day.coming.len(), day.runs_left()), (Descent::Ridden(3), 0, Some(2)));
        assert_eq!(day.run_name(run), "r4");
        assert_eq!(told(&day, run).len(), 1);
        let named = |day: &Day| day.sheet(run).unwrap().plan.as_ref().unwrap().named;
        assert_eq!(named(&day), Named::BeforeTheRun);
        // Named anew with the log there, it is after the fact.
        day.sheet_mut(run).unwrap().name_plan(Some(plan()));
        assert_eq!(named(&day), Named::AfterTheRun);
        let text = serde_json::to_string(&day).unwrap();
        assert_eq!(serde_json::from_str::<Day>(&text).unwrap(), day);
    }

    #[test]
    fn two_at_once_are_warned_of() {
        let mut day = a_b_a();
        assert!((0..3).all(|run| day.warn_of_two_at_once(Descent::Ridden(run)).is_none()));
        let next = day.plan_next();
        write(&mut day, next, REBOUND, "8");
        write(&mut day, next, COMPRESSION, "7");
        let words = day.warn_of_two_at_once(next).unwrap().replace('\u{a0}', " ");
        assert!(
            words.starts_with(
                "Two things change at once since Run 3: front slow compression and rear rebound."
            ),
            "{words}"
        );
        assert!(
            words.contains("Compared with Run 2 it is one: front slow compression 8 → 7 clicks"),
            "{words}"
        );
        write(&mut day, next, REBOUND, "5");
        let words = day.warn_of_two_at_once(next).unwrap();
        assert!(words.ends_with("nobody can say which of them did it."), "{words}");
        // Back to a set-up that was ridden.
        write(&mut day, next, REBOUND, "8");
        let other = day.plan_next();
        write(&mut day, other, REBOUND, "3");
        write(&mut day, other, COMPRESSION, "8");
        let words = day.warn_of_two_at_once(other).unwrap();
        assert!(words.contains("the set-up of Run 3 again"), "{words}");
    }

    #[test]
    fn going_back_is_one_step() {
        let mut day = a_b_a();
        // A-B-A is ridden already.
        assert_eq!(day.way_back(), None);
        let next = day.plan_next();
        assert_eq!(day.way_back(), None, "nothing changes yet");
        write(&mut day, next, COMPRESSION, "6");
        day.sheet_mut(next).unwrap().name_plan(Some(plan()));
        assert_eq!(day.way_back(), Some(WayBack { to: Descent::Ridden(2), from: next }));
        let back = day.plan_way_back().unwrap();
        assert_eq!(back, Descent::Coming(1));
        assert_eq!(day.first_with_setup_of(back), Some(Descent::Ridden(0)));
        let sheet = day.sheet(back).unwrap();
        assert_eq!(sheet.setup.words, "back to the set-up of Run 3");
        assert_eq!(sheet.plan, Some(NamedPlan { plan: plan(), named: Named::BeforeTheRun }));
        assert_eq!(day.way_back(), None);
        assert_eq!(day.plan_way_back(), None);
    }

    #[test]
    fn the_budget_is_counted_down() {
        let mut day = a_b_a();
        assert_eq!(day.runs_left(), None);
        day.plan_next();
        assert!(day.warn_of_budget().is_empty(), "nobody said how many are left");
        day.set_runs_left(Some(1));
        assert!(day.warn_of_budget().is_empty());
        write(&mut day, Descent::Coming(0), COMPRESSION, "6");
        assert!(day.warn_of_budget()[0].contains("Run 4 is the last run before it counts"));
        day.plan_way_back();
        assert_eq!(day.warn_of_budget()[0], "2 runs planned, but 1 run left before it counts.");
        write(&mut day, Descent::Coming(0), COMPRESSION, "8");
        write(&mut day, Descent::Coming(0), REBOUND, "8");
        assert_eq!(day.warn_of_budget().len(), 1, "the set-up of run 2 is known");
        day.set_runs_left(Some(usize::MAX));
        day.set_runs_left(None);
        assert_eq!(day.runs_left(), None);
        // More runs than were meant.
        day.practice_runs = Some(1);
        assert_eq!(day.runs_left(), Some(0));
        assert_eq!(day.warn_of_budget().len(), 1);
    }

    #[test]
    fn a_blank_sheet_says_nothing() {
        let mut day = Day::default();
        let first = day.start_run("one".to_owned(), log("one"));
        let second = day.start_run("two".to_owned(), log("two"));
        write(&mut day, second, REBOUND, "8");
        assert!(day.changes_before(second).is_empty());
        assert_eq!((day.first_with_setup_of(first), day.first_with_setup_of(second)), (None, Some(second)));
        assert!(day.run_before(first).is_none() && day.way_back().is_none());
        assert_eq!(Day::default().way_back(), None);
    }
}
