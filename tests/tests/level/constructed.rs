//! Known answers, and what must hold of any ride.

use std::f64::consts::{PI, TAU};

use evenkeel_core::{Bike, SectionReadout};

use crate::{Ground, Logged, Moment, PLAIN, close};

/// Speed swings between 6 and 10 m/s, and the distance that it adds up to.
fn pace(t: f64) -> (f64, f64) {
    (8.0 + 2.0 * (0.4 * t).sin(), 8.0 * t + 5.0 * (1.0 - (0.4 * t).cos()))
}

/// Both ends follow the ground, the rear one wheelbase behind and `gain` as far.
fn over(ground: &Ground, gain: f64, t: f64) -> Moment {
    let (speed_mps, distance_m) = pace(t);
    Moment {
        front_m: 0.08 + ground.at(distance_m + Bike::default().wheelbase_m),
        rear_m: 0.08 + gain * ground.at(distance_m),
        speed_mps,
        ..Moment::default()
    }
}

/// From the definition: the same motion has no difference, the opposite no sum.
#[test]
fn evenness_of_the_same_and_of_opposite_motion() {
    let ground = Ground::new(0.012, [0.08, 0.8], 7);
    for (gain, share) in [(1.0, 0.0), (-1.0, 1.0), (0.5, 0.1)] {
        // (1 - g)^2 / ((1 - g)^2 + (1 + g)^2)
        let run = PLAIN.run(|t| over(&ground, gain, t));
        close(*run.level.evenness.evenness_share.get().unwrap(), share, 0.003);
        close(*run.level.evenness.evenness_gain.get().unwrap(), gain.abs(), 0.01);
    }
}

#[test]
fn evenness_of_unrelated_ends_is_a_half() {
    let grounds = [1, 2].map(|seed| Ground::new(0.012, [0.08, 0.8], seed));
    let logged = Logged { duration_s: 300.0, rate_hz: 100.0, ..PLAIN };
    let run = logged.run(|t| Moment { rear_m: 0.08 + grounds[1].at(pace(t).1), ..over(&grounds[0], 1.0, t) });
    close(*run.level.evenness.evenness_share.get().unwrap(), 0.5, 0.03);
    close(*run.level.evenness.evenness_gain.get().unwrap(), 1.0, 0.06);
}

#[test]
fn evenness_needs_speed_and_both_ends_and_time() {
    let ground = Ground::new(0.012, [0.08, 0.8], 7);
    let reason = |logged: Logged<'_>, speed_share: f64| {
        let run = logged.run(|t| {
            let now = over(&ground, 1.0, t);
            Moment { speed_mps: speed_share * now.speed_mps, ..now }
        });
        run.level.evenness.evenness_share.get().unwrap_err().0
    };
    assert!(reason(Logged { without: &["speed"], ..PLAIN }, 1.0).contains("speed"));
    assert!(reason(Logged { without: &["rear travel"], ..PLAIN }, 1.0).contains("rear axle travel"));
    assert!(reason(Logged { rate_hz: 25.0, ..PLAIN }, 1.0).contains("25 Hz"));
    assert!(reason(Logged { duration_s: 4.0, ..PLAIN }, 1.0).contains("5 s"));
    // 1.2 m/s: rolling, but too slow to tell when the rear gets there.
    assert!(reason(PLAIN, 0.12).contains("2 m/s"));
}

/// One bump a second: half a sine of 0.2 s.
fn bump(t: f64) -> f64 {
    let phase = t.rem_euclid(1.0);
    if phase < 0.2 { (PI * phase / 0.2).sin() } else { 0.0 }
}

const BUMP_MPS: f64 = 8.0;

/// A bump a second, the k-th of `front_m(k)` at the front and `rear_m(k)` at the rear, `lag` wheelbases later.
fn bumps(t: f64, lag: f64, front_m: impl Fn(i32) -> f64, rear_m: impl Fn(i32) -> f64) -> Moment {
    let later_s = t - lag * Bike::default().wheelbase_m / BUMP_MPS;
    Moment {
        front_m: 0.03 + front_m(t.floor() as i32) * bump(t),
        rear_m: 0.03 + rear_m(later_s.floor() as i32) * bump(later_s),
        speed_mps: BUMP_MPS,
        ..Moment::default()
    }
}

/// 50 mm at the front (vertical), at the rear 0.8, 0.9 ... of it.
const RATIOS: [f64; 5] = [0.8, 0.9, 1.0, 1.1, 1.3];

fn uneven(t: f64) -> Moment {
    bumps(t, 1.0, |_| 0.05, |k| 0.05 * RATIOS[k.rem_euclid(5) as usize])
}

/// From the definition.
#[test]
fn hit_pairs_have_the_ratios_they_were_made_with() {
    let run = PLAIN.run(uneven);
    let found = &run.level.hit_pairs;
    let pairs = found.hit_pairs.get().unwrap();
    assert_eq!((pairs.len(), found.hit_ratio.n()), (60, Some(60)));
    for pair in pairs {
        let made = RATIOS[(pair.front_s + 0.5).floor() as usize % 5];
        close(pair.ratio, made, 0.002);
        close(pair.difference_m, 0.05 * (made - 1.0), 1e-4);
        // The fork goes further than its wheel rises, and both have 200 mm.
        close(pair.front_stroke_m, 0.05 / Bike::default().head_angle_rad.sin(), 1e-4);
        close(pair.difference_share, (pair.rear_stroke_m - pair.front_stroke_m) / 0.2, 1e-6);
        close(pair.rear_s - pair.front_s, 1.25 / BUMP_MPS, 0.005);
    }
    close(*found.hit_ratio.get().unwrap(), 1.0, 0.002);
    let [low, high] = *found.hit_ratio_quartiles.get().unwrap();
    close(low, 0.9, 0.002);
    close(high, 1.1, 0.002);
    close(*found.hit_difference_m.get().unwrap(), 0.0, 1e-4);
}

/// Common practice: 150 mm at the front and 200 mm at the rear on one big bump is an imbalance. One pair is
/// too few to judge the bike by, and still there to be pointed at.
#[test]
fn one_big_bump_is_a_pair_of_its_own() {
    let sin = Bike::default().head_angle_rad.sin();
    let big = |k: i32, stroke_m: f64| if k == 5 { stroke_m } else { 0.0 };
    let logged = Logged { duration_s: 12.0, ..PLAIN };
    let run = logged.run(|t| {
        let now = bumps(t, 1.0, |k| big(k, 0.150 * sin), |k| big(k, 0.170));
        Moment { front_m: now.front_m - 0.02, rear_m: now.rear_m - 0.02, ..now }
    });
    let found = &run.level.hit_pairs;
    assert!(found.hit_ratio.get().unwrap_err().0.starts_with("1 bump"));
    let [pair] = found.hit_pairs.get().unwrap()[..] else { panic!("{found:?}") };
    close(pair.ratio, 0.170 / (0.150 * sin), 0.002);
    close(pair.difference_share, 0.1, 0.001);
    close(pair.front_s, 5.0, 0.03);
}

/// From the definition: 0.65..1.35 of the wheelbase's lag, and 30 mm at the front.
#[test]
fn what_comes_too_early_or_late_or_is_small_is_no_pair() {
    let count = |lag: f64, front_m: f64| {
        let run = PLAIN.run(|t| bumps(t, lag, |_| front_m, |_| 0.05));
        run.level.hit_pairs.hit_pairs.get().unwrap().len()
    };
    assert_eq!(count(1.3, 0.05), 60);
    assert_eq!(count(0.7, 0.05), 60);
    assert_eq!(count(1.4, 0.05), 0);
    assert_eq!(count(0.6, 0.05), 0);
    // 26 mm up are 29.2 mm along the fork.
    assert_eq!(count(1.0, 0.026), 0);
}

#[test]
fn without_speed_the_delay_at_which_the_ends_are_alike_pairs_them() {
    let with = PLAIN.run(uneven).level.hit_pairs.hit_pairs.get().unwrap().clone();
    let run = Logged { without: &["speed"], ..PLAIN }.run(uneven);
    let pairs = run.level.hit_pairs.hit_pairs.get().unwrap();
    // The last pieces of 8 s have no whole successor to look in.
    assert!(pairs.len() >= 50, "{}", pairs.len());
    for pair in pairs {
        assert!(with.contains(pair));
    }
    // Two ends that have nothing to do with each other tell no delay.
    let grounds = [1, 2].map(|seed| Ground::new(0.02, [0.1, 1.0], seed));
    let run = Logged { without: &["speed"], ..PLAIN }.run(|t| {
        let distance_m = 8.0 * t;
        Moment {
            front_m: 0.08 + grounds[0].at(distance_m),
            rear_m: 0.08 + grounds[1].at(distance_m),
            ..Moment::default()
        }
    });
    assert!(run.level.hit_pairs.hit_ratio.get().unwrap_err().0.contains("delay"));
}

/// From the definition: 3 mm, 40 ms, alone or together.
#[test]
fn moments_without_load_are_counted_and_told_apart() {
    let extended = |t: f64, from: f64, length: f64| (from..from + length).contains(&t.rem_euclid(10.0));
    let run = PLAIN.run(|t| {
        let front = extended(t, 1.0, 0.05) || extended(t, 2.0, 0.03) || extended(t, 4.0, 0.3);
        let rear = extended(t, 4.05, 0.2) || extended(t, 6.0, 0.06);
        let travel = |extended: bool| if extended { 0.001 } else { 0.05 + 0.01 * (5.0 * t).sin() };
        Moment { front_m: travel(front), rear_m: travel(rear), speed_mps: 8.0, ..Moment::default() }
    });
    let [front, rear] = [&run.front.contact, &run.rear.contact];
    assert_eq!((front.unweighted.get(), front.skitter.get()), (Ok(&12), Ok(&6)));
    assert_eq!((rear.unweighted.get(), rear.skitter.get()), (Ok(&12), Ok(&6)));
    close(*front.unweighted_s.get().unwrap(), 6.0 * 0.35, 0.05);
    close(*front.unweighted_longest_s.get().unwrap(), 0.3, 0.005);
    close(*front.skitter_s.get().unwrap(), 6.0 * 0.05, 0.03);
    close(*rear.skitter_longest_s.get().unwrap(), 0.06, 0.005);

    let slow = Logged { rate_hz: 25.0, ..PLAIN }.run(|t| pace_only(t, 0.05));
    assert!(slow.front.contact.unweighted_s.get().unwrap_err().0.contains("50 Hz"));
}

fn pace_only(t: f64, travel_m: f64) -> Moment {
    let travel = travel_m + 0.01 * (5.0 * t).sin();
    Moment { front_m: travel, rear_m: travel, speed_mps: 8.0, ..Moment::default() }
}

/// Weaving with up to 23 deg of lean; what shakes does so by 2 m/s^2 on the left and 5 on the right, at 12 Hz,
/// and by 50 far over.
fn weaving(t: f64) -> Moment {
    let (size, pace) = (0.4, 0.35);
    let roll_rad = size * (pace * t).sin();
    let shake = match roll_rad {
        lean if lean.abs() > 17_f64.to_radians() => 50.0,
        lean if lean < 0.0 => 2.0,
        _ => 5.0,
    };
    Moment {
        aside_mps2: shake * (TAU * 12.0 * t).sin(),
        roll_rad,
        roll_radps: size * pace * (pace * t).cos(),
        ..pace_only(t, 0.06)
    }
}

/// RMS of a sine is its amplitude over root two.
#[test]
fn shake_is_told_for_each_side_and_not_far_over() {
    let run = PLAIN.run(weaving);
    let side = |amplitude: f64| amplitude / 2_f64.sqrt();
    let lateral = &run.lateral;
    close(*lateral.shake_left_rms_mps2.get().unwrap(), side(2.0), 0.1);
    close(*lateral.shake_right_rms_mps2.get().unwrap(), side(5.0), 0.1);
    assert!(*lateral.shake_rms_p95_mps2.get().unwrap() < side(10.0));
    let reason = |logged: Logged<'_>| logged.run(weaving).lateral.shake_rms_mps2.get().unwrap_err().0;
    assert!(reason(Logged { rate_hz: 80.0, ..PLAIN }).contains("100 Hz"));
    assert!(reason(Logged { without: &["acc"], ..PLAIN }).contains("frame acceleration y"));
    assert!(reason(Logged { without: &["gyro"], ..PLAIN }).contains("lean"));
}

/// RMS of a sine, and of the derivative of one.
#[test]
fn harshness_is_what_the_frame_feels_for_what_the_axle_does() {
    let run = PLAIN.run(|t| Moment {
        front_m: 0.06 + 0.010 * (TAU * 3.0 * t).sin(),
        rear_m: 0.06 + 0.020 * (TAU * 3.0 * t).sin(),
        speed_mps: 8.0,
        up_mps2: 4.0 * (TAU * 11.0 * t).sin() + 9.0 * (TAU * 60.0 * t).sin(),
        ..Moment::default()
    });
    let front_mps = 0.010 / Bike::default().head_angle_rad.sin() * TAU * 3.0;
    close(*run.front.harshness_per_s.get().unwrap(), 4.0 / front_mps, 0.2);
    close(*run.rear.harshness_per_s.get().unwrap(), 4.0 / (0.020 * TAU * 3.0), 0.1);
}

/// A pitch rate of 0.6 rad/s peak at 2 Hz that is nose down after each rear hit, or nose up.
#[test]
fn a_kick_is_nose_down_after_the_rear_comes_back() {
    let kick = |sign: f64| {
        let run = PLAIN.run(|t| {
            // The rear is deepest 0.25625 s into each second.
            let since_s = t - 0.256_25;
            let pitch_radps = sign * 0.6 * (TAU * 2.0 * since_s).sin();
            Moment { pitch_radps, ..bumps(t, 1.0, |_| 0.05, |_| 0.05) }
        });
        [run.level.kick_p50_radps, run.level.kick_p95_radps].map(|kick| *kick.get().unwrap())
    };
    // Down first: the peak is an eighth of a second after it starts back. Up first: what is left after 0.3 s is
    // 0.6 sin(2 pi 2 0.3 - pi).
    for (sign, peak) in [(1.0, 0.6), (-1.0, 0.6 * (TAU * 0.6 - PI).sin())] {
        let [median, p95] = kick(sign);
        close(median, peak, 0.03);
        close(p95, peak, 0.05);
    }
}

/// From the balance of a turn: yaw rate = g tan(lean) / v; over 15 deg/s while |lean| > 0.2105 rad.
#[test]
fn corners_begin_peak_and_end_where_the_turn_does() {
    let brake = |t: f64| Moment { front_brake_bar: if t % 20.0 < 10.0 { 8.0 } else { 0.0 }, ..weaving(t) };
    let run = PLAIN.run(brake);
    let corners = run.attitude.corners.get().unwrap();
    let zero_to_corner_s = (0.2105_f64 / 0.4).asin() / 0.35;
    let half_s = PI / 0.35;
    // The seventh is cut short by the log's end.
    assert_eq!(corners.len(), 7);
    for (k, corner) in corners.iter().take(6).enumerate() {
        let zero_s = k as f64 * half_s;
        let right = if k % 2 == 0 { 1.0 } else { -1.0 };
        close(corner.start_s, zero_s + zero_to_corner_s, 0.1);
        close(corner.apex_s, zero_s + half_s / 2.0, 0.5);
        close(corner.end_s, zero_s + half_s - zero_to_corner_s, 0.1);
        close(corner.lean_max_rad, right * 0.4, 0.02);
        // The integral of g tan(0.4 sin(0.35 t)) / v over the corner, by Simpson's rule.
        let n = 200;
        let step = (half_s - 2.0 * zero_to_corner_s) / f64::from(n);
        let weight = |i: i32| if i == 0 || i == n { 1.0 } else { 2.0 + 2.0 * f64::from(i % 2) };
        let rate = |i: i32| {
            let lean = 0.4 * (0.35 * (zero_to_corner_s + f64::from(i) * step)).sin();
            9.806_65 * lean.tan() / 8.0
        };
        let turn = (0..=n).map(|i| weight(i) * rate(i)).sum::<f64>() * step / 3.0;
        close(corner.turn_rad, -right * turn, 0.05);
        for speed in [&corner.entry_speed_mps, &corner.apex_speed_mps, &corner.exit_speed_mps] {
            close(*speed.get().unwrap(), 8.0, 0.01);
        }
        close(*corner.rear.travel_m.get().unwrap(), 0.06, 0.002);
        close(*corner.rear.travel_share.get().unwrap(), 0.30, 0.01);
        let on = |t: f64| (t / 20.0).floor() * 10.0 + (t % 20.0).min(10.0);
        let braked_s = on(corner.end_s) - on(corner.start_s);
        let share = braked_s / (corner.end_s - corner.start_s);
        close(*corner.front.brake_on_share.get().unwrap(), share, 0.005);
        close(*corner.front.brake_pa.get().unwrap(), 8e5 * share, 5e3);
        // Eight bar is no light braking.
        assert_eq!(corner.front.drag_s.get(), Ok(&0.0));
        assert!(corner.rear.brake_pa.get().is_err() && corner.rear.drag_s.get().is_err());
    }
}

/// What of a read-out a change of the log may not change, with the tolerance that sampling asks for.
fn numbers(run: &SectionReadout) -> Vec<(&'static str, f64, f64)> {
    let of = |name, value: &evenkeel_core::Measured, tolerance| (name, *value.get().unwrap(), tolerance);
    vec![
        of("evenness share", &run.level.evenness.evenness_share, 2e-3),
        // Filters reflect the log's ends by a number of samples, which is half as long at twice the rate.
        of("evenness gain", &run.level.evenness.evenness_gain, 5e-3),
        of("hit ratio", &run.level.hit_pairs.hit_ratio, 3e-3),
        of("kick", &run.level.kick_p50_radps, 0.02),
        of("harshness", &run.front.harshness_per_s, 0.3),
        of("shake", &run.lateral.shake_rms_mps2, 0.1),
        of("shake p95", &run.lateral.shake_rms_p95_mps2, 0.1),
        of("unweighted", &run.front.contact.unweighted_s, 0.05),
    ]
}

/// A bit of everything.
fn busy(t: f64) -> Moment {
    let now = bumps(t, 1.0, |_| 0.05, |k| 0.05 * RATIOS[k.rem_euclid(5) as usize]);
    let light = (5.5..5.6).contains(&(t % 10.0));
    let pitch_radps = 0.3 * (TAU * 1.7 * t).sin();
    let up_mps2 = 3.0 * (TAU * 9.0 * t).sin();
    Moment {
        front_m: if light { 0.001 } else { now.front_m },
        rear_m: now.rear_m,
        pitch_radps,
        up_mps2,
        ..weaving(t)
    }
}

#[test]
fn a_mirrored_bike_swaps_left_and_right_and_nothing_else() {
    let [plain, mirrored] = [1.0, -1.0].map(|mirror| Logged { mirror, ..PLAIN }.run(busy));
    for ((name, a, _), (_, b, _)) in numbers(&plain).into_iter().zip(numbers(&mirrored)) {
        assert!((a - b).abs() < 1e-6 * (1.0 + a.abs()), "{name}: {a} {b}");
    }
    let sides = |run: &SectionReadout| {
        [&run.lateral.shake_left_rms_mps2, &run.lateral.shake_right_rms_mps2].map(|side| *side.get().unwrap())
    };
    let ([left, right], [left_now, right_now]) = (sides(&plain), sides(&mirrored));
    close(left, right_now, 1e-4);
    close(right, left_now, 1e-4);
    let corners = |run: &SectionReadout| run.attitude.corners.get().unwrap().clone();
    for (a, b) in corners(&plain).into_iter().zip(corners(&mirrored)) {
        close(a.lean_max_rad, -b.lean_max_rad, 1e-4);
        close(a.turn_rad, -b.turn_rad, 1e-4);
        close(a.start_s, b.start_s, 0.005);
        assert_eq!(a.front, b.front);
    }
}

#[test]
fn a_later_clock_changes_times_and_nothing_else() {
    let [plain, later] = [0.0, 4096.0].map(|start_s| Logged { start_s, ..PLAIN }.run(busy));
    for ((name, a, tolerance), (_, b, _)) in numbers(&plain).into_iter().zip(numbers(&later)) {
        assert!((a - b).abs() < 0.01 * tolerance, "{name}: {a} {b}");
    }
    let pairs = |run: &SectionReadout| run.level.hit_pairs.hit_pairs.get().unwrap().clone();
    assert_eq!(pairs(&plain).len(), pairs(&later).len());
    for (a, b) in pairs(&plain).into_iter().zip(pairs(&later)) {
        close(a.front_s + 4096.0, b.front_s, 1e-3);
    }
}

#[test]
fn twice_the_rate_gives_the_same_numbers() {
    let [plain, fast] = [250.0, 500.0].map(|rate_hz| Logged { rate_hz, ..PLAIN }.run(busy));
    for ((name, a, tolerance), (_, b, _)) in numbers(&plain).into_iter().zip(numbers(&fast)) {
        assert!((a - b).abs() < tolerance, "{name}: {a} {b}");
    }
    for (a, b) in plain.attitude.corners.get().unwrap().iter().zip(fast.attitude.corners.get().unwrap()) {
        close(a.start_s, b.start_s, 0.01);
        close(a.lean_max_rad, b.lean_max_rad, 0.005);
    }
}

/// Run backwards, the rear wheel is the front one: every pair has its ratio turned over.
#[test]
fn swapped_ends_turn_the_ratio_over() {
    let ground = Ground::new(0.02, [0.08, 0.6], 3);
    let ride = |t: f64| {
        let distance_m = 8.0 * t;
        let rear = ground.at(distance_m);
        Moment {
            front_m: 0.1 + ground.at(distance_m + 1.25),
            rear_m: 0.1 + 0.8 * rear,
            speed_mps: 8.0,
            ..Moment::default()
        }
    };
    let plain = PLAIN.run(ride);
    let swapped = PLAIN.run(|t| {
        let now = ride(PLAIN.duration_s - t);
        Moment { front_m: now.rear_m, rear_m: now.front_m, ..now }
    });
    let gain = |run: &SectionReadout| *run.level.evenness.evenness_gain.get().unwrap();
    let share = |run: &SectionReadout| *run.level.evenness.evenness_share.get().unwrap();
    close(gain(&plain) * gain(&swapped), 1.0, 0.01);
    close(share(&plain), share(&swapped), 1e-3);
    let ratio = |run: &SectionReadout| *run.level.hit_pairs.hit_ratio.get().unwrap();
    close(ratio(&plain), 0.8, 0.005);
    close(ratio(&plain) * ratio(&swapped), 1.0, 0.01);
}
