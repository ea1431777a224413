//! What must hold for any bike: statics, energy, free fall, a steady turn, weight.

use evenkeel_demo_data::attitude::Path;
use evenkeel_demo_data::bike::{Bike, Setup};
use evenkeel_demo_data::ground::Ground;
use evenkeel_demo_data::plane::{GRAVITY_MPS2, Input, PitchPlane, State};
use evenkeel_demo_data::ride::{Run, STEP_S};
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::suspension::Damper;
use evenkeel_demo_data::truth::{RECORD_HZ, Truth};

fn held() -> Input {
    Input { held: true, ..Input::default() }
}

fn moved(plane: &PitchPlane, mut state: State, input: &Input, ground: &Ground, time_s: f64) -> State {
    for _ in 0..(time_s / STEP_S) as usize {
        state = plane.step(&state, input, ground, STEP_S);
    }
    state
}

/// Statics of a beam on two supports: weights times levers over the wheelbase give the axle loads, and each spring
/// must carry its own.
#[test]
fn sag_is_where_the_springs_carry_the_weight() {
    let (bike, rider) = (Bike::new(&Setup::default()), Rider::default());
    let plane = PitchPlane::new(bike, rider);
    let state = moved(&plane, State::default(), &held(), &Ground::flat(), 20.0);
    let ends = plane.ends(&state, &Ground::flat());

    let geometry = bike.geometry;
    let frame_kg = bike.frame_mass_kg + rider.on_frame_kg;
    let moment_kg_m = frame_kg * geometry.mass_centre_ahead_m
        + rider.legs.mass_kg * rider.legs.ahead_m
        + rider.arms.mass_kg * rider.arms.ahead_m;
    let sprung_kg = frame_kg + rider.legs.mass_kg + rider.arms.mass_kg;
    let front_n = GRAVITY_MPS2 * moment_kg_m / geometry.wheelbase_m;
    let rear_n = GRAVITY_MPS2 * sprung_kg - front_n;

    // Only the part of the load along the fork compresses it.
    let fork_n = bike.fork.elastic_force_n(ends.front_travel_m);
    assert!((fork_n - front_n * geometry.head_angle_rad.sin()).abs() < 2.0, "{fork_n} {front_n}");
    let ratio = bike.linkage.ratio(ends.rear_travel_m);
    let axle_n = bike.shock.elastic_force_n(bike.linkage.stroke_m(ends.rear_travel_m)) / ratio;
    assert!((axle_n - rear_n).abs() < 2.0, "{axle_n} {rear_n}");
    // Common practice: 20 to 30 % of travel at rest.
    assert!((0.17..0.30).contains(&(ends.front_travel_m / geometry.front_travel_m)));
    assert!((0.20..0.32).contains(&(ends.rear_travel_m / geometry.rear_travel_m)));
}

/// Potential energy by Simpson's rule from the model's own force law.
fn stored_j(force_n: impl Fn(f64) -> f64, to_m: f64) -> f64 {
    const PARTS: usize = 2000;
    let part = to_m / PARTS as f64;
    (0..PARTS)
        .map(|index| {
            let from = index as f64 * part;
            part / 6.0 * (force_n(from) + 4.0 * force_n(from + 0.5 * part) + force_n(from + part))
        })
        .sum()
}

fn energy_j(plane: &PitchPlane, rider: &Rider, state: &State) -> f64 {
    let bike = plane.bike();
    let ends = plane.ends(state, &Ground::flat());
    let behind_m = bike.geometry.mass_centre_ahead_m;
    let square = |speed: f64| 0.5 * speed * speed;
    let moving = plane.sprung_kg() * square(state.heave_mps)
        + bike.frame_inertia_kg_m2 * square(state.pitch_radps)
        + bike.front_unsprung_kg * square(state.front_axle_mps)
        + bike.rear_unsprung_kg * square(state.rear_axle_mps)
        + rider.legs.mass_kg * square(state.hips_mps)
        + rider.arms.mass_kg * square(state.shoulders_mps);
    let lifted = GRAVITY_MPS2
        * (plane.sprung_kg() * state.heave_m
            + bike.front_unsprung_kg * state.front_axle_m
            + bike.rear_unsprung_kg * state.rear_axle_m
            + rider.legs.mass_kg * state.hips_m
            + rider.arms.mass_kg * state.shoulders_m);
    let tyre = |stiffness: f64, axle_m: f64| 0.5 * stiffness * (-axle_m).max(0.0).powi(2);
    let limb = |limb: &evenkeel_demo_data::rider::Limb, height_m: f64| {
        let bend_m = height_m - (state.heave_m - (limb.ahead_m - behind_m) * state.pitch_rad.sin());
        // The limb's constant share carries the body's weight, so it gives energy as it stretches.
        stored_j(|x| limb.elastic_n(x), bend_m) - limb.mass_kg * GRAVITY_MPS2 * bend_m
    };
    moving
        + lifted
        + stored_j(|x| bike.fork.elastic_force_n(x), ends.front_travel_m)
        + stored_j(|x| bike.shock.elastic_force_n(x), bike.linkage.stroke_m(ends.rear_travel_m))
        + tyre(bike.front_tyre.stiffness_n_per_m, state.front_axle_m)
        + tyre(bike.rear_tyre.stiffness_n_per_m, state.rear_axle_m)
        + limb(&rider.legs, state.hips_m)
        + limb(&rider.arms, state.shoulders_m)
}

/// Conservation of energy: with nothing that eats it, ten seconds of hard bouncing keep it to 0.05 %. At half the step:
/// end stops without their damping ring faster than anything on a ride.
#[test]
fn energy_stays() {
    let (mut bike, mut rider) = (Bike::new(&Setup::default()), Rider::default());
    for unit in [&mut bike.fork, &mut bike.shock] {
        unit.damper = Damper::NONE;
        unit.friction_n = 0.0;
        unit.stops.end_damping_n_s_per_m = 0.0;
    }
    bike.front_tyre.damping_n_s_per_m = 0.0;
    bike.rear_tyre.damping_n_s_per_m = 0.0;
    rider.legs.damping_n_s_per_m = 0.0;
    rider.arms.damping_n_s_per_m = 0.0;
    let plane = PitchPlane::new(bike, rider);
    // Let go 0.1 m above the ground, a little nose down.
    let state = State {
        heave_m: 0.1,
        pitch_rad: 0.03,
        front_axle_m: 0.1,
        rear_axle_m: 0.1,
        hips_m: 0.1,
        shoulders_m: 0.1,
        ..State::default()
    };
    let before = energy_j(&plane, &rider, &state);
    let mut after = state;
    for _ in 0..(20.0 / STEP_S) as usize {
        after = plane.step(&after, &held(), &Ground::flat(), 0.5 * STEP_S);
    }
    let after = energy_j(&plane, &rider, &after);
    assert!(before > 50.0);
    assert!((after - before).abs() < 0.5e-3 * before, "{before} J became {after} J");
}

fn first_part(until_s: f64) -> Truth {
    let mut run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8);
    run.until_s = until_s;
    run.ride()
}

fn mean(values: impl Iterator<Item = f32>) -> f64 {
    let values: Vec<f64> = values.map(f64::from).collect();
    values.iter().sum::<f64>() / values.len() as f64
}

/// Newton's second law over a long time: what does not fall is carried.
#[test]
fn wheels_carry_the_weight_on_the_average() {
    let truth = first_part(60.0);
    let moving = 12_000..truth.len();
    let load_n = mean(moving.clone().map(|i| truth.front_load_n[i] + truth.rear_load_n[i]));
    let mass_kg = PitchPlane::new(Bike::new(&Setup::default()), Rider::default()).mass_kg();
    // The slope takes its cosine, gentle corners and jolts add a little.
    let weight_n = mass_kg * GRAVITY_MPS2 * 0.13_f64.atan().cos();
    assert!((load_n / weight_n - 1.0).abs() < 0.03, "{load_n} N of {weight_n} N");
}

/// A body in free fall has no specific force; here the common mass centre's, from masses and accelerations.
#[test]
fn free_fall_weighs_nothing() {
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
    for time_s in [0.1, 0.3, 0.5] {
        let state = moved(&plane, high, &held(), &Ground::flat(), time_s);
        let rate = plane.rate(&state, &held(), &Ground::flat());
        let together = (plane.sprung_kg() * rate.heave_mps
            + bike.front_unsprung_kg * rate.front_axle_mps
            + bike.rear_unsprung_kg * rate.rear_axle_mps
            + rider.legs.mass_kg * rate.hips_mps
            + rider.arms.mass_kg * rate.shoulders_mps)
            / plane.mass_kg();
        assert!((together + GRAVITY_MPS2).abs() < 1e-9);
    }
}

/// The same on a ride: in the jumps both wheels hang, and the frame's sensor reads a small part of a g.
#[test]
fn jumps_read_almost_nothing() {
    let run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8);
    let truth = run.ride();
    let mut flights = 0;
    let mut index = 0;
    while index < truth.len() {
        let start = index;
        while index < truth.len() && truth.is_airborne(index) {
            index += 1;
        }
        if run.track.is_jump(truth.distance_m[start]) && index - start > 350 {
            flights += 1;
            let inner = start + 120..index - 20;
            let upward = mean(inner.clone().map(|i| truth.frame_force_mps2[2][i]));
            assert!(upward.abs() < 0.25 * GRAVITY_MPS2, "{upward} m/s^2 in the air");
            let front = mean(inner.clone().map(|i| truth.front_travel_m[i]));
            let rear = mean(inner.map(|i| truth.rear_travel_m[i]));
            assert!(front.abs() < 0.006 && rear.abs() < 0.008, "{front} {rear}");
        }
        index += 1;
    }
    assert_eq!(flights, 2, "two jumps");
}

/// Coordinated turn (any flight mechanics text): v = 10 m/s, R = 20 m leans atan(v^2 / g R) = 27.02 degrees, the
/// lateral sensor reads nothing, the vertical one g / cos(lean), and body rates are the yaw rate's components.
#[test]
fn a_coordinated_turn_reads_no_lateral_force() {
    let (speed_mps, radius_m) = (10.0, 20.0);
    let yaw_rate = speed_mps / radius_m;
    let lean_rad = -(speed_mps * yaw_rate / GRAVITY_MPS2).atan();
    assert!((lean_rad.to_degrees() + 27.02).abs() < 0.01);
    let mut path = Path::default();
    let base =
        evenkeel_demo_data::track::SlopePoint { curvature_per_m: 1.0 / radius_m, ..Default::default() };
    let state = State { speed_mps, ..State::default() };
    for _ in 0..2000 {
        path.push(&state, &base, lean_rad, 0.0, 1.0 / RECORD_HZ);
    }
    let mut truth = Truth::new(Bike::new(&Setup::default()).geometry);
    evenkeel_demo_data::attitude::inertial(&path, &mut truth);
    let [_, lateral, up] = [0, 1, 2].map(|axis: usize| f64::from(truth.frame_force_mps2[axis][1000]));
    // The unit sits 0.12 m below the mass centre, which moves on a circle of 20 m: a quarter of a percent.
    assert!(lateral.abs() < 0.02, "{lateral}");
    assert!((up - GRAVITY_MPS2 / lean_rad.cos()).abs() < 0.04, "{up}");
    let rates = [0, 1, 2].map(|axis: usize| f64::from(truth.rate_radps[axis][1000]));
    assert!(rates[0].abs() < 1e-4);
    assert!((rates[1] - yaw_rate * lean_rad.sin()).abs() < 1e-4, "{rates:?}");
    assert!((rates[2] - yaw_rate * lean_rad.cos()).abs() < 1e-4, "{rates:?}");
    assert!((f64::from(truth.yaw_rad[1000]) - yaw_rate).abs() < 1e-3);
}

/// Any text on vehicle dynamics: braking moves load forward. At rest the rear carries more; under hard braking the front
/// does, by more than a fifth.
#[test]
fn braking_loads_the_front() {
    let truth = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8).ride();
    let hard = (0..truth.len()).filter(|&i| truth.front_brake_pa[i] > 8e5);
    let (mut front, mut rear, mut count) = (0.0, 0.0, 0);
    for index in hard {
        front += f64::from(truth.front_load_n[index]);
        rear += f64::from(truth.rear_load_n[index]);
        count += 1;
    }
    assert!(count > 500);
    assert!(front > 1.2 * rear, "{} {}", front / f64::from(count), rear / f64::from(count));
}
