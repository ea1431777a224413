//! The bench bounce, and the damping ratio that it promises.

use evenkeel_demo_data::bench::{Bench, PUSHES, Push, STILL_S};
use evenkeel_demo_data::bike::{Bike, End, Setup};
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::sensor::Clock;
use evenkeel_demo_data::suspension::Damper;
use evenkeel_demo_data::truth::{RECORD_HZ, Truth};

fn bench(push: Push) -> Bench {
    Bench::new(&Bike::new(&Setup::default()), &Rider::default(), push, 5)
}

fn travel(truth: &Truth, end: End) -> &[f32] {
    if end == End::Front { &truth.front_travel_m } else { &truth.rear_travel_m }
}

/// Damping ratio from the turning points after the last push (logarithmic decrement, any vibration handbook): the swings
/// of a free decay shrink by exp(pi zeta / sqrt(1 - zeta^2)) from one side to the other.
fn decay_ratio(bench: &Bench, end: End) -> f64 {
    let truth = bench.bounce();
    let last_release_s = STILL_S + (PUSHES - 1) as f64 * 2.62 + 1.12;
    // Two equal samples at a turn would hide it.
    let mut freed = travel(&truth, end)[(last_release_s * RECORD_HZ) as usize..].to_vec();
    freed.dedup();
    let turns: Vec<f64> =
        freed.windows(3).filter(|w| (w[1] - w[0]) * (w[2] - w[1]) < 0.0).map(|w| f64::from(w[1])).collect();
    // From one turning point to the next, so that it does not matter where the middle is; small enough for a
    // straight spring.
    let swings: Vec<f64> = turns
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .filter(|swing_m| (1e-3..30e-3).contains(swing_m))
        .collect();
    assert!(swings.len() >= 3, "{swings:?}");
    let halves = (swings.len() - 1) as f64;
    let per_half = (swings[0] / swings[swings.len() - 1]).ln() / halves;
    per_half / (std::f64::consts::PI.powi(2) + per_half * per_half).sqrt()
}

/// Without friction and with a straight damper, on stands that do not give, what the bench does has the ratio that
/// the bench states. Tyres, which give in series, take some of it.
#[test]
fn the_stated_damping_ratio_is_that_of_the_decay() {
    for end in End::BOTH {
        let mut bench = bench(Push::One(end));
        let slope = if end == End::Front { 180.0 } else { 2000.0 };
        let unit = bench.bike.unit_mut(end);
        unit.friction_n = 0.0;
        unit.damper = Damper {
            compression_slow_n_s_per_m: slope,
            compression_fast_n_s_per_m: slope,
            rebound_slow_n_s_per_m: slope,
            rebound_fast_n_s_per_m: slope,
            ..unit.damper
        };
        let stated = bench.damping_ratio(end, 0.0);
        let on_stands = decay_ratio(&bench.on_axle_stands(), end);
        let on_tyres = decay_ratio(&bench, end);
        println!("{end:?}: stated {stated:.3}, decay on stands {on_stands:.3}, on tyres {on_tyres:.3}");
        assert!((on_stands / stated - 1.0).abs() < 0.03, "{end:?}: decay {on_stands}, stated {stated}");
        assert!(on_tyres < on_stands);
        let found = bench.damping_ratio_of(end, &bench.bounce());
        assert!((found / stated - 1.0).abs() < 1e-6, "a straight damper has one ratio, not {found}");
    }
}

#[test]
fn each_push_goes_down_by_a_hands_breadth_and_comes_to_rest() {
    for push in [Push::One(End::Front), Push::One(End::Rear), Push::Both] {
        let bench = bench(push);
        let truth = bench.bounce();
        for end in End::BOTH {
            let travel = travel(&truth, end);
            let rest_m = f64::from(travel[2000]);
            // Within what friction can hold.
            assert!((rest_m - bench.ride_height_m(end)).abs() < 3e-3);
            let pushed = push == Push::Both || push == Push::One(end);
            for cycle in 0..PUSHES {
                let start = ((STILL_S + cycle as f64 * 2.62) * RECORD_HZ) as usize;
                let deepest = travel[start..start + 2620].iter().copied().fold(0.0, f32::max);
                let past_m = f64::from(deepest) - rest_m;
                if pushed {
                    assert!((0.040..0.060).contains(&past_m), "{push:?} {end:?}: {past_m} m");
                } else {
                    assert!(past_m < 1e-3, "{push:?} {end:?}: moved by {past_m} m");
                }
                let late = &travel[start + 2320..start + 2620];
                assert!(late.iter().all(|travel_m| (f64::from(*travel_m) - rest_m).abs() < 1e-3));
            }
            let most_n = bench.stiffness_n_per_m(end) * 0.06;
            assert!(most_n < 800.0, "{most_n} N: more than a person leaning on it");
        }
        let text = SuspensionLogger::new(Clock { offset_s: 0.0, drift_ppm: 0.0 }).text(&truth, 1);
        assert!(text.lines().count() > (truth.duration_s() * 250.0) as usize - 40);
        assert!(truth.distance_m.iter().all(|place_m| *place_m == truth.distance_m[0]), "it rolls away");
    }
}

/// Rebound clicks change the ratio as they change the damper (model: 1.25 a click), and a bent curve has its largest
/// ratio at rest.
#[test]
fn slower_rebound_is_a_larger_ratio() {
    for push in End::BOTH.map(Push::One) {
        let Push::One(end) = push else { unreachable!() };
        let slower = Setup { fork_rebound_clicks: 5, shock_rebound_clicks: 5, ..Setup::default() };
        let slow = Bench::new(&Bike::new(&slower), &Rider::default(), push, 5);
        let usual = bench(push);
        let ratio = slow.damping_ratio(end, 0.0) / usual.damping_ratio(end, 0.0);
        assert!((ratio / 1.25_f64.powi(3) - 1.0).abs() < 1e-6, "{ratio}");
        let truth = usual.bounce();
        let found = usual.damping_ratio_of(end, &truth);
        let (rest, fast) = (usual.damping_ratio(end, 0.0), usual.damping_ratio(end, 0.6));
        println!("{end:?}: at rest {rest:.3}, over the strokes {found:.3}, at 0.6 m/s {fast:.3}");
        assert!(fast < found && found < rest);
    }
}

/// Gain of pitch rate by travel on pitch rate of the frame, and their correlation, while the bike is rocked.
fn rocked(bench: &Bench) -> (f64, f64) {
    let truth = bench.bounce();
    let geometry = bench.bike.geometry;
    let (sin, cos) = geometry.head_angle_rad.sin_cos();
    let chord: Vec<f64> = truth
        .front_travel_m
        .iter()
        .zip(&truth.rear_travel_m)
        .map(|(front, rear)| (f64::from(*front), f64::from(*rear)))
        .map(|(front, rear)| (front * sin - rear).atan2(geometry.wheelbase_m - front * cos))
        .collect();
    let (mut both, mut travels, mut gyro) = (0.0, 0.0, 0.0);
    for index in 5000..truth.len() - 5000 {
        let rate = (chord[index + 1] - chord[index - 1]) * 0.5 * RECORD_HZ;
        let frame = f64::from(truth.rate_radps[1][index]);
        both += rate * frame;
        travels += rate * rate;
        gyro += frame * frame;
    }
    (both / gyro, both / (travels * gyro).sqrt())
}

/// Geometry: where the axles stand still, travel is all that pitches the frame. On tyres the axles tilt too, by the
/// tyre's share of the give, so that travel alone shows less.
#[test]
fn rocked_on_stands_travel_and_gyroscope_agree() {
    let bench = bench(Push::Rocking);
    let (gain, correlation) = rocked(&bench.on_axle_stands());
    println!("on stands: gain {gain:.3}, correlation {correlation:.4}");
    assert!((gain - 1.0).abs() < 0.05 && correlation > 0.99, "{gain} {correlation}");
    let (gain, correlation) = rocked(&bench);
    println!("on tyres: gain {gain:.3}, correlation {correlation:.4}");
    assert!((0.85..0.95).contains(&gain) && correlation > 0.98, "{gain} {correlation}");
}

#[test]
fn the_same_seed_bounces_the_same() {
    let depth = |seed| Bench { seed, ..bench(Push::One(End::Rear)) }.bounce().rear_travel_m;
    assert_eq!(depth(1), depth(1));
    assert_ne!(depth(1), depth(2));
}
