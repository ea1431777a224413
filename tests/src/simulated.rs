//! Other bikes than the demo's on other tracks, with and without a fault, as their owners log and read them.

use std::error::Error;
use std::ops::Range;
use std::sync::Arc;

use evenkeel_core::findings::{Baseline, Finding, FindingSettings, findings};
use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::track::{Course, RunDistance, Section};
use evenkeel_core::{Day, End, Log, RunReadout, RunSheet, analyse_now, import};
use evenkeel_demo_data::bike::End as ModelEnd;
use evenkeel_demo_data::day::{Recording, plans};
use evenkeel_demo_data::fault::{Fault, Kind, no_brake_stretches};
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::ride::Run;
use evenkeel_demo_data::sensor::Clock;
use evenkeel_demo_data::truth::Truth;
use evenkeel_demo_data::variation::{Case, Split};
use evenkeel_demo_data::written;

/// Both loggers show the ride's own time, so that no run waits for its clocks to be matched.
pub const CLOCK: Clock = Clock { offset_s: 0.0, drift_ppm: 0.0 };
const FILES: [&str; 2] = ["suspension.csv", "motion.csv"];

/// Runs that limits of findings may be set on; those of [`COUNTED`] share no seed, bike, rider or track with them.
pub const FITTING: Split = Split::Tuning;
/// Runs that say how good the findings are. No limit has seen any of them, nor any bike built like the second's.
pub const COUNTED: [Split; 2] = [Split::Evaluation, Split::Unseen];

/// What a finding is called in a count: its kind, or the doubt about a sensor, and its end.
pub type Called = (String, Option<End>);

/// What the first finding should be.
pub fn expected(fault: Fault) -> Called {
    let end = fault.end.map(|end| if end == ModelEnd::Front { End::Front } else { End::Rear });
    (fault.kind.finding().to_owned(), end)
}

/// What a finding is called.
pub fn called(finding: &Finding) -> Called {
    let written = match &finding.doubt {
        Some(channel) => serde_json::to_value(&channel.doubt),
        None => serde_json::to_value(finding.kind),
    };
    let name = match written.unwrap_or_default() {
        serde_json::Value::Object(fields) => fields.keys().next().cloned().unwrap_or_default(),
        value => value.as_str().unwrap_or_default().to_owned(),
    };
    (name, finding.end)
}

/// Whether a fault is one of the sensors alone: the ride is the same without it.
pub fn is_of_sensor(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::EndsSwapped
            | Kind::ZeroMoved
            | Kind::TravelDead
            | Kind::TravelClipped
            | Kind::TravelInverted
            | Kind::TravelNoisy
            | Kind::GyroDead
    )
}

/// One owner's day at the track, which begins with a run on a bike in order.
pub struct Owner {
    case: Case,
    /// Bike, how the files are read, and the track's sections as they were made in the first run.
    pub day: Day,
    /// The first run.
    pub first: RunReadout,
}

impl Owner {
    /// Rides the first run; `None` for who falls every time.
    ///
    /// # Errors
    /// If the app cannot read what the loggers wrote.
    pub fn of(case: Case) -> Result<Option<Self>, Box<dyn Error>> {
        let Some((run, truth)) = case.ride(0, |_| ()) else { return Ok(None) };
        let mut day = Day { bike: written::bike("", &run.bike)?, ..Day::default() };
        let log = logged(&run, &truth, None);
        day.profiles = written::day(&[(plans().swap_remove(0), as_recording(&run, &log))])?.profiles;
        let traces = analysed(&day, "first", &log)?.traces.ok_or("the first run has no channel")?;
        let distance = RunDistance::of(&traces)?;
        // As their owner finds them on the video of that run.
        let place_m = |true_m: f64| {
            let time_s = truth.time_at_distance_s(true_m).unwrap_or_default();
            distance.at_time_m(time_s).unwrap_or_default()
        };
        let section = |name: &str, stretch: Range<f64>, no_braking| Section {
            name: name.to_owned(),
            start_m: place_m(stretch.start),
            end_m: place_m(stretch.end),
            no_braking,
        };
        let parts = run.track.sections.iter().map(|part| section(part.name, part.start_m..part.end_m, false));
        let jumps = no_brake_stretches(&run.track).into_iter().map(|jump| section("jump", jump, true));
        day.sections = parts.chain(jumps).collect();
        day.course = Some(Course::along(&distance, traces.get(Trace::YawRate)));
        let first = analysed(&day, "first", &log)?.readout;
        Ok(Some(Self { case, day, first }))
    }

    /// Another run of the day; `None` for who falls every time.
    pub fn ride(&self, repeat: u16, fault: Option<Fault>) -> Option<(Run, Truth)> {
        self.case.ride(repeat, |run| {
            if let Some(fault) = fault.filter(|fault| !is_of_sensor(fault.kind)) {
                fault.apply(run, &mut SuspensionLogger::new(CLOCK), &mut MotionLogger::new(CLOCK));
            }
        })
    }

    /// What the app makes of it.
    ///
    /// # Errors
    /// If the app cannot read what the loggers wrote.
    pub fn read(
        &self,
        (run, truth): &(Run, Truth),
        fault: Option<Fault>,
    ) -> Result<RunReadout, Box<dyn Error>> {
        Ok(analysed(&self.day, "later", &logged(run, truth, fault))?.readout)
    }

    /// What is found in another run of the day, compared with the first or not.
    pub fn found(&self, run: &RunReadout, compared: bool) -> Vec<Finding> {
        let baseline = Baseline::of_readouts(compared.then_some(&self.first));
        findings(run, &self.day.bike, &FindingSettings { baseline, ..FindingSettings::default() })
    }
}

/// Both loggers' files of a ride, with what is wrong with a sensor.
fn logged(run: &Run, truth: &Truth, fault: Option<Fault>) -> [String; 2] {
    let (mut suspension, mut motion) = (SuspensionLogger::new(CLOCK), MotionLogger::new(CLOCK));
    if let Some(fault) = fault.filter(|fault| is_of_sensor(fault.kind)) {
        fault.apply(&mut run.clone(), &mut suspension, &mut motion);
    }
    [suspension.text(truth, run.seed), motion.text(truth, run.seed)]
}

/// What the day file of the demo is made from: it knows how the units lie.
fn as_recording(run: &Run, [suspension_text, motion_text]: &[String; 2]) -> Recording {
    Recording {
        truth: Truth::new(run.bike.geometry),
        suspension_text: suspension_text.clone(),
        motion_text: motion_text.clone(),
        suspension_clock: CLOCK,
        motion_clock: CLOCK,
        camera_clock: CLOCK,
        anchors: Vec::new(),
    }
}

fn analysed(day: &Day, name: &str, texts: &[String; 2]) -> Result<Ride, Box<dyn Error>> {
    let mut sources = Vec::new();
    for (file, text) in FILES.iter().zip(texts) {
        sources.extend(import::read(file, text.as_bytes())?.parts.into_iter().map(Arc::new));
    }
    let logs = sources.iter().map(|source| Log { file: source.name.clone(), ..Log::default() }).collect();
    Ok(analyse_now(day, &RunSheet { name: name.to_owned(), logs, ..RunSheet::default() }, &sources))
}
