//! The same on the demo's physical model, whose wheels, tyres and brakes are others.

use std::sync::OnceLock;

use evenkeel_core::ride::{Ride, SlipEpisode, Trace};
use evenkeel_core::track::{BrakedRun, brake_effect};
use evenkeel_core::{Day, End, Log, RunSheet, analyse_now};
use evenkeel_demo_data::bike::Bike;
use evenkeel_demo_data::day::{Recording, plans};
use evenkeel_demo_data::habit::Stab;
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::truth::Truth;
use evenkeel_demo_data::written;
use evenkeel_tests::demo_run::read_logs;
use evenkeel_tests::simulated::CLOCK;

use crate::{Known, Score, overlaps, rear_episodes, rms, share};

const PULSES: f64 = 24.0;

struct Model {
    truth: Truth,
    bike: Bike,
}

/// A run of the demo day with some more pulls on the rear lever.
fn ridden(plan: usize, rear_stabs: Vec<Stab>, until_s: f64) -> Model {
    let mut run = plans()[plan].run();
    (run.until_s, run.rear_stabs) = (until_s, rear_stabs);
    Model { truth: run.ride(), bike: run.bike }
}

/// The rider grabs the rear lever every 14 m.
fn locking() -> &'static [Model] {
    static RIDDEN: OnceLock<Vec<Model>> = OnceLock::new();
    let grab = |k: u32| Stab {
        at_m: 40.0 + 14.0 * f64::from(k),
        length_s: 0.12 + 0.06 * f64::from(k % 8),
        pressure_bar: 14.0 + f64::from(k % 5),
    };
    RIDDEN.get_or_init(|| [0, 1, 4].map(|plan| ridden(plan, (0..70).map(grab).collect(), 90.0)).into())
}

fn healthy() -> &'static Model {
    static RIDDEN: OnceLock<Model> = OnceLock::new();
    RIDDEN.get_or_init(|| ridden(1, Vec::new(), f64::INFINITY))
}

impl Model {
    fn analysed(&self, front_sensor: bool, rate_hz: f64) -> Ride {
        let mut suspension = SuspensionLogger::new(CLOCK).fully_fitted();
        suspension.rate_hz = rate_hz;
        suspension.pulses_per_turn = PULSES;
        suspension.front_pulses_per_turn = front_sensor.then_some(PULSES);
        let motion = MotionLogger::new(CLOCK);
        let mut bike = written::bike("", &self.bike).unwrap();
        bike.front_wheel.pulses_per_turn = PULSES;
        let texts = [
            ("suspension.csv", suspension.text(&self.truth, 1)),
            ("motion.csv", motion.text(&self.truth, 1)),
        ];
        let sources = read_logs(&texts);
        // How the units lie is known from the demo day.
        let recording = Recording {
            truth: Truth::new(self.bike.geometry),
            suspension_text: texts[0].1.clone(),
            motion_text: texts[1].1.clone(),
            suspension_clock: CLOCK,
            motion_clock: CLOCK,
            camera_clock: CLOCK,
            anchors: Vec::new(),
        };
        let mut day = Day { bike, ..written::day(&[(plans().swap_remove(0), recording)]).unwrap() };
        let logs = sources.iter().map(|source| Log { file: source.name.clone(), ..Log::default() }).collect();
        day.runs = vec![RunSheet { logs, ..RunSheet::default() }];
        analyse_now(&day, &day.runs[0], &sources)
    }

    /// Slides and lock-ups by the definition. A wheel that hops over bumps while its brake stops it counts
    /// as one on the ground; a bike in flight does not.
    fn known(&self, end: End) -> Vec<SlipEpisode> {
        let truth = &self.truth;
        let mut in_air = vec![false; truth.len()];
        for (from_s, to_s) in truth.stretches(|i| truth.is_airborne(i)) {
            if to_s - from_s >= 0.1 {
                let index = |s: f64| ((s * 1000.0).round() as usize).min(truth.len());
                in_air[index(from_s)..index(to_s + 0.15)].fill(true);
            }
        }
        let slip = if end == End::Front { &truth.front_slip } else { &truth.rear_slip };
        Known {
            slip: &|i| f64::from(slip[i]),
            speed_mps: &|i| f64::from(truth.speed_mps[i]),
            in_air: &|i| in_air[i],
            len: truth.len(),
            pulses: PULSES,
            circumference_m: std::f64::consts::TAU * self.bike.geometry.wheel_radius_m,
        }
        .episodes()
    }

    fn scored(&self, score: &mut Score, front_sensor: bool, rate_hz: f64) -> Ride {
        let ride = self.analysed(front_sensor, rate_hz);
        score.add(&rear_episodes(&ride), &self.known(End::Rear));
        let run = &ride.readout.sections[0];
        let distance = run.distance_m.get().unwrap() / self.truth.distance_m.last().unwrap() - 1.0;
        let speed = rms(&ride, Trace::Speed, |i| self.truth.speed_mps.get(i).map(|v| f64::from(*v)));
        let pitch = rms(&ride, Trace::Pitch, |i| self.truth.pitch_rad.get(i).map(|v| f64::from(*v)));
        let pitch_deg = pitch.to_degrees();
        println!("distance {distance:+.4}, speed RMS {speed:.3} m/s, pitch RMS {pitch_deg:.2} deg");
        assert!(distance.abs() < 0.02 && speed < 0.5 && pitch_deg < 1.0);
        ride
    }
}

fn scored(what: &str, models: &[Model], front_sensor: bool, rate_hz: f64) -> Score {
    let mut score = Score::default();
    for model in models {
        model.scored(&mut score, front_sensor, rate_hz);
    }
    score.print(what);
    score
}

#[test]
fn two_wheels_show_the_models_lock_ups() {
    // At 250 rows a second the short peaks of a wheel that hops are seen as slides: the goal of 95 % is missed.
    for (rate_hz, recall) in [(1000.0, 0.95), (250.0, 0.9)] {
        let score = scored(&format!("model, two wheels, {rate_hz} Hz"), locking(), true, rate_hz);
        assert!(score.long[1] > 20 && share(score.long) >= recall);
        assert!(share(score.short) >= 0.7);
        assert!(share(score.right) >= 0.95);
        // A lock-up that ends in a jump with the ends still compressed is seen to go on: 15 % holds for seven
        // of eight and on the average.
        assert!(score.mean_length_error().abs() <= 0.15 && share(score.length_within()) >= 0.85);
        assert!(score.locked_error_s() <= 0.08);
    }
}

#[test]
fn the_models_rear_wheel_alone_lets_suspect_them() {
    let score = scored("model, rear alone, 250 Hz", locking(), false, 250.0);
    assert!(share(score.right) >= 0.8);
    assert!(share(score.long) >= 0.8);
}

#[test]
fn a_healthy_run_of_the_model_shows_few() {
    for front_sensor in [true, false] {
        let mut score = Score::default();
        let ride = healthy().scored(&mut score, front_sensor, 250.0);
        score.print("model, healthy");
        assert!(score.invented.0 <= 5 && score.invented.1 <= 0.6);
        if front_sensor {
            let front = ride.readout.sections[0].front_wheel.episodes.get().unwrap().clone();
            let known = healthy().known(End::Front);
            println!("front: found {}, true {}", front.len(), known.len());
            let invented = front.iter().filter(|episode| !known.iter().any(|other| overlaps(episode, other)));
            assert!(invented.count() <= 2);
        }
    }
}

/// One rider drags the rear brake lightly at many places where another rides free. No goal: the model's own
/// effect is not known apart from the ground; that there are pairs, and what they say, is shown.
#[test]
fn the_model_shows_what_braking_does_to_the_rear_on_the_same_ground() {
    let drag = |k| Stab { at_m: 40.0 + 30.0 * f64::from(k), length_s: 1.5, pressure_bar: 2.0 };
    let dragging = ridden(1, (0..25).map(drag).collect(), 80.0);
    let read = |model: &Model| {
        let ride = model.analysed(true, 250.0);
        let grid = ride.traces.as_ref().unwrap().grid();
        let place = |k| model.truth.distance_m.get((grid.time_s(k) * 1000.0) as usize);
        let distance_m = (0..grid.len).map(|k| place(k).copied().unwrap_or(f64::NAN)).collect();
        BrakedRun::of(&ride, distance_m).unwrap()
    };
    let runs = [read(&dragging), read(healthy())];
    let found = brake_effect(&runs).unwrap();
    println!("{found:?}");
    assert!(found.same_ground && found.ratio.n().is_some_and(|n| n >= 8));
    // The same run twice is no pair.
    let alone = brake_effect(&[runs[1].clone(), runs[1].clone()]).unwrap();
    println!("{alone:?}");
    assert!(!alone.same_ground);
}
