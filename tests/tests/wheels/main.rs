//! Slides, lock-ups and the speed that is carried across them, on a bike that is simulated here.
//!
//! Each figure and its goal are printed (`--nocapture`). Source of the truth: the simulator beside this file.

mod simulator;

use std::sync::Arc;

use evenkeel_core::ride::{Ride, SlipEpisode, SlipKind, Trace, analyse_now};
use evenkeel_core::{Day, End, Log, RunSheet, Wheel, import};
use simulator::{CIRCUMFERENCE_M, Plan, Simulated, TRUTH_HZ};

struct Run {
    truth: Simulated,
    ride: Ride,
}

fn run(plan: Plan) -> Run {
    let truth = plan.simulate();
    let part = import::read("wheels.csv", truth.text.as_bytes()).unwrap().parts.swap_remove(0);
    let mut profile = truth.profile.clone();
    for (channel, header) in profile.channels.iter_mut().zip(part.headers()) {
        channel.header = header.to_owned();
    }
    let wheel = Wheel { circumference_m: CIRCUMFERENCE_M, pulses_per_turn: plan.pulses };
    let mut day = Day { profiles: vec![profile], ..Day::default() };
    (day.bike.front_wheel, day.bike.rear_wheel) = (wheel, wheel);
    let logs = vec![Log { file: part.name.clone(), ..Log::default() }];
    day.runs = vec![RunSheet { logs, ..RunSheet::default() }];
    let ride = analyse_now(&day, &day.runs[0], &[Arc::new(part)]);
    Run { truth, ride }
}

/// True slides and lock-ups by the definition: slip over 0.3 for 60 ms or more above 2 m/s, on the ground.
/// and where the wheel's pulses come every 30 ms or faster, rolling free.
fn true_episodes(truth: &Simulated, slip: &[f64], pulses: f64) -> Vec<SlipEpisode> {
    let slowest_mps = f64::max(2.0, CIRCUMFERENCE_M / pulses / 0.03);
    let mut found: Vec<(usize, usize)> = Vec::new();
    for (i, &s) in slip.iter().enumerate() {
        let landed = (i.saturating_sub(150)..=i).all(|k| !truth.in_flight[k]);
        if s <= 0.3 || truth.speed_mps[i] <= slowest_mps || !landed {
            continue;
        }
        match found.last_mut() {
            Some((_, end)) if i - *end <= 20 => *end = i + 1,
            _ => found.push((i, i + 1)),
        }
    }
    found
        .into_iter()
        .filter(|(from, to)| to - from >= 60)
        .map(|(from, to)| {
            let slip_max = slip[from..to].iter().copied().fold(0.0, f64::max);
            SlipEpisode {
                start_s: from as f64 / TRUTH_HZ,
                end_s: to as f64 / TRUTH_HZ,
                kind: if slip_max >= 0.8 { SlipKind::LockUp } else { SlipKind::Slide },
                suspected: false,
                slip_max,
            }
        })
        .collect()
}

fn length_s(episode: &SlipEpisode) -> f64 {
    episode.end_s - episode.start_s
}

fn overlaps(a: &SlipEpisode, b: &SlipEpisode) -> bool {
    a.start_s < b.end_s && b.start_s < a.end_s
}

/// Lock-ups found and true over some runs.
#[derive(Default)]
struct Score {
    long: [usize; 2],
    short: [usize; 2],
    right: [usize; 2],
    right_long: [usize; 2],
    length_errors: Vec<f64>,
}

impl Score {
    fn add(&mut self, found: &[SlipEpisode], known: &[SlipEpisode]) {
        let locks = |of: &[SlipEpisode]| -> Vec<SlipEpisode> {
            of.iter().filter(|episode| episode.kind == SlipKind::LockUp).copied().collect()
        };
        let found_locks = locks(found);
        for lock in locks(known) {
            let hit = found_locks.iter().find(|other| overlaps(&lock, other));
            let count = if length_s(&lock) >= 0.15 { &mut self.long } else { &mut self.short };
            count[0] += usize::from(hit.is_some());
            count[1] += 1;
            if let Some(hit) = hit.filter(|_| length_s(&lock) >= 0.15) {
                if (length_s(hit) / length_s(&lock) - 1.0).abs() > 0.15 {
                    println!("   {lock:.3?}\n   {hit:.3?}");
                }
                self.length_errors.push(length_s(hit) / length_s(&lock) - 1.0);
            }
        }
        for lock in found_locks {
            let hit = known.iter().any(|other| other.kind == SlipKind::LockUp && overlaps(&lock, other));
            self.right[0] += usize::from(hit);
            self.right[1] += 1;
            if length_s(&lock) >= 0.15 {
                self.right_long[0] += usize::from(hit);
                self.right_long[1] += 1;
            }
        }
    }

    fn share([hit, all]: [usize; 2]) -> f64 {
        hit as f64 / all as f64
    }

    fn print(&self, what: &str) {
        let mut errors: Vec<f64> = self.length_errors.iter().map(|error| error.abs()).collect();
        errors.sort_by(f64::total_cmp);
        let within = errors.iter().filter(|error| **error <= 0.15).count();
        println!(
            "{what}: recall >= 150 ms {:?}, 60-150 ms {:?}; precision {:?}, >= 150 ms {:?}; length within 15 % \
             {within} of {}, mean {:+.3}, worst {:.3}",
            self.long,
            self.short,
            self.right,
            self.right_long,
            errors.len(),
            self.length_errors.iter().sum::<f64>() / errors.len() as f64,
            errors.last().copied().unwrap_or(0.0),
        );
    }
}

fn rear_episodes(ride: &Ride) -> Vec<SlipEpisode> {
    ride.readout.sections[0].rear_wheel.episodes.get().unwrap().clone()
}

fn score(plan: Plan, seeds: std::ops::RangeInclusive<u64>) -> Score {
    let mut score = Score::default();
    for seed in seeds {
        let Run { truth, ride } = run(Plan { seed, ..plan });
        score.add(&rear_episodes(&ride), &true_episodes(&truth, &truth.rear_slip, plan.pulses));
        println!(
            "  distance {:+.4}, speed RMS {:.3} m/s, pitch RMS {:.2} deg",
            ride.readout.sections[0].distance_m.get().unwrap() / truth.distance_m - 1.0,
            rms(&ride, Trace::Speed, &truth.speed_mps),
            rms(&ride, Trace::Pitch, &truth.pitch_rad).to_degrees(),
        );
    }
    score
}

/// RMS of a trace against the truth, both from time 0.
fn rms(ride: &Ride, trace: Trace, truth: &[f64]) -> f64 {
    let traces = ride.traces.as_ref().unwrap();
    let (samples, step) = (traces.get(trace).unwrap(), TRUTH_HZ / traces.grid().rate_hz);
    let errors: Vec<f64> = samples
        .iter()
        .enumerate()
        .filter(|(_, v)| !v.is_nan())
        .filter_map(|(i, v)| Some((f64::from(*v) - truth.get((i as f64 * step) as usize)?).powi(2)))
        .collect();
    (errors.iter().sum::<f64>() / errors.len() as f64).sqrt()
}

#[test]
fn look() {
    for (name, plan) in [
        ("two wheels, 24 pulses, 500 Hz", Plan::LOCKING),
        ("two wheels, 24 pulses, 250 Hz", Plan { rate_hz: 250.0, ..Plan::LOCKING }),
        ("two wheels, 20 pulses, 1000 Hz", Plan { rate_hz: 1000.0, pulses: 20.0, ..Plan::LOCKING }),
        ("rear alone, 24 pulses, 500 Hz", Plan { front_sensor: false, ..Plan::LOCKING }),
        ("rear alone, 24 pulses, 250 Hz", Plan { front_sensor: false, rate_hz: 250.0, ..Plan::LOCKING }),
        ("healthy, two wheels", Plan { locks: false, ..Plan::LOCKING }),
        ("healthy, rear alone", Plan { locks: false, front_sensor: false, ..Plan::LOCKING }),
    ] {
        score(plan, 1..=3).print(name);
    }
    let _ = End::Front;
}

#[test]
fn peek() {
    let Run { truth, ride } = run(Plan::LOCKING);
    let traces = ride.traces.as_ref().unwrap();
    for (from, to) in [(76.5, 77.4), (80.85, 81.5)] {
        let mut t = from;
        while t < to {
            let (i, k) = ((t * 500.0) as usize, (t * 1000.0) as usize);
            let at = |trace| traces.get(trace).map_or(f32::NAN, |s| s[i]);
            println!(
                "{t:.2} true v {:.2} slip r {:.2} f {:.2}| v {:.2} slip {:.2} wf {:.2} wr {:.2} bf {:.1} br {:.1} tr {:.3}",
                truth.speed_mps[k],
                truth.rear_slip[k],
                truth.front_slip[k],
                at(Trace::Speed),
                at(Trace::Slip(End::Rear)),
                at(Trace::Logged(evenkeel_core::Role::WheelSpeed(End::Front))),
                at(Trace::Logged(evenkeel_core::Role::WheelSpeed(End::Rear))),
                at(Trace::Logged(evenkeel_core::Role::Brake(End::Front))) / 1e5,
                at(Trace::Logged(evenkeel_core::Role::Brake(End::Rear))) / 1e5,
                at(Trace::travel(End::Rear)),
            );
            t += 0.02;
        }
        println!();
    }
}
