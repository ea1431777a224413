//! What somebody who was sent a day says about it.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::day::{Day, RunSheet};

/// Remarks of any number of people on one day.
///
/// They only ever grow together: [`merge`](Self::merge) is the union of two sets, so that it does not matter who
/// sends what to whom, in which order or how often, and nothing is overwritten. A remark is never changed once it
/// was sent; two that share an id but differ are both kept.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Remarks(BTreeSet<Remark>);

/// One remark. Remarks are in order of the time written.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Remark {
    /// When it was written, ms since 1970, UTC, by its author's clock.
    pub written_ms: i64,
    /// Its own id, drawn at random by whoever writes it, so that the same words said twice are two remarks.
    pub id: String,
    /// Who says it, in their own words.
    pub author: String,
    /// What they say.
    pub words: String,
    /// What it is about.
    #[serde(default)]
    pub place: RemarkPlace,
}

/// What a remark is about.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct RemarkPlace {
    /// The run; none is the whole day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<RunName>,
    /// Where in the run.
    #[serde(default)]
    pub at: RemarkAt,
}

/// A run as others know it: its owner may name it anew, but not its log.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct RunName {
    /// What it was called.
    pub name: String,
    /// Its first log, empty where it has none.
    #[serde(default)]
    pub log: String,
}

/// Where in a run a remark belongs.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RemarkAt {
    /// All of it.
    #[default]
    Whole,
    /// A moment, microseconds on the day's clock.
    TimeUs(i64),
    /// A section, by name.
    Section(String),
}

impl RunName {
    /// How a run is named to others.
    pub fn of(run: &RunSheet) -> Self {
        Self { name: run.name.clone(), log: run.logs.first().map(|log| log.file.clone()).unwrap_or_default() }
    }

    /// Its index in a day: the run with that log, else the one with that name.
    pub fn index_in(&self, day: &Day) -> Option<usize> {
        let has_log =
            |run: &RunSheet| !self.log.is_empty() && run.logs.iter().any(|log| log.file == self.log);
        let place = |wanted: &dyn Fn(&RunSheet) -> bool| day.runs.iter().position(wanted);
        place(&has_log).or_else(|| place(&|run| run.name == self.name))
    }
}

impl RemarkAt {
    /// A moment on the day's clock, s, to the microsecond.
    pub fn time_s(time_s: f64) -> Self {
        Self::TimeUs((time_s * 1e6).round() as i64)
    }
}

impl Remarks {
    /// Adds a remark.
    pub fn add(&mut self, remark: Remark) {
        self.0.insert(remark);
    }

    /// Takes a remark back, which only helps as long as nobody else has it.
    pub fn take_back(&mut self, remark: &Remark) {
        self.0.remove(remark);
    }

    /// Adds what is new in another's remarks; returns how many are.
    pub fn merge(&mut self, other: &Self) -> usize {
        let known = self.0.len();
        self.0.extend(other.0.iter().cloned());
        self.0.len() - known
    }

    /// Every remark, in order of the time written.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &Remark> {
        self.0.iter()
    }

    /// Those on these runs of a day, and on the day as a whole.
    pub fn on(&self, day: &Day, runs: &[usize]) -> Self {
        let is_on = |run: &RunName| run.index_in(day).is_some_and(|run| runs.contains(&run));
        self.iter().filter(|remark| remark.place.run.as_ref().is_none_or(is_on)).cloned().collect()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl FromIterator<Remark> for Remarks {
    fn from_iter<I: IntoIterator<Item = Remark>>(remarks: I) -> Self {
        Self(remarks.into_iter().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::day::Log;

    #[test]
    fn a_run_is_found_again_by_its_log_then_by_its_name() {
        let run = |name: &str, log: &str| {
            let logs = if log.is_empty() {
                Vec::new()
            } else {
                vec![Log { file: log.to_owned(), ..Log::default() }]
            };
            RunSheet { name: name.to_owned(), logs, ..RunSheet::default() }
        };
        let mut day = Day { runs: vec![run("Run 1", "a.csv"), run("Run 2", "b.csv")], ..Day::default() };
        day.runs.push(run("typed only", ""));
        let names: Vec<RunName> = day.runs.iter().map(RunName::of).collect();
        // The owner names the first anew, and the second as the first was.
        day.runs[0].name = "Wet".to_owned();
        day.runs[1].name = "Run 1".to_owned();
        assert_eq!(
            names.iter().map(|name| name.index_in(&day)).collect::<Vec<_>>(),
            [Some(0), Some(1), Some(2)]
        );
        let gone = RunName { name: "Run 9".to_owned(), log: "z.csv".to_owned() };
        assert_eq!(gone.index_in(&day), None);
    }
}
