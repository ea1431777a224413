//! The demo day: six practice runs, what was changed between them, and what the rider said.

use crate::bike::{Bike, Setup};
use crate::camera::{Anchor, Resolution, anchor};
use crate::logger::motion::MotionLogger;
use crate::logger::suspension::SuspensionLogger;
use crate::random::Random;
use crate::ride::{Run, TAPS_S};
use crate::rider::Rider;
use crate::sensor::Clock;
use crate::track::Track;
use crate::truth::Truth;

/// Seed of the hill.
pub const HILL_SEED: u64 = 1900;

/// One run as planned.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Name; its files are named after it.
    pub name: &'static str,
    /// When it was ridden, as the sheet says.
    pub time_of_day: &'static str,
    /// What the setup sheet says was changed.
    pub change: &'static str,
    /// The rider's words at the bottom.
    pub words: &'static str,
    /// Setup.
    pub setup: Setup,
    /// Rider's pace.
    pub pace: f64,
    /// Seed.
    pub seed: u64,
}

/// One run as recorded, with its truth.
#[derive(Clone, Debug)]
pub struct Recording {
    /// What really happened.
    pub truth: Truth,
    /// The suspension logger's text.
    pub suspension_text: String,
    /// The motion logger's text.
    pub motion_text: String,
    /// True clock of the suspension logger.
    pub suspension_clock: Clock,
    /// True clock of the motion logger.
    pub motion_clock: Clock,
    /// True clock of the camera.
    pub camera_clock: Clock,
    /// What was read off the video.
    pub anchors: Vec<Anchor>,
}

/// The day's six runs.
pub fn plans() -> Vec<Plan> {
    let first = Setup { shock_rebound_clicks: 3, ..Setup::default() };
    let faster = Setup { shock_rebound_clicks: 8, ..first };
    let compression = Setup { fork_slow_compression_clicks: 7, ..faster };
    let air = Setup { fork_pressure_bar: faster.fork_pressure_bar + 0.9, ..faster };
    let plan = |name, time_of_day, change, words, setup, pace, seed| Plan {
        name,
        time_of_day,
        change,
        words,
        setup,
        pace,
        seed,
    };
    vec![
        plan(
            "Run 1",
            "9:40",
            "as it came from the winter",
            "Back end feels dead in the rocks, it gets lower and lower. Front is fine.",
            first,
            0.985,
            101,
        ),
        plan(
            "Run 2",
            "10:05",
            "rear rebound 5 clicks faster",
            "Much better in the rocks, the rear comes back now. Braking bumps easier too.",
            faster,
            1.0,
            102,
        ),
        plan(
            "Run 3",
            "10:31",
            "rear rebound back, to be sure",
            "Dead again. No doubt about it.",
            first,
            0.995,
            103,
        ),
        plan(
            "Run 4",
            "10:55",
            "rear rebound 5 clicks faster again; fork slow compression 1 click firmer",
            "Rear good. Could not tell you what you did to the fork.",
            compression,
            1.005,
            104,
        ),
        plan(
            "Run 5",
            "11:20",
            "fork compression back; 0.9 bar more air in the fork against the dive",
            "Front is up in my face and beats my hands in the rocks. Steers wide in the left.",
            air,
            0.99,
            105,
        ),
        plan("Run 6", "11:44", "air taken out again", "That is the bike. Leave it.", faster, 1.01, 106),
    ]
}

impl Plan {
    /// The run to simulate.
    pub fn run(&self) -> Run {
        let rider = Rider { pace: self.pace, ..Rider::default() };
        Run::new(Bike::new(&self.setup), rider, HILL_SEED, self.seed)
    }

    /// Rides and records it with loggers and camera in good order. The clocks are this run's own.
    pub fn record(&self) -> Recording {
        let mut random = Random::new(self.seed, 30);
        let suspension_clock = Clock {
            offset_s: random.between(20.0, 95.0).round() + 0.208,
            drift_ppm: random.between(8.0, 16.0),
        };
        let motion_clock = Clock {
            offset_s: random.between(3.0, 60.0).round() + 0.37,
            drift_ppm: -random.between(18.0, 32.0),
        };
        let camera_clock =
            Clock { offset_s: random.between(15.0, 70.0), drift_ppm: random.between(-15.0, 15.0) };
        let truth = self.run().ride();
        let suspension_text = SuspensionLogger::new(suspension_clock).text(&truth, self.seed);
        let motion_text = MotionLogger::new(motion_clock).text(&truth, self.seed);
        let events = [
            // The knock's force peaks half its length after it begins.
            ("first of three taps on the bars", Some(TAPS_S[0] + 0.025), Resolution::Frame),
            ("largest landing", truth.largest_landing_s(), Resolution::Tenth),
            ("finish line", truth.time_at_distance_s(Track::harrowdean_bank().finish_m), Resolution::Tenth),
        ];
        let anchors = events
            .into_iter()
            .filter_map(|(event, true_s, resolution)| {
                true_s.map(|true_s| anchor(event, true_s, &camera_clock, &suspension_clock, resolution))
            })
            .collect();
        Recording {
            truth,
            suspension_text,
            motion_text,
            suspension_clock,
            motion_clock,
            camera_clock,
            anchors,
        }
    }

    /// `Run 1` as `run-1`.
    fn file_stem(&self) -> String {
        self.name.to_lowercase().replace(' ', "-")
    }

    /// Name of the suspension logger's file.
    pub fn suspension_file(&self) -> String {
        format!("{}-suspension.csv", self.file_stem())
    }

    /// Name of the motion logger's file.
    pub fn motion_file(&self) -> String {
        format!("{}-motion.csv", self.file_stem())
    }
}
