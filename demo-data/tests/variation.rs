//! Bikes and tracks that are not the demo's: different, within bounds, rideable, and kept apart by purpose.

use std::collections::HashSet;

use evenkeel_demo_data::bike::{Bike, Setup};
use evenkeel_demo_data::day::HILL_SEED;
use evenkeel_demo_data::ride::Run;
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::suspension::Spring;
use evenkeel_demo_data::track::Feature;
use evenkeel_demo_data::truth::Truth;
use evenkeel_demo_data::variation::{Case, Split, TRACKS};

const SPLITS: [Split; 3] = [Split::Tuning, Split::Evaluation, Split::Unseen];

fn cases(numbers: std::ops::Range<u16>) -> impl Iterator<Item = Case> {
    SPLITS.into_iter().flat_map(move |split| numbers.clone().map(move |number| Case { split, number }))
}

#[test]
fn nothing_serves_two_purposes() {
    let mut seeds = HashSet::from([HILL_SEED]);
    let mut tracks = HashSet::new();
    for case in cases(0..TRACKS) {
        assert!(seeds.insert(case.hill_seed()), "{case:?}: hill");
        let track = case.track();
        assert!(tracks.insert(format!("{:?} {:?}", track.sections, track.corners)), "{case:?}: track");
    }
    let mut bikes = HashSet::new();
    for case in cases(0..40) {
        for repeat in 0..2 {
            assert!(seeds.insert(case.run(repeat).seed), "{case:?}: run {repeat}");
        }
        let run = case.run(0);
        assert!(bikes.insert(format!("{:?}", run.bike)), "{case:?}: bike");
        // The same case is the same again.
        assert_eq!(format!("{run:?}"), format!("{:?}", case.run(0)));
        assert_eq!(format!("{:?}", run.bike), format!("{:?}", case.run(1).bike));
        assert_eq!(run.hill_seed, Case { number: case.number % TRACKS, ..case }.hill_seed());
    }
}

/// No more than 10 % from the demo's, on both sides of it.
#[test]
fn bikes_and_riders_stay_within_a_tenth() {
    let (bike, rider) = (Bike::new(&Setup::default()), Rider::default());
    type Value = fn(&Run) -> f64;
    let values: [(Value, f64); 8] = [
        (|run| run.bike.frame_mass_kg, bike.frame_mass_kg),
        (|run| run.bike.rear_unsprung_kg, bike.rear_unsprung_kg),
        (|run| run.bike.front_tyre.stiffness_n_per_m, bike.front_tyre.stiffness_n_per_m),
        (|run| run.bike.fork.friction_n, bike.fork.friction_n),
        (|run| run.bike.rear_brake_n_per_bar, bike.rear_brake_n_per_bar),
        (|run| run.rider.legs.mass_kg, rider.legs.mass_kg),
        (|run| run.bike.geometry.wheelbase_m, bike.geometry.wheelbase_m),
        // What is left of the spring once it fits what the end carries.
        (
            |run| run.bike.fork.spring.force_n(0.05) / run.rider.carried_kg(&run.bike)[0],
            bike.fork.spring.force_n(0.05) / rider.carried_kg(&bike)[0],
        ),
    ];
    let runs: Vec<Run> = (0..100).map(|number| Case { split: Split::Tuning, number }.run(0)).collect();
    for (index, (value, usual)) in values.into_iter().enumerate() {
        let ratios: Vec<f64> = runs.iter().map(|run| value(run) / usual).collect();
        let (low, high) =
            ratios.iter().fold((f64::MAX, 0.0_f64), |(low, high), ratio| (low.min(*ratio), high.max(*ratio)));
        assert!(low > 0.899 && high < 1.101, "value {index}: {low} to {high}");
        assert!(low < 0.985 && high > 1.015, "value {index} hardly differs: {low} to {high}");
    }
}

#[test]
fn tracks_hang_together() {
    for case in cases(0..TRACKS) {
        let track = case.track();
        assert!((1700.0..2600.0).contains(&track.finish_m), "{case:?}: {} m", track.finish_m);
        assert_eq!(track.sections[0].start_m, 0.0);
        assert!(track.sections.windows(2).all(|pair| pair[0].end_m == pair[1].start_m), "{case:?}");
        for pair in track.corners.windows(2) {
            assert!(pair[0].start_m + pair[0].length_m() < pair[1].start_m, "{case:?}: corners meet");
        }
        assert!(track.jumps.len() >= 2);
        for feature in track.jumps.iter().chain(&track.drops) {
            let place_m = match feature {
                Feature::Jump { lip_m, .. } => *lip_m,
                Feature::Drop { at_m, .. } | Feature::Roller { at_m, .. } | Feature::Bump { at_m, .. } => {
                    *at_m
                }
            };
            let is_jump = matches!(feature, Feature::Jump { .. });
            assert_eq!(track.is_jump(place_m), is_jump, "{case:?}: {feature:?}");
        }
    }
}

/// No number is lost, nobody goes over the bars, and the springs are neither at their ends nor unused.
fn assert_ridden(case: Case, run: &Run, truth: &Truth) {
    let geometry = run.bike.geometry;
    for (name, travel_m, full_m) in [
        ("front", &truth.front_travel_m, geometry.front_travel_m),
        ("rear", &truth.rear_travel_m, geometry.rear_travel_m),
    ] {
        assert!(travel_m.iter().all(|travel| travel.is_finite()), "{case:?} {name}");
        let share = |index: usize| f64::from(travel_m[index]) / full_m;
        // Common practice: 15 to 35 % of travel at rest.
        assert!((0.14..0.36).contains(&share(5000)), "{case:?} {name}: sag {}", share(5000));
        let most = (0..truth.len()).map(share).fold(0.0, f64::max);
        assert!((0.3..1.08).contains(&most), "{case:?} {name}: {most}");
        let at_the_end = |index: usize| share(index) >= 0.97;
        let bottom_outs = (1..truth.len()).filter(|i| at_the_end(*i) && !at_the_end(i - 1)).count();
        let allowed = 1 + (truth.duration_s() / 25.0) as usize;
        assert!(bottom_outs <= allowed, "{case:?} {name}: {bottom_outs} bottom-outs");
    }
    for (index, pitch_rad) in truth.pitch_rad.iter().enumerate() {
        let base = run.track.base_at(truth.distance_m[index]).slope_rad;
        let against_ground = f64::from(*pitch_rad) - base;
        assert!(against_ground.abs() < 0.8, "{case:?}: {against_ground} rad at {} ms", index);
    }
}

#[test]
fn a_dozen_of_them_can_be_ridden() {
    for case in cases(0..4) {
        let mut run = case.run(0);
        run.until_s = 32.0;
        let truth = run.ride();
        assert_ridden(case, &run, &truth);
        let place_m = truth.distance_m[truth.len() - 1];
        assert!(place_m > 140.0, "{case:?}: only {place_m} m");
    }
}

#[test]
fn they_reach_the_bottom() {
    for split in [Split::Evaluation, Split::Unseen] {
        let case = Case { split, number: 5 };
        let run = case.run(1);
        let truth = run.ride();
        assert_ridden(case, &run, &truth);
        assert!(truth.time_at_distance_s(run.track.finish_m).is_some_and(|time_s| time_s < 300.0));
        assert!(truth.largest_landing_s().is_some(), "{case:?}: nobody jumped");
    }
}

#[test]
fn the_unseen_bike_is_built_differently() {
    let run = Case { split: Split::Unseen, number: 0 }.run(0);
    let seen = Case { split: Split::Evaluation, number: 0 }.run(0);
    assert!(matches!((run.bike.fork.spring, run.bike.shock.spring), (Spring::Coil { .. }, Spring::Air(_))));
    assert!(matches!((seen.bike.fork.spring, seen.bike.shock.spring), (Spring::Air(_), Spring::Coil { .. })));
    // Ever flatter: at ten times the speed far from ten times the force.
    let growth = |run: &Run| run.bike.shock.damper.force_n(-1.0) / run.bike.shock.damper.force_n(-0.1);
    assert!(growth(&run) < 6.0 && growth(&seen) > 6.0, "{} {}", growth(&run), growth(&seen));
    assert!(run.bike.geometry.wheelbase_m > seen.bike.geometry.wheelbase_m);
    assert!(run.rider.mass_kg() < seen.rider.mass_kg());
}
