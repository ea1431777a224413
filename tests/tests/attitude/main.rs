//! Attitude against a simulated ride, and beside published filters on the same arrays.

mod simulated_ride;

use std::time::Instant;

use evenkeel_core::calibrate::{Inertial, Mount, still_stretches};
use evenkeel_core::ride::Attitude;
use evenkeel_tests::python::{Arrays, reference};
use simulated_ride::{REST_S, Ride, SimulatedRide};

fn ride(seed: u64) -> SimulatedRide {
    Ride { seed, duration_s: 100.0, roughness_mps2: 8.0, speed_max_mps: 13.0 }.simulate()
}

fn inertial(ride: &SimulatedRide) -> Inertial<'_> {
    Inertial {
        accel_mps2: ride.accel_mps2.each_ref().map(Vec::as_slice),
        gyro_radps: ride.gyro_radps.each_ref().map(Vec::as_slice),
        rate_hz: ride.rate_hz,
    }
}

fn with_speed(ride: &SimulatedRide) -> Attitude {
    Attitude::find(&inertial(ride), Some(&ride.speed_mps)).unwrap()
}

fn without_speed(ride: &SimulatedRide) -> Attitude {
    Attitude::find(&inertial(ride), None).unwrap()
}

/// Upwards in bike axes (ISO 8855 angles).
fn up(roll: f64, pitch: f64) -> [f64; 3] {
    [-pitch.sin(), pitch.cos() * roll.sin(), pitch.cos() * roll.cos()]
}

/// RMS errors against the truth, degrees, over samples that have a value.
#[derive(Debug)]
struct Errors {
    inclination: f64,
    pitch: f64,
    lean: f64,
    yaw_rate: f64,
}

fn errors(ride: &SimulatedRide, found: &Attitude, from_s: f64) -> Errors {
    let first = (from_s * ride.rate_hz) as usize;
    let rms = |error: &dyn Fn(usize) -> f64| {
        let judged = (first..ride.roll_rad.len()).filter(|&i| !found.roll_rad[i].is_nan());
        let (count, sum) =
            judged.fold((0.0, 0.0), |(n, sum), i| (n + 1.0, sum + error(i).to_degrees().powi(2)));
        f64::sqrt(sum / count)
    };
    let roll = |i: usize| f64::from(found.roll_rad[i]);
    let pitch = |i: usize| f64::from(found.pitch_rad[i]);
    Errors {
        inclination: rms(&|i| {
            let (a, b) = (up(roll(i), pitch(i)), up(ride.roll_rad[i], ride.pitch_rad[i]));
            2.0 * (0.5 * (0..3).map(|c| (a[c] - b[c]).powi(2)).sum::<f64>().sqrt()).asin()
        }),
        pitch: rms(&|i| pitch(i) - ride.pitch_rad[i]),
        lean: rms(&|i| roll(i) - ride.roll_rad[i]),
        yaw_rate: rms(&|i| f64::from(found.yaw_rate_radps[i]) - ride.yaw_rate_radps[i]),
    }
}

const PEERS: [&str; 4] = ["imufusion", "madgwick", "mahony", "vqf"];

/// RMS inclination error of the published filters at their best settings, degrees, after the rest.
fn peers(ride: &SimulatedRide) -> Arrays {
    let flat = |axes: &[Vec<f32>; 3]| -> Vec<f64> { axes.iter().flatten().map(|&v| f64::from(v)).collect() };
    let up: Vec<[f64; 3]> = ride.roll_rad.iter().zip(&ride.pitch_rad).map(|(&r, &p)| up(r, p)).collect();
    let up: Vec<f64> = (0..3).flat_map(|c| up.iter().map(move |up| up[c])).collect();
    reference(
        "attitude",
        &[
            ("accel", &flat(&ride.accel_mps2)),
            ("gyro", &flat(&ride.gyro_radps)),
            ("up", &up),
            ("rate_hz", &[ride.rate_hz]),
            ("rest_s", &[REST_S]),
        ],
    )
}

/// Axes and conventions are right if every filter, ours too, finds a tilt at rest.
#[test]
fn every_filter_finds_a_tilt_at_rest() {
    let (roll, pitch) = (-35_f64.to_radians(), 20_f64.to_radians());
    let (n, up) = (2000, up(roll, pitch));
    // A ripple in place of noise: some filters skip samples that do not turn at all.
    let ripple = |i: usize, phase: usize| 1e-4 * (((i + phase) % 5) as f64 - 2.0);
    let still = SimulatedRide {
        rate_hz: 100.0,
        accel_mps2: up.map(|c| (0..n).map(|i| (9.806_65 * c + ripple(i, 0)) as f32).collect()),
        gyro_radps: [1, 2, 3].map(|phase| (0..n).map(|i| ripple(i, phase) as f32).collect()),
        speed_mps: vec![0.0; n],
        roll_rad: vec![roll; n],
        pitch_rad: vec![pitch; n],
        yaw_rate_radps: vec![0.0; n],
    };
    for (name, error) in peers(&still) {
        assert!(error[0] < 0.1, "{name} is {} degrees off at rest", error[0]);
    }
    let ours = errors(&still, &without_speed(&still), 0.0);
    assert!(ours.inclination < 0.1, "{ours:?}");
}

/// Madgwick's thesis filter (imufusion), Madgwick 2010 and Mahony 2008 (ahrs), Laidig and Seel 2023 (vqf).
#[test]
fn inclination_beside_published_filters() {
    println!("RMS inclination error on a simulated ride, degrees");
    println!("seed  with speed  without  | imufusion  madgwick  mahony    vqf  | offline vqf (not causal)");
    for seed in [1, 2] {
        let ride = ride(seed).slower(10);
        let known = errors(&ride, &with_speed(&ride), REST_S).inclination;
        let unknown = errors(&ride, &without_speed(&ride), REST_S).inclination;
        let peers = peers(&ride);
        let peer = |name: &str| peers[name][0];
        let best = PEERS.into_iter().map(peer).fold(f64::INFINITY, f64::min);
        println!(
            "{seed:4}  {known:10.3}  {unknown:7.3}  | {:9.3}  {:8.3}  {:6.3}  {:5.3}  | {:.3}",
            peer("imufusion"),
            peer("madgwick"),
            peer("mahony"),
            peer("vqf"),
            peer("offline_vqf"),
        );
        assert!(unknown < 1.1 * best, "without speed: {unknown} against {best}");
        assert!(known < best && known < peer("offline_vqf"), "with speed: {known} against {best}");
    }
}

#[test]
fn pitch_and_lean_against_the_truth() {
    println!("RMS errors at 1 kHz, degrees (yaw rate degrees/s)");
    for seed in 1..=4 {
        let ride = ride(seed);
        for (name, find) in [("with speed", with_speed as fn(&_) -> _), ("without", without_speed)] {
            let start = Instant::now();
            let found = find(&ride);
            let took = start.elapsed();
            let errors = errors(&ride, &found, 0.0);
            println!(
                "seed {seed} {name:10}: pitch {:.3} lean {:.3} yaw rate {:.3}, {took:.0?} for 100 s",
                errors.pitch, errors.lean, errors.yaw_rate
            );
            assert!(errors.pitch < 1.0 && errors.lean < 1.5 && errors.yaw_rate < 1.0, "{errors:?}");
            assert_eq!(found.speed_used, name == "with speed");
        }
    }
}

#[test]
fn a_ride_without_rest_and_with_large_gyro_offsets() {
    let mut moving = ride(1).slower(5).part(2_000..18_000);
    for (axis, offset) in moving.gyro_radps.iter_mut().zip([0.05, -0.04, 0.06]) {
        axis.iter_mut().for_each(|rate| *rate += offset);
    }
    for found in [with_speed(&moving), without_speed(&moving)] {
        let errors = errors(&moving, &found, 0.0);
        println!("offsets of 3 deg/s, no rest: {errors:.3?}, {:.4?} rad/s", found.gyro_bias_radps);
        assert!(errors.pitch < 1.0 && errors.lean < 1.5, "{errors:?}");
    }
}

#[test]
fn a_speed_that_is_late_scaled_locked_or_missing_does_little_harm() {
    let plain = ride(2).slower(5);
    let damaged = |damage: &dyn Fn(&mut Vec<f32>)| {
        let mut ride = plain.clone();
        damage(&mut ride.speed_mps);
        ride
    };
    let every_4_s = |speed: &mut Vec<f32>, length: usize, value: f32| {
        for start in (2000..speed.len() - 2000).step_by(800) {
            speed[start..start + length].fill(value);
        }
    };
    for (what, ride) in [
        ("late by 0.2 s", damaged(&|speed| speed.rotate_right(40))),
        ("5 % too high", damaged(&|speed| speed.iter_mut().for_each(|v| *v *= 1.05))),
        ("wheel locked for 0.4 s", damaged(&|speed| every_4_s(speed, 80, 0.0))),
        ("half of it missing", damaged(&|speed| every_4_s(speed, 400, f32::NAN))),
    ] {
        let errors = errors(&ride, &with_speed(&ride), 0.0);
        println!("speed {what}: {errors:.3?}");
        assert!(errors.pitch < 1.0 && errors.lean < 1.5, "{what}: {errors:?}");
    }
}

/// 50 ms of every channel lost every four seconds and every second, then two seconds at once.
#[test]
fn short_gaps_are_bridged_and_long_ones_part() {
    for seed in 1..=4 {
        let plain = ride(seed).slower(5);
        for every_s in [4, 1] {
            let mut lossy = plain.clone();
            let starts = (1150..19_000).step_by(200 * every_s);
            for channel in lossy.accel_mps2.iter_mut().chain(&mut lossy.gyro_radps) {
                starts.clone().for_each(|start| channel[start..start + 10].fill(f32::NAN));
            }
            // The goals of pitch and lean are those with speed.
            for (name, find, pitch_goal) in
                [("with speed", with_speed as fn(&_) -> _, 1.0), ("without", without_speed, 1.5)]
            {
                let [before, after] = [&plain, &lossy].map(find);
                assert_eq!(after.bridged, 10 * starts.clone().count());
                let [before, after] = [(&plain, before), (&lossy, after)].map(|(r, a)| errors(r, &a, 0.0));
                println!(
                    "seed {seed}, 50 ms lost every {every_s} s, {name}: pitch {:.3} -> {:.3}, lean {:.3} -> {:.3}",
                    before.pitch, after.pitch, before.lean, after.lean
                );
                assert!(after.pitch < pitch_goal && after.lean < 1.5, "{after:?}");
            }
        }
    }

    let plain = ride(3).slower(5);
    let mut parted = plain.clone();
    parted.gyro_radps[1][8000..8400].fill(f32::NAN);
    let parted_errors = errors(&parted, &with_speed(&parted), 0.0);
    println!("2 s lost in the middle: {parted_errors:.3?}");
    assert!(parted_errors.pitch < 1.0 && parted_errors.lean < 1.5, "{parted_errors:?}");
}

/// Mirrored left to right: forces along y and turns about x and z change sign.
#[test]
fn a_mirrored_ride_leans_and_turns_the_other_way() {
    let ride = ride(4).slower(10);
    let mut mirrored = ride.clone();
    let [_, force_y, _] = &mut mirrored.accel_mps2;
    let [turn_x, _, turn_z] = &mut mirrored.gyro_radps;
    for axis in [force_y, turn_x, turn_z] {
        axis.iter_mut().for_each(|v| *v = -*v);
    }
    for find in [with_speed, without_speed] {
        let (a, b) = (find(&ride), find(&mirrored));
        for i in 0..a.roll_rad.len() {
            assert!((a.roll_rad[i] + b.roll_rad[i]).abs() < 1e-5, "roll at {i}");
            assert!((a.yaw_rad[i] + b.yaw_rad[i]).abs() < 1e-4, "yaw at {i}");
            assert!((a.yaw_rate_radps[i] + b.yaw_rate_radps[i]).abs() < 1e-5, "yaw rate at {i}");
            assert!((a.pitch_rad[i] - b.pitch_rad[i]).abs() < 1e-5, "pitch at {i}");
        }
    }
}

#[test]
fn a_later_start_of_the_log_changes_nothing() {
    let ride = ride(4).slower(10);
    let mut later = ride.clone();
    let delay = 137;
    let channels = later.accel_mps2.iter_mut().chain(&mut later.gyro_radps).chain([&mut later.speed_mps]);
    for channel in channels {
        channel.splice(0..0, vec![f32::NAN; delay]);
    }
    let (a, b) = (with_speed(&ride), with_speed(&later));
    assert!(b.roll_rad[..delay].iter().all(|roll| roll.is_nan()));
    for i in 0..a.roll_rad.len() {
        assert!((a.roll_rad[i] - b.roll_rad[i + delay]).abs() < 1e-4, "roll at {i}");
        assert!((a.pitch_rad[i] - b.pitch_rad[i + delay]).abs() < 1e-4, "pitch at {i}");
        assert!((a.yaw_rate_radps[i] - b.yaw_rate_radps[i + delay]).abs() < 1e-4, "yaw rate at {i}");
    }
}

#[test]
fn the_mount_is_found_on_a_ride_whichever_way_the_unit_lies() {
    let ride = ride(1).slower(5);
    for square in Mount::all() {
        let mount = square.levelled(4_f64.to_radians(), -3_f64.to_radians());
        let columns = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]].map(|axis| mount.apply(axis));
        let seen = |bike: &[Vec<f32>; 3]| {
            columns.map(|column| -> Vec<f32> {
                (0..bike[0].len()).map(|i| (0..3).map(|c| column[c] as f32 * bike[c][i]).sum()).collect()
            })
        };
        let unit = SimulatedRide {
            accel_mps2: seen(&ride.accel_mps2),
            gyro_radps: seen(&ride.gyro_radps),
            ..ride.clone()
        };
        let still = still_stretches(&inertial(&unit));
        let found = Mount::find(&inertial(&unit), still[0].clone(), Some(&unit.speed_mps)).unwrap();
        if square == Mount::default() {
            println!("{}: {found:?}", found.mount);
        }
        for axis in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]] {
            let (a, b) = (found.mount.apply(axis), mount.apply(axis));
            let cosine: f64 = (0..3).map(|c| a[c] * b[c]).sum();
            assert!(cosine > 0.5_f64.to_radians().cos(), "{} instead of {mount}", found.mount);
        }
        let left = Mount::find(&inertial(&unit), still[0].clone(), None).unwrap_err();
        assert_eq!(left.remaining.len(), 4);
    }
}
