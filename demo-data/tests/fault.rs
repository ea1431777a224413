//! Each fault does what it says, no more, and a healthy run has none of it. Source of every figure: the size stated
//! at the fault, looked for in the truth of the simulated bike or in the text of its loggers.

use std::collections::HashSet;
use std::sync::OnceLock;

use evenkeel_demo_data::bike::{Bike, End, Setup};
use evenkeel_demo_data::fault::{Fault, Kind, Severity, no_brake_stretches};
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::ride::{Run, START_S};
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::sensor::Clock;
use evenkeel_demo_data::track::{RoughnessClass, Section, Track};
use evenkeel_demo_data::truth::Truth;

const CLOCK: Clock = Clock { offset_s: 0.0, drift_ppm: 0.0 };
const BAR: f32 = 1e5;

/// Start straight, roots and two jumps of the demo track: 730 m.
fn short_track() -> Track {
    let demo = Track::harrowdean_bank();
    let (start_m, end_m) = (480.0, 730.0);
    let back_m = 1080.0 - start_m;
    let mut sections = demo.sections[..2].to_vec();
    sections.push(Section { start_m, end_m, ..demo.sections[4] });
    assert_eq!((sections[2].name, sections[2].class), ("Two jumps", RoughnessClass::C));
    let jumps = demo.jumps.iter().map(|jump| jump.moved(-back_m)).collect();
    Track::new(sections, demo.corners[..5].to_vec(), jumps, demo.drops[..1].to_vec())
}

struct Logged {
    run: Run,
    suspension: SuspensionLogger,
    motion: MotionLogger,
}

fn healthy() -> Logged {
    let mut run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8);
    run.track = short_track();
    Logged { run, suspension: SuspensionLogger::new(CLOCK), motion: MotionLogger::new(CLOCK) }
}

fn with(fault: Fault) -> Logged {
    let mut logged = healthy();
    fault.apply(&mut logged.run, &mut logged.suspension, &mut logged.motion);
    logged
}

fn clear(kind: Kind, end: End) -> Logged {
    with(Fault { kind, end: Some(end), severity: Severity::Clear })
}

fn light(kind: Kind, end: End) -> Logged {
    with(Fault { kind, end: Some(end), severity: Severity::Light })
}

fn healthy_truth() -> &'static Truth {
    static TRUTH: OnceLock<Truth> = OnceLock::new();
    TRUTH.get_or_init(|| healthy().run.ride())
}

fn pressure(truth: &Truth, end: End) -> &[f32] {
    if end == End::Front { &truth.front_brake_pa } else { &truth.rear_brake_pa }
}

fn travel(truth: &Truth, end: End) -> &[f32] {
    if end == End::Front { &truth.front_travel_m } else { &truth.rear_travel_m }
}

/// Numbers of one column; empty cells are left out.
fn column(text: &str, separator: char, column: usize) -> Vec<f64> {
    text.lines()
        .skip(1)
        .filter_map(|line| line.split(separator).nth(column)?.replace(',', ".").parse().ok())
        .collect()
}

/// The suspension log's column of an end in mm, and the truth beside it.
fn travel_column(logged: &Logged, end: End) -> Vec<(f64, f64)> {
    let mut logger = logged.suspension.clone();
    logger.losses = 0;
    let truth = healthy_truth();
    let series = if end == End::Front { &truth.front_travel_m } else { &truth.shock_stroke_m };
    column(&logger.text(truth, 3), ',', 1 + end as usize)
        .into_iter()
        .enumerate()
        .map(|(row, mm)| (mm, 1000.0 * f64::from(series[row * 4])))
        .collect()
}

/// Lengths in seconds of stretches where something holds, in a series of 1000 samples a second.
fn stretches_s(holds: impl Iterator<Item = bool>) -> Vec<f64> {
    let mut lengths = vec![0.0];
    for holds in holds {
        match lengths.last_mut() {
            Some(last) if holds => *last += 1e-3,
            Some(last) if *last > 0.0 => lengths.push(0.0),
            _ => {}
        }
    }
    lengths.retain(|length| *length > 0.0);
    lengths
}

fn share(values: impl ExactSizeIterator<Item = bool>) -> f64 {
    let count = values.len() as f64;
    values.filter(|holds| *holds).count() as f64 / count
}

fn sd(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / values.len() as f64).sqrt()
}

#[test]
fn every_fault_is_listed_once_named_and_changes_something_the_same_way_each_time() {
    let print = |logged: &Logged| format!("{:?} {:?} {:?}", logged.run, logged.suspension, logged.motion);
    let mut seen = HashSet::from([print(&healthy())]);
    for fault in Fault::all() {
        let changed = print(&with(fault));
        assert_eq!(changed, print(&with(fault)), "{fault:?}");
        assert!(seen.insert(changed), "{fault:?} changes nothing, or what another one does");
        assert!(!fault.kind.finding().is_empty());
    }
    let listed: HashSet<Kind> = Fault::all().map(|fault| fault.kind).collect();
    assert_eq!(listed.len(), Kind::ALL.len());
    // Twelve kinds at either end, three without a choice; four of these 27 have no light form.
    let of = |severity| Fault::all().filter(|fault| fault.severity == severity).count();
    assert_eq!((of(Severity::Clear), of(Severity::Light)), (27, 23));
}

/// The seed decides where.
#[test]
fn another_seed_puts_it_elsewhere() {
    let at = |seed| {
        let mut logged = healthy();
        logged.run.seed = seed;
        Fault { kind: Kind::RearLocks, end: Some(End::Rear), severity: Severity::Clear }.apply(
            &mut logged.run,
            &mut logged.suspension,
            &mut logged.motion,
        );
        logged.run.rear_stabs
    };
    assert_eq!(at(1), at(1));
    assert_ne!(at(1), at(2));
}

#[test]
fn rebound_damping_is_halved_or_doubled_at_one_end() {
    let before = healthy().run.bike;
    let force_n = |bike: &Bike, end, speed_mps| match end {
        End::Front => bike.fork.damper.force_n(speed_mps),
        End::Rear => bike.shock.damper.force_n(speed_mps),
    };
    for (kind, factor) in [(Kind::ReboundTooFast, 0.5_f64), (Kind::ReboundTooSlow, 2.0)] {
        for (end, other) in [(End::Front, End::Rear), (End::Rear, End::Front)] {
            for (logged, factor) in [(clear(kind, end), factor), (light(kind, end), factor.cbrt())] {
                for speed_mps in [-2.0, -0.3, -0.02] {
                    let ratio = force_n(&logged.run.bike, end, speed_mps) / force_n(&before, end, speed_mps);
                    assert!((ratio - factor).abs() < 1e-9, "{kind:?} {end:?} {ratio}");
                }
                assert_eq!(force_n(&logged.run.bike, end, 0.4), force_n(&before, end, 0.4));
                assert_eq!(force_n(&logged.run.bike, other, -0.4), force_n(&before, other, -0.4));
            }
        }
    }
}

/// And the axle does come back faster, or slower.
#[test]
fn rebound_shows_in_the_speed_of_that_axle() {
    let fastest = |truth: &Truth, end: End| {
        let speeds = if end == End::Front { &truth.front_speed_mps } else { &truth.rear_speed_mps };
        let mut rebound: Vec<f32> = speeds[30_000..60_000].iter().copied().filter(|v| *v < -0.02).collect();
        rebound.sort_by(f32::total_cmp);
        f64::from(-rebound[rebound.len() / 20])
    };
    for end in End::BOTH {
        let [fast, slow] = [Kind::ReboundTooFast, Kind::ReboundTooSlow].map(|kind| {
            let mut run = clear(kind, end).run;
            run.until_s = 61.0;
            fastest(&run.ride(), end)
        });
        let usual = fastest(healthy_truth(), end);
        println!("{end:?}: p95 of rebound speed {fast:.2}, {usual:.2}, {slow:.2} m/s");
        assert!(fast > 1.15 * usual && slow < 0.85 * usual, "{end:?}: {fast} {usual} {slow}");
    }
}

/// Force on equal travel falls by the share, so the end sinks until the spring carries the same load again.
#[test]
fn a_soft_spring_has_a_fifth_less_force_and_more_sag() {
    let before = healthy().run.bike;
    let spring = |bike: &Bike, end| if end == End::Front { bike.fork.spring } else { bike.shock.spring };
    for end in End::BOTH {
        for (mut logged, share) in
            [(clear(Kind::SpringTooSoft, end), 0.20), (light(Kind::SpringTooSoft, end), 0.20 / 3.0)]
        {
            let bike = logged.run.bike;
            for compression_m in [0.01, 0.04, 0.07] {
                let kept =
                    spring(&bike, end).force_n(compression_m) / spring(&before, end).force_n(compression_m);
                assert!((kept - (1.0 - share)).abs() < 1e-9, "{kept}");
            }
            logged.run.until_s = 5.0;
            let truth = logged.run.ride();
            let at = |truth: &Truth| f64::from(travel(truth, end)[5000]);
            let (sunk, usual) = (at(&truth), at(healthy_truth()));
            assert!(sunk > usual + 0.02 * share, "{end:?}: {sunk} {usual}");
            // Statics: what it carries now is what it carried before (elastic force, stops and all).
            let elastic_n = |bike: &Bike, travel_m| match end {
                End::Front => bike.fork.elastic_force_n(travel_m),
                End::Rear => bike.rear_elastic_n(travel_m),
            };
            let (now_n, then_n) = (elastic_n(&bike, sunk), elastic_n(&before, usual));
            assert!((now_n / then_n - 1.0).abs() < 0.02, "{end:?}: {now_n} N, {then_n} N");
        }
    }
}

/// At the finish 15 % are gone, and the bike stands deeper by what the spring has lost.
#[test]
fn air_leaks_evenly_until_the_finish() {
    for end in End::BOTH {
        let mut logged = clear(Kind::AirLoss, end);
        let per_s = logged.run.spring_loss_per_s;
        assert_eq!(per_s[1 - end as usize], 0.0);
        let a_third = light(Kind::AirLoss, end).run.spring_loss_per_s[end as usize];
        assert!((3.0 * a_third / per_s[end as usize] - 1.0).abs() < 1e-12);

        let truth = logged.run.ride();
        let finish_s = truth.time_at_distance_s(logged.run.track.finish_m).unwrap();
        let lost = per_s[end as usize] * (finish_s - START_S);
        println!("{end:?}: {:.1} % lost at the finish", 100.0 * lost);
        assert!((lost - 0.15).abs() < 0.01, "{lost}");

        let gate_m = f64::from(travel(&truth, end)[5000]);
        let after_m = f64::from(*travel(&truth, end).last().unwrap());
        let unit = if end == End::Front { logged.run.bike.fork } else { logged.run.bike.shock };
        let linkage = logged.run.bike.linkage;
        let force_n = |travel_m: f64| match end {
            End::Front => unit.spring.force_n(travel_m),
            End::Rear => unit.spring.force_n(linkage.stroke_m(travel_m)) / linkage.ratio(travel_m),
        };
        let left = 1.0 - per_s[end as usize] * (truth.duration_s() - START_S);
        let carried = left * force_n(after_m) / force_n(gate_m);
        assert!((carried - 1.0).abs() < 0.03, "{end:?}: {carried} of the load, {gate_m} m to {after_m} m");
        assert!(after_m > gate_m + 0.003);
        logged.run.spring_loss_per_s = [0.0; 2];
        assert_eq!(format!("{:?}", logged.run), format!("{:?}", healthy().run));
    }
}

/// Over the threshold of braking (1 bar) and not beyond 3 bar for seconds, at several places.
fn dragged_s(truth: &Truth, end: End) -> Vec<f64> {
    stretches_s(pressure(truth, end).iter().map(|pa| (1.0 * BAR..3.01 * BAR).contains(pa)))
        .into_iter()
        .filter(|length_s| *length_s > 1.0)
        .collect()
}

#[test]
fn a_dragged_brake_is_held_at_three_bar_for_seconds() {
    for (end, other) in [(End::Front, End::Rear), (End::Rear, End::Front)] {
        let truth = clear(Kind::Drag, end).run.ride();
        let (dragged, beside) = (dragged_s(&truth, end), dragged_s(&truth, other));
        println!("{end:?}: {dragged:?} s");
        assert!(dragged.len() >= 5 && dragged.iter().sum::<f64>() > 10.0, "{dragged:?}");
        assert!(beside.is_empty(), "{beside:?}");
        let (whole, third) = (clear(Kind::Drag, end).run, light(Kind::Drag, end).run);
        for (whole, third) in whole.front_stabs.iter().zip(&third.front_stabs) {
            assert!((3.0 * third.pressure_bar - whole.pressure_bar).abs() < 1e-9);
            assert_eq!((third.at_m, third.length_s), (whole.at_m, whole.length_s));
        }
    }
}

/// Pressure while no lever is pulled: none at the gate, then 0.3 bar and blips on it.
#[test]
fn residual_pressure_stays_when_the_lever_is_free() {
    for end in End::BOTH {
        let truth = clear(Kind::Residual, end).run.ride();
        // Away from every pull by at least 0.3 s.
        let free: Vec<f64> = pressure(&truth, end)[25_000..65_000]
            .windows(601)
            .filter(|window| window.iter().all(|pa| *pa < 0.7 * BAR))
            .map(|window| f64::from(window[300] / BAR))
            .collect();
        let mut sorted = free.clone();
        sorted.sort_by(f64::total_cmp);
        // The frame's flex makes a little of its own.
        assert!(pressure(&truth, end)[..10_000].iter().copied().fold(0.0, f32::max) < 0.02 * BAR);
        assert!((sorted[0] - 0.3).abs() < 1e-2 && (sorted[sorted.len() / 2] - 0.3).abs() < 2e-2);
        let most = sorted[sorted.len() - 1];
        let blips = stretches_s(free.iter().map(|bar| *bar > 0.4)).len();
        println!("{end:?}: {blips} blips in {:.0} s, {most:.2} bar", 1e-3 * free.len() as f64);
        assert!((8..=30).contains(&blips), "{blips} in about 30 s at 25 a minute");
        let (whole, third) = (clear(Kind::Residual, end).run, light(Kind::Residual, end).run);
        let (whole, third) = (whole.residual[end as usize], third.residual[end as usize]);
        assert!((3.0 * third.constant_bar - whole.constant_bar).abs() < 1e-12);
        assert!((3.0 * third.blip_bar - whole.blip_bar).abs() < 1e-12);
        assert_eq!(third.blips_per_min, whole.blips_per_min);
    }
}

/// A grab that asks for far more than the tyre holds, five times, for over 0.2 s beyond its build-up.
#[test]
fn five_times_the_rear_lever_is_grabbed() {
    let logged = clear(Kind::RearLocks, End::Rear);
    let truth = logged.run.ride();
    let grabbed: Vec<f64> = stretches_s(truth.rear_brake_pa.iter().map(|pa| *pa > 30.0 * BAR));
    assert_eq!(grabbed.len(), 5);
    assert!(grabbed.iter().all(|length_s| (0.25..0.40).contains(length_s)), "{grabbed:?}");
    assert!(truth.front_brake_pa.iter().all(|pa| *pa < 30.0 * BAR));
    // Where a bump presses harder than the brake holds, the wheel turns for a moment in between.
    let locked = truth.lockups(End::Rear, 0.02);
    for stab in &logged.run.rear_stabs {
        let at_s = truth.time_at_distance_s(stab.at_m).unwrap();
        let here = locked.iter().filter(|(start_s, _)| (at_s..at_s + 0.6).contains(start_s));
        let locked_s: f64 = here.map(|(start_s, end_s)| end_s - start_s).sum();
        println!("at {:.0} m locked for {locked_s:.3} s", stab.at_m);
        assert!(locked_s > 0.2, "{locked_s} s at {} m", stab.at_m);
    }
    assert!(truth.lockups(End::Front, 0.06).is_empty());
    // Beyond the time until pressure is there, a third.
    let lengths = |run: &Run| run.rear_stabs[0].length_s;
    let (whole, third) = (lengths(&logged.run), lengths(&light(Kind::RearLocks, End::Rear).run));
    assert!((3.0 * (third - 0.10) - (whole - 0.10)).abs() < 1e-9);
    for stab in &logged.run.rear_stabs {
        assert!(!logged.run.track.is_jump(stab.at_m), "{stab:?}");
    }
}

#[test]
fn nobody_brakes_before_a_jump_but_who_is_told_to() {
    let peaks = |truth: &Truth, end: End| -> Vec<f32> {
        no_brake_stretches(&short_track())
            .iter()
            .map(|stretch| {
                truth
                    .distance_m
                    .iter()
                    .zip(pressure(truth, end))
                    .filter(|(place_m, _)| stretch.contains(place_m))
                    .map(|(_, pa)| pa / BAR)
                    .fold(0.0, f32::max)
            })
            .collect()
    };
    for (end, other) in [(End::Front, End::Rear), (End::Rear, End::Front)] {
        let truth = clear(Kind::NoBrakeSection, end).run.ride();
        let at = peaks(&truth, end);
        assert!(at.len() == 2 && at.iter().all(|bar| (5.5..6.01).contains(bar)), "{end:?}: {at:?}");
        for (truth, end) in [(&truth, other), (healthy_truth(), end)] {
            let none = peaks(truth, end);
            assert!(none.iter().all(|bar| *bar < 0.6), "{end:?}: {none:?}");
        }
        let a_third = light(Kind::NoBrakeSection, end).run;
        let stabs = if end == End::Front { a_third.front_stabs } else { a_third.rear_stabs };
        assert!(stabs.len() == 2 && stabs.iter().all(|stab| (stab.pressure_bar - 2.0).abs() < 1e-9));
    }
}

/// Both columns carry the other sensor's readings, each on its own scale.
#[test]
fn swapped_ends_are_written_into_each_others_columns() {
    let swapped = with(Fault { kind: Kind::EndsSwapped, end: None, severity: Severity::Clear });
    let (front, stroke) = (travel_column(&swapped, End::Front), travel_column(&swapped, End::Rear));
    let full = 200.0 / 75.0;
    for (front, stroke) in front.iter().zip(&stroke).skip(2500) {
        // Bias and noise of the sensors: well under 2 mm of the fork's.
        assert!((front.0 - stroke.1 * full).abs() < 2.0, "{front:?} {stroke:?}");
        assert!((stroke.0 * full - front.1).abs() < 2.0, "{front:?} {stroke:?}");
    }
}

#[test]
fn a_zero_moves_by_eight_millimetres_after_the_gate() {
    let linkage = healthy().run.bike.linkage;
    for end in End::BOTH {
        let shift_mm = |logged: &Logged| {
            let (good, bad) = (travel_column(&healthy(), end), travel_column(logged, end));
            let apart: Vec<f64> = bad.iter().zip(&good).map(|(bad, good)| bad.0 - good.0).collect();
            assert!(apart[..2500].iter().all(|mm| mm.abs() < 0.01), "moved at the gate");
            let moved = &apart[apart.len() / 2..];
            let mean = moved.iter().sum::<f64>() / moved.len() as f64;
            assert!(moved.iter().all(|mm| (mm - mean).abs() < 0.15));
            if end == End::Front { mean.abs() } else { 1e3 * linkage.axle_travel_m(1e-3 * mean.abs()) }
        };
        let (whole, third) = (shift_mm(&clear(Kind::ZeroMoved, end)), shift_mm(&light(Kind::ZeroMoved, end)));
        assert!((whole - 8.0).abs() < 0.15, "{end:?} {whole}");
        assert!((third - 8.0 / 3.0).abs() < 0.15, "{end:?} {third}");
    }
}

#[test]
fn a_dead_channel_shows_one_value() {
    for end in End::BOTH {
        let dead = travel_column(&clear(Kind::TravelDead, end), end);
        assert!(dead.iter().all(|(mm, _)| *mm == dead[0].0));
        // Light: from two thirds down the track on.
        let truth = healthy_truth();
        let from_s = truth.time_at_distance_s(short_track().finish_m * 2.0 / 3.0).unwrap();
        let dies = travel_column(&light(Kind::TravelDead, end), end);
        let (before, after) = dies.split_at((from_s * 250.0) as usize + 1);
        assert!(after.iter().all(|(mm, _)| *mm == after[0].0));
        assert!(before.iter().all(|(mm, true_mm)| (mm - true_mm).abs() < 2.0));
    }
}

/// More samples at the rail than the 0.1 % that are doubted, and none on a healthy one.
#[test]
fn a_clipped_channel_rests_at_its_rail() {
    for end in End::BOTH {
        let at_rail = |logged: &Logged| {
            let column = travel_column(logged, end);
            let rail = column.iter().map(|(mm, _)| *mm).fold(0.0, f64::max);
            (rail, share(column.iter().map(|(mm, _)| *mm >= rail)))
        };
        let (rail_mm, resting) = at_rail(&clear(Kind::TravelClipped, end));
        let full_mm = if end == End::Front { 200.0 } else { 75.0 };
        println!("{end:?}: {:.2} % at {rail_mm} mm", 100.0 * resting);
        assert!((rail_mm - 0.46 * full_mm).abs() < 0.11, "{rail_mm}");
        assert!(resting > 0.001, "{end:?}: {resting}");
        assert!(at_rail(&healthy()).1 < 0.001);
        let sensor = |logged: Logged| {
            if end == End::Front { logged.suspension.front_mm } else { logged.suspension.stroke_mm }.range
        };
        let (whole, third) = (
            full_mm - sensor(clear(Kind::TravelClipped, end)),
            full_mm - sensor(light(Kind::TravelClipped, end)),
        );
        assert!((3.0 * third - whole).abs() < 1e-9);
    }
}

#[test]
fn an_inverted_channel_reads_what_is_left() {
    for (end, full_mm) in [(End::Front, 200.0), (End::Rear, 75.0)] {
        let inverted = with(Fault { kind: Kind::TravelInverted, end: Some(end), severity: Severity::Clear });
        for (mm, true_mm) in travel_column(&inverted, end) {
            assert!((mm + true_mm - full_mm).abs() < 1.2, "{mm} {true_mm}");
        }
    }
}

#[test]
fn a_noisy_channel_has_three_millimetres_of_it() {
    for (end, per_axle) in [(End::Front, 1.0), (End::Rear, 75.0 / 200.0)] {
        for (logged, expected_mm) in
            [(clear(Kind::TravelNoisy, end), 3.0), (light(Kind::TravelNoisy, end), 1.0)]
        {
            let apart: Vec<f64> =
                travel_column(&logged, end).iter().map(|(mm, true_mm)| mm - true_mm).collect();
            let noise_mm = sd(&apart) / per_axle;
            assert!((noise_mm / expected_mm - 1.0).abs() < 0.15, "{end:?} {noise_mm}");
        }
    }
}

#[test]
fn a_dead_gyroscope_is_dead_on_all_axes_and_alone() {
    let logged = with(Fault { kind: Kind::GyroDead, end: None, severity: Severity::Clear });
    let text = logged.motion.text(healthy_truth(), 3);
    for axis in 1..=9 {
        let values = column(&text, ';', axis);
        assert_eq!(sd(&values) == 0.0, (4..=6).contains(&axis), "column {axis}");
    }
}

#[test]
fn a_healthy_run_has_none() {
    let Logged { run, suspension, .. } = healthy();
    assert!(run.front_stabs.is_empty() && run.rear_stabs.is_empty());
    assert_eq!(run.spring_loss_per_s, [0.0; 2]);
    assert_eq!(suspension.swapped, None);
    for end in End::BOTH {
        let dragged = dragged_s(healthy_truth(), end);
        assert!(dragged.is_empty(), "{end:?}: {dragged:?}");
        // Where the lever is free, nothing stays, and nothing is ever grabbed.
        assert!(share(pressure(healthy_truth(), end).iter().map(|pa| *pa < 0.05 * BAR)) > 0.6);
        assert!(pressure(healthy_truth(), end).iter().all(|pa| *pa < 30.0 * BAR));
        let apart: Vec<f64> =
            travel_column(&healthy(), end).iter().map(|(mm, true_mm)| mm - true_mm).collect();
        assert!(sd(&apart) < 0.1, "{end:?}: {}", sd(&apart));
    }
}
