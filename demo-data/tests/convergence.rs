//! The step is fine enough: half of it changes next to nothing.

use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::ride::STEP_S;
use evenkeel_demo_data::truth::Truth;

/// Travel of another ride at the places where this one was sampled.
fn at_the_same_places(ride: &Truth, other: &Truth, travel_m: &[f32]) -> Vec<f64> {
    let mut after = 1;
    ride.distance_m
        .iter()
        .map(|place_m| {
            while after + 1 < other.len() && other.distance_m[after] < *place_m {
                after += 1;
            }
            let (a, b) = (other.distance_m[after - 1], other.distance_m[after]);
            let share = if b > a { ((place_m - a) / (b - a)).clamp(0.0, 1.0) } else { 0.0 };
            let (a, b) = (f64::from(travel_m[after - 1]), f64::from(travel_m[after]));
            a + share * (b - a)
        })
        .collect()
}

/// RMS and 99.9th percentile of the difference, over samples from a time on.
fn difference_m(a: &[f32], b: &[f64], range: std::ops::Range<usize>) -> (f64, f64) {
    let mut apart: Vec<f64> = range.map(|i| (f64::from(a[i]) - b[i]).abs()).collect();
    apart.sort_by(f64::total_cmp);
    let rms = (apart.iter().map(|d| d * d).sum::<f64>() / apart.len() as f64).sqrt();
    (rms, apart[apart.len() * 999 / 1000])
}

/// The same for what happens across the track, and for the wheels' turning: RMS differences over all of the ride until the
/// first braking, against RMS values.
#[test]
fn half_the_step_gives_the_same_sway_and_spin() {
    let mut run = plans()[1].run();
    run.until_s = 40.0;
    let whole = run.ride();
    run.step_s = STEP_S / 2.0;
    let half = run.ride();
    for (name, a, b) in [
        ("rear contact beside the path", &whole.rear_aside_m, &half.rear_aside_m),
        ("rear tread speed", &whole.rear_wheel_mps, &half.rear_wheel_mps),
        ("front tread speed", &whole.front_wheel_mps, &half.front_wheel_mps),
        ("rear side force", &whole.rear_side_n, &half.rear_side_n),
    ] {
        let b = at_the_same_places(&whole, &half, b);
        let until = whole.front_brake_pa.iter().position(|pressure| *pressure > 0.5e5).unwrap_or(11_001);
        let (apart, _) = difference_m(a, &b, 11_000..until);
        let (size, _) = difference_m(a, &vec![0.0; a.len()], 11_000..until);
        println!("{name}: {apart} of {size} RMS");
        assert!(apart < 0.01 * size, "{name}: {apart} of {size}");
    }
}

/// Compared place by place and not second by second: a lever pulled one millisecond later shifts all that follows in
/// time, and that is the rider's hand and not the step.
#[test]
fn half_the_step_gives_the_same_travel() {
    let mut run = plans()[1].run();
    run.until_s = 75.0; // start straight, roots and most of the rock garden
    let whole = run.ride();
    run.step_s = STEP_S / 2.0;
    let half = run.ride();
    let moving = 11_000..whole.len() - 100;
    let unbraked =
        11_000..whole.front_brake_pa.iter().position(|pressure| *pressure > 0.5e5).unwrap_or(11_001);
    for (name, a, b) in [
        ("front", &whole.front_travel_m, &half.front_travel_m),
        ("rear", &whole.rear_travel_m, &half.rear_travel_m),
    ] {
        let b = at_the_same_places(&whole, &half, b);
        let before = difference_m(a, &b, unbraked.clone());
        let all = difference_m(a, &b, moving.clone());
        println!("{name}: RMS and p99.9 in m, until the first braking {before:?}, all {all:?}");
        assert!(before.0 < 0.02e-3 && before.1 < 0.2e-3, "{name} until the first braking: {before:?} m");
        assert!(all.0 < 0.1e-3 && all.1 < 1.0e-3, "{name}: {all:?} m");
    }
}
