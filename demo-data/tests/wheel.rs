//! A wheel on the ground, against Newton's and Coulomb's laws and the published curve.

use evenkeel_demo_data::bike::{Bike, End, Setup};
use evenkeel_demo_data::ground::Ground;
use evenkeel_demo_data::habit::Stab;
use evenkeel_demo_data::plane::{GRAVITY_MPS2, Input, PitchPlane, State};
use evenkeel_demo_data::ride::{Run, STEP_S};
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::wheel::{Grip, Rolling, Spin, traction};

fn bike() -> Bike {
    Bike::new(&Setup::default())
}

/// Bike and rider on flat ground at a speed, sunk in.
fn coasting(plane: &PitchPlane, speed_mps: f64) -> State {
    let state = moved(plane, State::default(), &Input { held: true, ..Input::default() }, 8.0, |_, _| ());
    state.rolling(speed_mps, plane.bike().geometry.wheel_radius_m)
}

fn moved(
    plane: &PitchPlane,
    mut state: State,
    input: &Input,
    time_s: f64,
    mut see: impl FnMut(&State, f64),
) -> State {
    for step in 0..(time_s / STEP_S).round() as usize {
        see(&state, step as f64 * STEP_S);
        state = plane.step(&state, input, &Ground::flat(), STEP_S);
    }
    state
}

/// Magic Formula (Bakker, Nyborg and Pacejka 1987), `mu sin(C atan(B s))`, C = 3/2, written with the sine and arc
/// tangent that the model does without.
#[test]
fn grip_is_the_magic_formula() {
    let grip = bike().grip;
    let steepness = (std::f64::consts::PI / 3.0).tan() / grip.peak_slip;
    for slip in [-1.0, -0.1, 0.0, 0.01, 0.05, 0.15, 0.3, 0.6, 1.0] {
        let formula = grip.peak_friction * (1.5 * (steepness * slip).atan()).sin();
        assert!((grip.friction(slip) - formula).abs() < 1e-12, "{slip}");
    }
    assert!((grip.friction(grip.peak_slip) - grip.peak_friction).abs() < 1e-12);
    assert!((0.1..0.2).contains(&grip.peak_slip));
    let sliding = grip.sliding_friction() / grip.peak_friction;
    assert!((0.6..0.9).contains(&sliding), "sliding holds less than rolling at its best: {sliding}");
}

/// Coulomb: no load, no friction; twice the load, twice the friction.
#[test]
fn an_unloaded_wheel_has_no_grip() {
    let grip = bike().grip;
    let spin = Spin { speed_radps: 20.0, along_m: 0.03, across_m: -0.02, ..Spin::default() };
    let force = |pressing_n| {
        let rolling = Rolling { axle_mps: 10.0, across_mps: 0.3, pressing_n, ..Rolling::default() };
        let traction = traction(&grip, 0.2, 0.355, &spin, &rolling);
        [traction.along_n, traction.across_n]
    };
    assert_eq!(force(0.0), [0.0, 0.0].map(|zero| zero * force(1.0)[0].signum()));
    for (double, single) in force(800.0).into_iter().zip(force(400.0)) {
        assert!((double - 2.0 * single).abs() < 1e-9);
    }
    let [along, across] = force(500.0);
    assert!(along.hypot(across) <= grip.peak_friction * 500.0 * (1.0 + 1e-12));
}

/// Angular momentum of a wheel: braking torque less the tyre's is what slows it, so over any time
/// `I (w1 - w0) = integral(F R - T)`.
#[test]
fn brake_and_tyre_balance_the_spin() {
    let plane = PitchPlane::new(bike(), Rider::default());
    let (bike, radius_m) = (*plane.bike(), plane.bike().geometry.wheel_radius_m);
    let input = Input { rear_brake_bar: 8.0, front_brake_bar: 6.0, ..Input::default() };
    let start = coasting(&plane, 12.0);
    let (mut front_nms, mut rear_nms) = (0.0, 0.0);
    let end = moved(&plane, start, &input, 0.8, |state, _| {
        let forces = plane.forces(state, &input, &Ground::flat());
        let rolling_nm = |load_n: f64| bike.rolling_resistance * load_n * radius_m;
        front_nms += STEP_S
            * (forces.front.along_n * radius_m
                - forces.front.brake_nm
                - rolling_nm(forces.ends.front_load_n));
        rear_nms += STEP_S
            * (forces.rear.along_n * radius_m - forces.rear.brake_nm - rolling_nm(forces.ends.rear_load_n));
    });
    let front =
        bike.front_wheel_inertia_kg_m2 * (end.front_wheel.speed_radps - start.front_wheel.speed_radps);
    let rear = bike.rear_wheel_inertia_kg_m2 * (end.rear_wheel.speed_radps - start.rear_wheel.speed_radps);
    assert!(end.rear_wheel.speed_radps > 5.0, "still turning");
    assert!((front - front_nms).abs() < 0.01, "{front} {front_nms}");
    assert!((rear - rear_nms).abs() < 0.01, "{rear} {rear_nms}");
    // Once it turns steadily, the tyre gives what the brake asks: T = F R less the wheel's own slowing.
    let forces = plane.forces(&end, &input, &Ground::flat());
    let asked_nm = radius_m * bike.rear_brake_n_per_bar * (8.0 - bike.rear_brake.touch_bar);
    assert!((forces.rear.brake_nm - asked_nm).abs() < 1e-9);
}

/// Coulomb's sliding friction: both wheels locked on flat ground, the bike slows by `mu_slide g` (and the air's drag).
#[test]
fn locked_wheels_slow_the_bike_by_sliding_friction() {
    let plane = PitchPlane::new(bike(), Rider { drag_area_m2: 0.0, ..Rider::default() });
    // A low mass centre, or it goes over the bars.
    let mut low = *plane.bike();
    low.geometry.mass_centre_height_m = 0.36;
    let plane = PitchPlane::new(low, Rider { drag_area_m2: 0.0, brace_height_m: 0.0, ..Rider::default() });
    let input = Input { front_brake_bar: 80.0, rear_brake_bar: 80.0, ..Input::default() };
    let start = coasting(&plane, 14.0);
    let (mut from, mut to) = (0.0, 0.0);
    let end = moved(&plane, start, &input, 1.2, |state, time_s| {
        if (time_s - 0.6).abs() < 0.5 * STEP_S {
            from = state.speed_mps;
            assert_eq!((state.front_wheel.speed_radps, state.rear_wheel.speed_radps), (0.0, 0.0));
        }
        to = state.speed_mps;
    });
    let slowed_mps2 = (from - to) / (0.6 - STEP_S);
    let sliding_mps2 = low.grip.sliding_friction() * GRAVITY_MPS2;
    assert!((slowed_mps2 / sliding_mps2 - 1.0).abs() < 0.02, "{slowed_mps2} of {sliding_mps2}");
    assert!(end.speed_mps > 2.0);
}

/// A brake is dry friction: it can hold a wheel, and never turns it backwards.
#[test]
fn a_brake_never_turns_a_wheel_backwards() {
    let plane = PitchPlane::new(bike(), Rider::default());
    let input = Input { front_brake_bar: 9.0, rear_brake_bar: 40.0, ..Input::default() };
    let mut locked_s = 0.0;
    let end = moved(&plane, coasting(&plane, 9.0), &input, 4.0, |state, time_s| {
        assert!(state.rear_wheel.speed_radps >= 0.0, "at {time_s} s");
        if state.rear_wheel.speed_radps == 0.0 {
            locked_s += STEP_S;
        }
    });
    assert!(locked_s > 3.0);
    // It came to a stand, and stays there: stiction.
    assert!(end.speed_mps.abs() < 0.02, "{} m/s", end.speed_mps);
}

/// Conservation of energy on flat ground without air: what the bike and its wheels lose, brakes, tyres and rolling
/// resistance eat; the tyres eat force times the speed at which they slide.
#[test]
fn braking_work_is_the_energy_lost() {
    let rider = Rider { drag_area_m2: 0.0, ..Rider::default() };
    let mut bike = bike();
    // No suspension movement to speak of: what the dampers eat is not asked here.
    bike.geometry.mass_centre_height_m = bike.geometry.wheel_radius_m;
    bike.geometry.rear_anti_rise = bike.geometry.rear_path_back;
    let plane = PitchPlane::new(bike, rider);
    let radius_m = bike.geometry.wheel_radius_m;
    let moving_j = |state: &State| {
        0.5 * plane.mass_kg() * state.speed_mps.powi(2)
            + 0.5 * bike.front_wheel_inertia_kg_m2 * state.front_wheel.speed_radps.powi(2)
            + 0.5 * bike.rear_wheel_inertia_kg_m2 * state.rear_wheel.speed_radps.powi(2)
    };
    let input = Input { front_brake_bar: 3.0, rear_brake_bar: 3.0, ..Input::default() };
    let start = coasting(&plane, 12.0);
    let mut eaten_j = 0.0;
    let end = moved(&plane, start, &input, 2.0, |state, _| {
        let forces = plane.forces(state, &input, &Ground::flat());
        for (wheel, spin, load_n) in [
            (forces.front, state.front_wheel, forces.ends.front_load_n),
            (forces.rear, state.rear_wheel, forces.ends.rear_load_n),
        ] {
            let resistance_nm = bike.rolling_resistance * load_n * radius_m;
            eaten_j += STEP_S
                * (wheel.along_n * (state.speed_mps - radius_m * spin.speed_radps)
                    + (wheel.brake_nm + resistance_nm) * spin.speed_radps);
        }
    });
    let lost_j = moving_j(&start) - moving_j(&end);
    assert!(lost_j > 1000.0);
    assert!((lost_j / eaten_j - 1.0).abs() < 0.02, "{lost_j} J lost, {eaten_j} J eaten");
}

/// A stab at the rear lever locks the rear wheel where the rider gives it, and only the rear.
#[test]
fn a_stab_of_the_rear_brake_locks_the_rear_wheel() {
    let mut run = Run::new(bike(), Rider::default(), 7, 8);
    run.until_s = 30.0;
    run.rear_stabs = [60.0, 100.0].map(|at_m| Stab { at_m, length_s: 0.35, pressure_bar: 30.0 }).to_vec();
    let truth = run.ride();
    for at_m in [60.0, 100.0] {
        let at_s = truth.time_at_distance_s(at_m).unwrap();
        let after = |lockups: Vec<(f64, f64)>| -> f64 {
            lockups
                .iter()
                .filter(|(start_s, _)| (at_s..at_s + 0.6).contains(start_s))
                .map(|(start_s, end_s)| end_s - start_s)
                .sum()
        };
        let rear_s = after(truth.lockups(End::Rear, 0.06));
        assert!((0.2..0.5).contains(&rear_s), "{rear_s} s at {at_m} m");
        assert_eq!(after(truth.lockups(End::Front, 0.06)), 0.0);
    }
}

/// A wheel that the model never brakes, rolls: its slip is small wherever it is pressed to the ground.
#[test]
fn a_free_wheel_rolls() {
    let grip = Grip { ..bike().grip };
    assert!(grip.stiffness() > 5.0);
    let mut run = Run::new(bike(), Rider::default(), 7, 8);
    run.until_s = 20.0;
    let truth = run.ride();
    let free = (11_000..truth.len()).filter(|&i| {
        truth.rear_brake_pa[i] < 0.2e5 && truth.rear_load_n[i] > 200.0 && truth.speed_mps[i] > 3.0
    });
    let slips: Vec<f64> = free.map(|i| f64::from(truth.rear_slip[i])).collect();
    assert!(slips.len() > 1000);
    let rms = (slips.iter().map(|slip| slip * slip).sum::<f64>() / slips.len() as f64).sqrt();
    assert!(rms < 0.05, "{rms}");
}
