//! Pushes on the bars against the same ride without them.

use evenkeel_demo_data::bike::{Bike, Setup};
use evenkeel_demo_data::ground::Ground;
use evenkeel_demo_data::plane::{Input, PitchPlane, State};
use evenkeel_demo_data::ride::Run;
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::truth::RECORD_HZ;

/// Pushes happen off the brakes, the hands press by about what the arms push, and the fork goes down by a centimetre and
/// more over what the ground does to it anyway. Source: model.
#[test]
fn pushes_load_the_bars_and_the_fork() {
    let mut run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8);
    // Until the first braking the two rides meet the same ground at the same time.
    run.until_s = 24.0;
    let pushed = run.ride();
    run.pushes.clear();
    let plain = run.ride();
    assert!(plain.pushes.is_empty());
    assert_eq!(pushed.pushes.len(), 3, "three rollers");
    let index = |time_s: f64| (time_s * RECORD_HZ).round() as usize;
    let push = pushed.pushes[0];
    let (start, end) = (index(push.start_s), index(push.end_s));
    assert!(pushed.front_brake_pa[start..end].iter().all(|pa| *pa < 0.1e5));
    let most = |a: &[f32], b: &[f32]| (start..end).map(|i| a[i] - b[i]).fold(0.0, f32::max);
    let deeper_m = most(&pushed.front_travel_m, &plain.front_travel_m);
    let harder_n = most(&pushed.hands_load_n, &plain.hands_load_n);
    println!("{deeper_m} m deeper, {harder_n} N harder");
    assert!((0.010..0.060).contains(&deeper_m), "{deeper_m} m");
    assert!((0.6..1.2).contains(&(f64::from(harder_n) / push.habit.peak_n)), "{harder_n} N");
}

/// Newton's third law: a push between bars and body moves neither bike nor rider as a whole, only one against the other.
#[test]
fn a_push_leaves_the_common_mass_centre_alone() {
    let (bike, rider) = (Bike::new(&Setup::default()), Rider::default());
    let plane = PitchPlane::new(bike, rider);
    let high = State {
        heave_m: 2.0,
        front_axle_m: 2.0,
        rear_axle_m: 2.0,
        hips_m: 2.0,
        shoulders_m: 2.0,
        ..State::default()
    };
    let weighed = |push_n: f64| {
        let rate = plane.rate(&high, &Input { push_n, held: true, ..Input::default() }, &Ground::flat());
        plane.sprung_kg() * rate.heave_mps
            + bike.front_unsprung_kg * rate.front_axle_mps
            + bike.rear_unsprung_kg * rate.rear_axle_mps
            + rider.legs.mass_kg * rate.hips_mps
            + rider.arms.mass_kg * rate.shoulders_mps
    };
    assert!((weighed(300.0) - weighed(0.0)).abs() < 1e-9);
}
