//! What is kept of earlier runs: every number of their sections, by key.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{RunToRun, RunValues, Scale, SectionValue};
use crate::measured::{Measured, NotMeasured};
use crate::readout::{RunReadout, SectionReadout};

/// Earlier days, from which the scatter from run to run is known.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Archive {
    /// The days, in order of time.
    pub days: Vec<ArchivedDay>,
}

/// One earlier day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ArchivedDay {
    /// What it was called.
    pub name: String,
    /// Its date, ISO 8601.
    pub date: String,
    /// Its runs, in the order ridden.
    pub runs: Vec<RunSummary>,
}

/// One run in numbers, without its traces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunSummary {
    /// Name of the run.
    pub run: String,
    /// Name of the set-up it was ridden with; the same name is the same set-up.
    pub setup: String,
    /// Its sections, the whole run among them as `run`.
    pub sections: Vec<SectionSummary>,
}

/// One section in numbers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionSummary {
    /// Name of the section.
    pub name: String,
    /// Every single number that was measured, SI, by its key in the read-out (`rear.not_recovered_share`).
    pub numbers: BTreeMap<String, f32>,
}

impl RunSummary {
    /// The numbers of a run's read-out.
    pub fn of(readout: &RunReadout, setup: &str) -> Self {
        let sections = readout
            .sections
            .iter()
            .map(|section| SectionSummary { name: section.name.clone(), numbers: numbers(section) });
        Self { run: readout.name.clone(), setup: setup.to_owned(), sections: sections.collect() }
    }

    /// One metric, by its key in the read-out, as a comparison wants it.
    pub fn values(&self, metric: &str) -> RunValues {
        let sections = self.sections.iter().map(|section| {
            let number = |key: &str| section.numbers.get(key).map(|number| f64::from(*number));
            let value = number(metric).ok_or_else(|| NotMeasured::because("it is not measured here"));
            let speed = number("distance_m").zip(number("time_s")).map(|(metres, seconds)| metres / seconds);
            SectionValue {
                section: section.name.clone(),
                value: value.into(),
                mean_speed_mps: speed.map_or_else(
                    || Measured::not(NotMeasured::because("no distance is known here")),
                    Measured::value,
                ),
            }
        });
        RunValues { run: self.run.clone(), setup: self.setup.clone(), sections: sections.collect() }
    }
}

impl Archive {
    /// Takes the days of another, in order of date. One of the same name and date as a known one is that day written
    /// anew, and takes its place.
    pub fn take(&mut self, other: Self) {
        for day in other.days {
            self.days.retain(|known| (&known.name, &known.date) != (&day.name, &day.date));
            self.days.push(day);
        }
        self.days.sort_by(|a, b| a.date.cmp(&b.date));
    }

    /// How much a metric varies between repeats of one set-up within a day, pooled over the days.
    pub fn run_to_run(&self, metric: &str, sections: &[String], scale: Scale) -> RunToRun {
        self.days
            .iter()
            .map(|day| {
                let runs: Vec<RunValues> = day.runs.iter().map(|run| run.values(metric)).collect();
                RunToRun::of(&runs, sections, scale)
            })
            .fold(RunToRun::default(), RunToRun::with)
    }
}

/// Single numbers by key: lists and what is not measured are left out.
fn numbers(section: &SectionReadout) -> BTreeMap<String, f32> {
    let mut found = BTreeMap::new();
    // A read-out is plain data: it always has a JSON form.
    if let Ok(Value::Object(fields)) = serde_json::to_value(section) {
        fields.iter().for_each(|(key, value)| collect(key, value, &mut found));
    }
    found
}

fn collect(key: &str, value: &Value, found: &mut BTreeMap<String, f32>) {
    match value {
        Value::Number(number) => {
            found.extend(number.as_f64().map(|number| (key.to_owned(), number as f32)));
        }
        Value::Object(fields) => match fields.get("value") {
            Some(value) => collect(key, value, found),
            None => fields.iter().for_each(|(field, value)| collect(&format!("{key}.{field}"), value, found)),
        },
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_that_is_written_anew_is_one_day() {
        let day = |name: &str, date: &str, runs: usize| {
            let run = RunSummary { run: String::new(), setup: String::new(), sections: Vec::new() };
            ArchivedDay { name: name.to_owned(), date: date.to_owned(), runs: vec![run; runs] }
        };
        let mut archive = Archive { days: vec![day("a", "2025-04-12", 3), day("b", "2025-06-01", 4)] };
        archive.take(Archive { days: vec![day("a", "2025-04-12", 5), day("a", "2025-05-12", 2)] });
        let kept: Vec<_> = archive.days.iter().map(|day| (day.date.as_str(), day.runs.len())).collect();
        assert_eq!(kept, [("2025-04-12", 5), ("2025-05-12", 2), ("2025-06-01", 4)]);
    }
}
