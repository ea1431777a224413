//! Slides, lock-ups and the speed that is carried across them, on a bike that is simulated here.
//!
//! Each figure and its goal are printed (`--nocapture`). Source of the truth: the simulator beside this file.

mod on_the_model;
mod simulator;

use std::sync::Arc;

use evenkeel_core::ride::{Doubt, Ride, SlipEpisode, SlipKind, SpeedSource, Trace};
use evenkeel_core::{Day, End, Log, RunSheet, Wheel, analyse_now, import};
use simulator::{CIRCUMFERENCE_M, Plan, Simulated, TRUTH_HZ};

struct Run {
    truth: Simulated,
    ride: Ride,
}

fn run(plan: Plan) -> Run {
    analysed(plan.simulate(), [plan.pulses; 2])
}

/// The same with each row's cells changed.
fn run_changed(plan: Plan, change: impl Fn(&mut Vec<&str>)) -> Run {
    let mut truth = plan.simulate();
    let mut rows = truth.text.lines();
    let mut text = format!("{}\n", rows.next().unwrap());
    for row in rows {
        let mut cells: Vec<&str> = row.split(',').collect();
        change(&mut cells);
        text += &(cells.join(",") + "\n");
    }
    truth.text = text;
    analysed(truth, [plan.pulses; 2])
}

/// The same with other pulses a turn in the day file.
fn run_pulses(plan: Plan, pulses_per_turn: [f64; 2]) -> Run {
    analysed(plan.simulate(), pulses_per_turn)
}

fn analysed(truth: Simulated, pulses_per_turn: [f64; 2]) -> Run {
    let part = import::read("wheels.csv", truth.text.as_bytes()).unwrap().parts.swap_remove(0);
    let mut profile = truth.profile.clone();
    for (channel, header) in profile.channels.iter_mut().zip(part.headers()) {
        channel.header = header.to_owned();
    }
    let mut day = Day { profiles: vec![profile], ..Day::default() };
    [day.bike.front_wheel, day.bike.rear_wheel] =
        pulses_per_turn.map(|pulses_per_turn| Wheel { circumference_m: CIRCUMFERENCE_M, pulses_per_turn });
    let logs = vec![Log { file: part.name.clone(), ..Log::default() }];
    day.runs = vec![RunSheet { logs, ..RunSheet::default() }];
    let ride = analyse_now(&day, &day.runs[0], &[Arc::new(part)]);
    Run { truth, ride }
}

/// What really happened, `TRUTH_HZ` samples a second.
struct Known<'a> {
    slip: &'a dyn Fn(usize) -> f64,
    speed_mps: &'a dyn Fn(usize) -> f64,
    /// The wheel is off the ground for longer than a bump, or touched down less than 0.15 s ago.
    in_air: &'a dyn Fn(usize) -> bool,
    len: usize,
    pulses: f64,
    circumference_m: f64,
}

impl Known<'_> {
    /// True slides and lock-ups by the definition: slip over 0.3 for 60 ms or more above 2 m/s, on the
    /// ground and where the wheel's pulses come every 30 ms or faster, rolling free.
    fn episodes(&self) -> Vec<SlipEpisode> {
        let slowest_mps = f64::max(2.0, self.circumference_m / self.pulses / 0.03);
        let mut found: Vec<(usize, usize)> = Vec::new();
        for i in 0..self.len {
            if (self.slip)(i) <= 0.3 || (self.speed_mps)(i) <= slowest_mps || (self.in_air)(i) {
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
                let slip_max = (from..to).map(self.slip).fold(0.0, f64::max);
                SlipEpisode {
                    start_s: from as f64 / TRUTH_HZ,
                    end_s: to as f64 / TRUTH_HZ,
                    kind: if slip_max >= 0.8 { SlipKind::LockUp } else { SlipKind::Slide },
                    suspected: false,
                    slip_max,
                    locked_s: (from..to).filter(|&i| (self.slip)(i) >= 0.8).count() as f64 / TRUTH_HZ,
                }
            })
            .collect()
    }
}

fn true_episodes(truth: &Simulated, slip: &[f64], pulses: f64) -> Vec<SlipEpisode> {
    Known {
        slip: &|i| slip[i],
        speed_mps: &|i| truth.speed_mps[i],
        in_air: &|i| (i.saturating_sub(150)..=i).any(|k| truth.in_flight[k]),
        len: slip.len(),
        pulses,
        circumference_m: CIRCUMFERENCE_M,
    }
    .episodes()
}

fn length_s(episode: &SlipEpisode) -> f64 {
    episode.end_s - episode.start_s
}

fn overlaps(a: &SlipEpisode, b: &SlipEpisode) -> bool {
    a.start_s < b.end_s && b.start_s < a.end_s
}

/// Lock-ups found and true over some runs: how many of how many.
#[derive(Default)]
struct Score {
    /// True ones of 150 ms and more, and of 60 to 150 ms, that were found as such.
    long: [usize; 2],
    short: [usize; 2],
    /// Found ones that are true.
    right: [usize; 2],
    /// Slides and lock-ups with nothing true at their time: how many, and for how long, s.
    invented: (usize, f64),
    /// Length found over true length, less 1, of long ones.
    length_errors: Vec<f64>,
    /// How long they slip by 80 % or more, found less true, s.
    locked_errors_s: Vec<f64>,
}

impl Score {
    fn add(&mut self, found: &[SlipEpisode], known: &[SlipEpisode]) {
        let locks = |of: &[SlipEpisode]| -> Vec<SlipEpisode> {
            of.iter().filter(|episode| episode.kind == SlipKind::LockUp).copied().collect()
        };
        let (found_locks, known_locks) = (locks(found), locks(known));
        for lock in &known_locks {
            let hit = found_locks.iter().find(|other| overlaps(lock, other));
            let long = length_s(lock) >= 0.15;
            let count = if long { &mut self.long } else { &mut self.short };
            *count = [count[0] + usize::from(hit.is_some()), count[1] + 1];
            if let Some(hit) = hit.filter(|_| long) {
                self.length_errors.push(length_s(hit) / length_s(lock) - 1.0);
                self.locked_errors_s.push(hit.locked_s - lock.locked_s);
            }
        }
        let right = found_locks.iter().filter(|lock| known_locks.iter().any(|other| overlaps(lock, other)));
        self.right = [self.right[0] + right.count(), self.right[1] + found_locks.len()];
        for episode in found.iter().filter(|episode| !known.iter().any(|other| overlaps(episode, other))) {
            self.invented = (self.invented.0 + 1, self.invented.1 + length_s(episode));
        }
    }

    /// Of one near 60 ms it is a matter of a millisecond on which side it falls: one a run, all short.
    fn invented_few(&self, runs: usize) -> bool {
        self.invented.0 <= runs && self.invented.1 <= 0.1 * runs as f64
    }

    fn length_within(&self) -> [usize; 2] {
        let within = self.length_errors.iter().filter(|error| error.abs() <= 0.15).count();
        [within, self.length_errors.len()]
    }

    fn mean_length_error(&self) -> f64 {
        self.length_errors.iter().sum::<f64>() / self.length_errors.len() as f64
    }

    /// RMS of what is found less what is true of the time at 80 % and more, s.
    fn locked_error_s(&self) -> f64 {
        let squares: f64 = self.locked_errors_s.iter().map(|error| error * error).sum();
        (squares / self.locked_errors_s.len() as f64).sqrt()
    }

    fn print(&self, what: &str) {
        println!(
            "{what}: found of >= 150 ms {:?}, of 60-150 ms {:?}; right {:?}; length within 15 % {:?}, mean {:+.3}; \
             locked for, RMS {:.3} s; invented {} in {:.2} s",
            self.long,
            self.short,
            self.right,
            self.length_within(),
            self.mean_length_error(),
            self.locked_error_s(),
            self.invented.0,
            self.invented.1,
        );
    }
}

fn share([part, all]: [usize; 2]) -> f64 {
    part as f64 / all as f64
}

fn rear_episodes(ride: &Ride) -> Vec<SlipEpisode> {
    ride.readout.sections[0].rear_wheel.episodes.get().unwrap().clone()
}

/// RMS of a trace against the truth, both from time 0.
fn rms(ride: &Ride, trace: Trace, truth: impl Fn(usize) -> Option<f64>) -> f64 {
    let traces = ride.traces.as_ref().unwrap();
    let (samples, step) = (traces.get(trace).unwrap(), TRUTH_HZ / traces.grid().rate_hz);
    let errors: Vec<f64> = samples
        .iter()
        .enumerate()
        .filter(|(_, v)| !v.is_nan())
        .filter_map(|(i, v)| Some((f64::from(*v) - truth((i as f64 * step) as usize)?).powi(2)))
        .collect();
    assert!(errors.len() > samples.len() * 9 / 10);
    (errors.iter().sum::<f64>() / errors.len() as f64).sqrt()
}

/// Scores some runs, and checks that speed, distance and attitude stay what they are.
fn score(what: &str, plan: Plan) -> Score {
    let mut score = Score::default();
    for seed in 1..=2 {
        let Run { truth, ride } = run(Plan { seed, ..plan });
        score.add(&rear_episodes(&ride), &true_episodes(&truth, &truth.rear_slip, plan.pulses));
        let distance = ride.readout.sections[0].distance_m.get().unwrap() / truth.distance_m - 1.0;
        let speed = rms(&ride, Trace::Speed, |i| truth.speed_mps.get(i).copied());
        let pitch = rms(&ride, Trace::Pitch, |i| truth.pitch_rad.get(i).copied()).to_degrees();
        println!("{what}: distance {distance:+.4}, speed RMS {speed:.3} m/s, pitch RMS {pitch:.2} deg");
        // Braked wheels that hold turn some per cent too slow, and nothing says so.
        assert!(distance.abs() < 0.02 && speed < 0.4 && pitch < 1.0);
    }
    score.print(what);
    score
}

#[test]
fn two_wheels_show_lock_ups() {
    for (what, plan) in [
        ("two wheels, 24 pulses, 500 Hz", Plan::LOCKING),
        ("two wheels, 20 pulses, 250 Hz", Plan { pulses: 20.0, rate_hz: 250.0, ..Plan::LOCKING }),
    ] {
        let score = score(what, plan);
        assert!(score.long[1] > 20 && share(score.long) >= 0.95);
        assert!(share(score.short) >= 0.7);
        assert!(share(score.right) >= 0.95);
        assert!(share(score.length_within()) >= 0.95);
        assert!(score.locked_error_s() <= 0.05);
        assert!(score.invented_few(2));
    }
}

#[test]
fn the_rear_wheel_alone_lets_suspect_them() {
    let plan = Plan { front_sensor: false, ..Plan::LOCKING };
    let score = score("rear alone, 24 pulses, 500 Hz", plan);
    assert!(share(score.right) >= 0.8);
    // No goal, but suspicion is of use only if it finds most.
    assert!(share(score.long) >= 0.8);
    let Run { ride, .. } = run(plan);
    assert!(rear_episodes(&ride).iter().all(|episode| episode.suspected));
    let front = &ride.readout.sections[0].front_wheel;
    assert_eq!(front.lockups.get().unwrap_err().0, "no front wheel speed is logged");
    assert_eq!(ride.traces.as_ref().unwrap().get(Trace::Slip(End::Rear)), None);
}

#[test]
fn a_healthy_run_shows_hardly_any() {
    for front_sensor in [true, false] {
        let plan = Plan { locks: false, front_sensor, ..Plan::LOCKING };
        let what = if front_sensor { "healthy" } else { "healthy, rear alone" };
        assert!(score(what, plan).invented_few(2));
    }
}

fn same_times(a: &[SlipEpisode], b: &[SlipEpisode], later_s: f64, within_s: f64) {
    assert!(a.len() > 10);
    assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(b) {
        assert_eq!(a.kind, b.kind);
        let apart_s = (b.start_s - a.start_s - later_s).abs().max((b.end_s - a.end_s - later_s).abs());
        assert!(apart_s <= within_s, "{a:?} {b:?}");
    }
}

/// Metamorphic: what must not matter does not.
#[test]
fn time_shift_mirror_and_rate_do_not_matter() {
    let first = rear_episodes(&run(Plan::LOCKING).ride);
    same_times(&first, &rear_episodes(&run(Plan { late_s: 1234.5, ..Plan::LOCKING }).ride), 1234.5, 0.003);
    same_times(&first, &rear_episodes(&run(Plan { mirrored: true, ..Plan::LOCKING }).ride), 0.0, 1e-9);
    same_times(&first, &rear_episodes(&run(Plan { rate_hz: 1000.0, ..Plan::LOCKING }).ride), 0.0, 0.015);
}

#[test]
fn one_pulse_a_turn_measures_no_slip() {
    let Run { ride, .. } = run(Plan { pulses: 1.0, duration_s: 40.0, ..Plan::LOCKING });
    let reason = ride.readout.sections[0].rear_wheel.lockups.get().unwrap_err().0;
    assert!(reason.contains("slip needs a reading every 30 ms"), "{reason}");
}

#[test]
fn a_front_wheel_that_stands_while_the_bike_moves_is_doubted_and_left_out() {
    let plan = Plan { duration_s: 40.0, ..Plan::LOCKING };
    let healthy = rear_episodes(&run(plan).ride);
    let Run { ride, .. } = run_changed(plan, |row| {
        row.pop();
        row.push("17");
    });
    let flags = &ride.readout.channels[11].flags;
    assert!(matches!(flags[..], [Doubt::Standing { for_s }] if for_s > 30.0), "{flags:?}");
    assert_eq!(ride.speed_source, Ok(SpeedSource::RearWheel));
    let suspected = rear_episodes(&ride);
    assert!(!suspected.is_empty() && suspected.iter().all(|episode| episode.suspected));
    assert!(suspected.len() <= healthy.len());
}

#[test]
fn wheels_that_disagree_are_doubted_and_measure_no_slip() {
    let plan = Plan { duration_s: 40.0, ..Plan::LOCKING };
    // A magnet is missing: three of four pulses.
    let Run { ride, .. } = run_pulses(plan, [24.0, 32.0]);
    for channel in [4, 11] {
        let flags = &ride.readout.channels[channel].flags;
        assert!(matches!(flags[..], [Doubt::SpeedsDisagree { .. }]), "{flags:?}");
    }
    let reason = ride.readout.sections[0].rear_wheel.lockups.get().unwrap_err().0;
    assert!(reason.contains("check circumferences"), "{reason}");
}
