//! Runs of the demo day, read and analysed as the page does, beside the truth of the model that rode them.

use std::sync::Arc;

use evenkeel_core::align::match_clock;
use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::{Day, SectionReadout, Source, analyse_now, import};
use evenkeel_demo_data::day::{Recording, plans};
use evenkeel_demo_data::truth::RECORD_HZ;
use evenkeel_demo_data::written;

/// A run of the demo, the only one of its day.
pub struct DemoRun {
    /// The ride as it was, and as the loggers wrote it.
    pub recording: Recording,
    /// The day, with the clock of the second logger matched.
    pub day: Day,
    /// What both loggers wrote.
    pub sources: Vec<Arc<Source>>,
    /// What the analysis makes of it.
    pub ride: Ride,
}

impl DemoRun {
    /// Rides and analyses a run.
    ///
    /// # Panics
    ///
    /// If the demo has no such run, or its logs cannot be read.
    #[must_use]
    pub fn ridden(number: usize) -> Self {
        let plan = plans().swap_remove(number);
        let recording = plan.record();
        let sources = read_logs(&[
            (plan.suspension_file(), &recording.suspension_text),
            (plan.motion_file(), &recording.motion_text),
        ]);
        let runs = [(plan, recording)];
        let mut day = written::day(&runs).unwrap();
        match_second_clock(&mut day, 0, &sources);
        let ride = analyse_now(&day, &day.runs[0], &sources);
        let [(_, recording)] = runs;
        Self { recording, day, sources, ride }
    }

    /// What is said of the whole run.
    #[must_use]
    pub fn run(&self) -> &SectionReadout {
        &self.ride.readout.sections[0]
    }

    /// Pairs of measured and true samples while the bike rolls, `truth` at [`RECORD_HZ`].
    ///
    /// # Panics
    ///
    /// If the trace was not measured.
    #[must_use]
    pub fn pairs(&self, trace: Trace, truth: &[f32]) -> Vec<(f64, f64)> {
        let traces = self.ride.traces.as_ref().unwrap();
        let (grid, measured) = (traces.grid(), traces.get(trace).unwrap());
        (0..grid.len)
            .filter_map(|i| {
                let true_s = self.recording.suspension_clock.true_s(grid.time_s(i));
                let k = (true_s * RECORD_HZ).round();
                let known = *truth.get(if k < 0.0 { return None } else { k as usize })?;
                let rolls = self.recording.truth.speed_mps[k as usize] > 1.0;
                (rolls && !measured[i].is_nan()).then_some((f64::from(measured[i]), f64::from(known)))
            })
            .collect()
    }

    /// Root mean square of measured less true, while the bike rolls.
    #[must_use]
    pub fn rms(&self, trace: Trace, truth: &[f32]) -> f64 {
        let pairs = self.pairs(trace, truth);
        (pairs.iter().map(|(a, b)| (a - b).powi(2)).sum::<f64>() / pairs.len() as f64).sqrt()
    }
}

/// All logs that are in some files, each a name and its text.
///
/// # Panics
///
/// If a file is not a log.
#[must_use]
pub fn read_logs(files: &[(impl AsRef<str>, impl AsRef<str>)]) -> Vec<Arc<Source>> {
    files
        .iter()
        .flat_map(|(name, text)| import::read(name.as_ref(), text.as_ref().as_bytes()).unwrap().parts)
        .map(Arc::new)
        .collect()
}

/// Matches the clock of a run's second logger to the first's.
///
/// # Panics
///
/// If the run has no second log, or their clocks cannot be matched.
pub fn match_second_clock(day: &mut Day, run: usize, sources: &[Arc<Source>]) {
    let file = &day.runs[run].logs[1].file;
    let clock = match_clock(day, &day.runs[run], sources, file).unwrap().clock;
    day.runs[run].logs[1].clock = clock;
}
