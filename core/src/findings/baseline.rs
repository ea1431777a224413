//! How the bike usually is: the owner's earlier runs on the same track, with a bike that felt right.

use serde::{Deserialize, Serialize};

use crate::decide::{RunSummary, SectionSummary};
use crate::readout::RunReadout;
use crate::signal::median;

/// Runs are alike where their mean speeds differ by no more, m/s.
const LIKE_SPEED_MPS: f64 = 1.0;

/// What findings compare with.
const KEYS: [&str; 13] = [
    "time_s",
    "distance_m",
    "front.sag_share",
    "rear.sag_share",
    "front.ride_height_m",
    "rear.ride_height_m",
    "front.rebound_rate_per_s",
    "rear.rebound_rate_per_s",
    "brakes.front.usual_peak_pa",
    "brakes.rear.usual_peak_pa",
    "level.hit_ratio",
    "dive.gain_m_per_pa",
    "lateral.shake_rms_mps2",
];

/// Earlier runs in the numbers that findings compare with. Kept in the day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Baseline {
    runs: Vec<RunSummary>,
}

impl Baseline {
    /// The usual of these runs: of the day, or of an archive's day on the same track.
    pub fn of(runs: impl IntoIterator<Item = RunSummary>) -> Self {
        let kept = |section: SectionSummary| SectionSummary {
            numbers: section.numbers.into_iter().filter(|(key, _)| KEYS.contains(&key.as_str())).collect(),
            ..section
        };
        let run =
            |run: RunSummary| RunSummary { sections: run.sections.into_iter().map(kept).collect(), ..run };
        Self { runs: runs.into_iter().map(run).collect() }
    }

    /// The usual of some runs of the day.
    pub fn of_readouts<'a>(runs: impl IntoIterator<Item = &'a RunReadout>) -> Self {
        Self::of(runs.into_iter().map(|run| RunSummary::of(run, "")))
    }

    /// Adds the runs of another, each in place of one of the same name.
    pub fn add(&mut self, other: Self) {
        for run in other.runs {
            self.remove(&run.run);
            self.runs.push(run);
        }
    }

    /// Takes a run out.
    pub fn remove(&mut self, name: &str) {
        self.runs.retain(|run| run.run != name);
    }

    /// Whether there is nothing to compare with.
    pub fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    /// Names of the runs.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.runs.iter().map(|run| run.run.as_str())
    }

    /// Those of the runs that were about as fast as another, that run itself left out.
    pub fn like(&self, run: &RunReadout) -> Self {
        let whole = run.sections.first();
        let speed_mps = whole.and_then(|whole| Some(whole.distance_m.get().ok()? / whole.time_s));
        let alike = |other: &&RunSummary| {
            let other_mps = other.sections.first().and_then(mean_speed_mps);
            let close = other_mps.zip(speed_mps).is_none_or(|(a, b)| (a - b).abs() <= LIKE_SPEED_MPS);
            close && other.run != run.name
        };
        Self { runs: self.runs.iter().filter(alike).cloned().collect() }
    }

    /// The usual number of a section, by its place in the read-out and its name: the median over the runs.
    pub fn usual(&self, place: usize, name: &str, key: &str) -> Option<f64> {
        let section =
            |run: &RunSummary| run.sections.get(place).filter(|section| section.name == name).cloned();
        let numbers: Vec<f32> =
            self.runs.iter().filter_map(|run| section(run)?.numbers.get(key).copied()).collect();
        median(&numbers)
    }
}

fn mean_speed_mps(section: &SectionSummary) -> Option<f64> {
    let number = |key: &str| section.numbers.get(key).map(|number| f64::from(*number));
    Some(number("distance_m")? / number("time_s")?)
}
