//! The demo's first run against the truth of the model that made it: noisy sensors on two loggers with
//! clocks of their own, units bolted on with turned axes and a tilt of a degree or two.
//!
//! Each figure and its goal are printed (`--nocapture`). Source of the truth: the simulated bike.

use std::sync::OnceLock;

use evenkeel_core::calibrate::Mount;
use evenkeel_core::ride::{SpeedSource, Trace, find_mount};
use evenkeel_core::{End, Place, analyse_now};
use evenkeel_demo_data::truth::RECORD_HZ;
use evenkeel_tests::demo_run::DemoRun;

fn demo() -> &'static DemoRun {
    static DEMO: OnceLock<DemoRun> = OnceLock::new();
    DEMO.get_or_init(|| DemoRun::ridden(0))
}

fn within(what: &str, error: f64, goal: f64) {
    println!("{what}: {error:.4} (goal {goal})");
    assert!(error.abs() <= goal, "{what}: {error} is beyond {goal}");
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[test]
fn clocks_of_both_loggers_agree() {
    let DemoRun { recording, day, .. } = demo();
    let clock = day.runs[0].logs[1].clock;
    let (a, b) = (&recording.suspension_clock, &recording.motion_clock);
    let true_drift_ppm = a.drift_ppm - b.drift_ppm;
    within("drift, ppm", clock.drift * 1e6 - true_drift_ppm, 5.0);
    for true_s in [0.0, 100.0, 190.0] {
        within("clock, ms", 1e3 * (clock.day_s(b.shown_s(true_s)) - a.shown_s(true_s)), 2.0);
    }
}

#[test]
fn ride_heights_are_the_true_ones() {
    let demo = demo();
    let truth = &demo.recording.truth;
    for (end, truth) in [(End::Front, &truth.front_travel_m), (End::Rear, &truth.rear_travel_m)] {
        let (measured, known): (Vec<f64>, Vec<f64>) =
            demo.pairs(Trace::travel(end), truth).into_iter().unzip();
        within("ride height, mm", 1e3 * (median(measured) - median(known)), 1.0);
        within("travel, mm RMS", 1e3 * demo.rms(Trace::travel(end), truth), 1.5);
    }
}

#[test]
fn sag_is_the_true_one() {
    let demo = demo();
    let run = &demo.ride.readout.sections[0];
    let truth = &demo.recording.truth;
    // The model stands still at the gate for six seconds.
    let gate = (RECORD_HZ as usize)..(3 * RECORD_HZ as usize);
    for (end, truth) in [(&run.front, &truth.front_travel_m), (&run.rear, &truth.rear_travel_m)] {
        let known = median(truth[gate.clone()].iter().map(|v| f64::from(*v)).collect());
        within("sag, mm", 1e3 * (end.sag_m.get().unwrap() - known), 1.0);
    }
}

#[test]
fn axle_speeds_are_the_true_ones() {
    let demo = demo();
    let truth = &demo.recording.truth;
    for (end, truth) in [(End::Front, &truth.front_speed_mps), (End::Rear, &truth.rear_speed_mps)] {
        let share = |pairs: Vec<f64>| {
            let mut up: Vec<f64> = pairs.into_iter().filter(|v| *v > 0.0).collect();
            up.sort_by(f64::total_cmp);
            up[up.len() * 95 / 100]
        };
        let (measured, known): (Vec<f64>, Vec<f64>) =
            demo.pairs(Trace::AxleSpeed(end), truth).into_iter().unzip();
        let (measured, known) = (share(measured), share(known));
        // 250 Hz and a window of 20 ms cannot follow the hardest hits to the last.
        within("compression p95, share of the true one", measured / known - 1.0, 0.1);
    }
}

#[test]
fn pitch_and_lean_are_the_true_ones() {
    let demo = demo();
    let truth = &demo.recording.truth;
    assert_eq!(demo.ride.speed_source, Ok(SpeedSource::RearWheel));
    within("pitch, deg RMS", demo.rms(Trace::Pitch, &truth.pitch_rad).to_degrees(), 1.0);
    within("lean, deg RMS", demo.rms(Trace::Roll, &truth.roll_rad).to_degrees(), 1.5);
    // The chord's truth is the formula on true travel: what sensors and clocks add is what is checked.
    let bike = &demo.day.bike;
    let chord: Vec<f32> = truth
        .front_travel_m
        .iter()
        .zip(&truth.rear_travel_m)
        .map(|(f, r)| evenkeel_core::ride::chord_pitch_rad(bike, f64::from(*f), f64::from(*r)) as f32)
        .collect();
    within("pitch against the chord, deg RMS", demo.rms(Trace::ChordPitch, &chord).to_degrees(), 0.15);
}

#[test]
fn levelling_takes_the_units_tilt_out() {
    let demo = demo();
    let mut day = demo.day.clone();
    let square = day.profiles[1].frame_mount;
    day.profiles[1].frame_mount = Mount::default();
    let found = find_mount(&day, &day.runs[0], &demo.sources, Place::Frame).unwrap();
    assert_eq!(found.mount.levelled(0.0, 0.0), square);
    day.profiles[1].frame_mount = found.mount;
    let ride = analyse_now(&day, &day.runs[0], &demo.sources);
    let levelled = DemoRun { ride, recording: demo.recording.clone(), day, sources: Vec::new() };
    let truth = &demo.recording.truth;
    within("levelled: pitch, deg RMS", levelled.rms(Trace::Pitch, &truth.pitch_rad).to_degrees(), 1.0);
    within("levelled: lean, deg RMS", levelled.rms(Trace::Roll, &truth.roll_rad).to_degrees(), 1.5);
}

#[test]
fn a_healthy_run_raises_no_doubt_about_its_sensors() {
    for channel in &demo().ride.readout.channels {
        assert!(
            channel.problem.is_none() && channel.flags.is_empty(),
            "{}: {:?}",
            channel.header,
            channel.flags
        );
    }
}

#[test]
fn distance_and_flights_are_the_true_ones() {
    let demo = demo();
    let run = &demo.ride.readout.sections[0];
    let truth = &demo.recording.truth;
    let distance_m = truth.distance_m[truth.len() - 1];
    within("distance, share", run.distance_m.get().unwrap() / distance_m - 1.0, 0.02);
    // Every flight that is told is one.
    for flight in run.airborne.get().unwrap() {
        let middle_s = demo.recording.suspension_clock.true_s((flight.start_s + flight.end_s) / 2.0);
        assert!(truth.is_airborne((middle_s * RECORD_HZ) as usize), "{flight:?}");
    }
}
