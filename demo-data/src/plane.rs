//! The pitch plane: equations of motion and the step.
//!
//! Coordinates move with the bike along the smooth base of the track: `heave` and the wheels' heights are normal to
//! it, `pitch` is measured against it (+ nose down), `distance` runs along it. The base's own slope, its bend and the
//! lean in corners enter as loads. Everything else is Newton's law: forces follow from a virtual displacement of
//! each coordinate, so that elastic energy given in comes out again.

use crate::bike::{Bike, Tyre};
use crate::ground::Ground;
use crate::rider::{Limb, Rider};
use crate::sideways::{SideLoad, Sideways, Sway, leftover_mps2, stood};
use crate::wheel::{self, Rolling, Spin, Traction, traction};

/// Acceleration of free fall.
pub const GRAVITY_MPS2: f64 = 9.806_65;

/// Positions and speeds of the plane's masses.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct State {
    /// Height of the sprung mass centre over its height with both ends extended on untouched tyres.
    pub heave_m: f64,
    /// Pitch against the base.
    pub pitch_rad: f64,
    /// Front axle over its height on an untouched tyre.
    pub front_axle_m: f64,
    /// Rear axle over its height on an untouched tyre.
    pub rear_axle_m: f64,
    /// Hips over the attack position.
    pub hips_m: f64,
    /// Shoulders over the attack position.
    pub shoulders_m: f64,
    /// Distance of the sprung mass centre along the base.
    pub distance_m: f64,
    /// d(heave)/dt.
    pub heave_mps: f64,
    /// d(pitch)/dt.
    pub pitch_radps: f64,
    /// d(front axle)/dt.
    pub front_axle_mps: f64,
    /// d(rear axle)/dt.
    pub rear_axle_mps: f64,
    /// d(hips)/dt.
    pub hips_mps: f64,
    /// d(shoulders)/dt.
    pub shoulders_mps: f64,
    /// Speed along the base.
    pub speed_mps: f64,
    /// Front wheel and tyre.
    pub front_wheel: Spin,
    /// Rear wheel and tyre.
    pub rear_wheel: Spin,
    /// Movement across the path.
    pub sway: Sway,
}

impl State {
    /// A bike that rolls freely at a speed.
    #[must_use]
    pub fn rolling(self, speed_mps: f64, wheel_radius_m: f64) -> Self {
        let wheel = Spin { speed_radps: speed_mps / wheel_radius_m, ..Spin::default() };
        Self { speed_mps, front_wheel: wheel, rear_wheel: wheel, ..self }
    }

    fn plus(&self, rate: &Self, step_s: f64) -> Self {
        Self {
            heave_m: self.heave_m + step_s * rate.heave_m,
            pitch_rad: self.pitch_rad + step_s * rate.pitch_rad,
            front_axle_m: self.front_axle_m + step_s * rate.front_axle_m,
            rear_axle_m: self.rear_axle_m + step_s * rate.rear_axle_m,
            hips_m: self.hips_m + step_s * rate.hips_m,
            shoulders_m: self.shoulders_m + step_s * rate.shoulders_m,
            distance_m: self.distance_m + step_s * rate.distance_m,
            heave_mps: self.heave_mps + step_s * rate.heave_mps,
            pitch_radps: self.pitch_radps + step_s * rate.pitch_radps,
            front_axle_mps: self.front_axle_mps + step_s * rate.front_axle_mps,
            rear_axle_mps: self.rear_axle_mps + step_s * rate.rear_axle_mps,
            hips_mps: self.hips_mps + step_s * rate.hips_mps,
            shoulders_mps: self.shoulders_mps + step_s * rate.shoulders_mps,
            speed_mps: self.speed_mps + step_s * rate.speed_mps,
            front_wheel: self.front_wheel.plus(&rate.front_wheel, step_s),
            rear_wheel: self.rear_wheel.plus(&rate.rear_wheel, step_s),
            sway: self.sway.plus(&rate.sway, step_s),
        }
    }
}

/// What acts from outside during one step.
#[derive(Clone, Copy, Debug, Default)]
pub struct Input {
    /// Slope of the base below the horizontal.
    pub slope_rad: f64,
    /// Its change per metre.
    pub slope_rate_rad_per_m: f64,
    /// Change of that per metre.
    pub slope_bend_rad_per_m2: f64,
    /// Lean, + to the right.
    pub lean_rad: f64,
    /// d(heading)/dt, + to the left.
    pub yaw_rate_radps: f64,
    /// Front brake pressure at the caliper.
    pub front_brake_bar: f64,
    /// Rear brake pressure at the caliper.
    pub rear_brake_bar: f64,
    /// Forward force from the pedals.
    pub pedal_n: f64,
    /// Downward push of the hands on the bars, taken from the shoulders.
    pub hands_n: f64,
    /// Downward push of the feet, taken from the hips.
    pub feet_n: f64,
    /// Unrest of the hands at the bars, + left.
    pub steer_rad: f64,
    /// Torque by which the rider holds the bike's attitude, + nose down.
    pub attitude_nm: f64,
    /// The bike is held in place.
    pub held: bool,
}

/// Movement and loads of both ends in a state.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ends {
    /// Front axle travel along the fork.
    pub front_travel_m: f64,
    /// d(front travel)/dt.
    pub front_speed_mps: f64,
    /// Rear axle travel.
    pub rear_travel_m: f64,
    /// d(rear travel)/dt.
    pub rear_speed_mps: f64,
    /// Front contact force, normal to the base.
    pub front_load_n: f64,
    /// Rear contact force, normal to the base.
    pub rear_load_n: f64,
    /// Slope of the ground under the front wheel against the base.
    pub front_ground_slope: f64,
    /// Slope of the ground under the rear wheel against the base.
    pub rear_ground_slope: f64,
    /// Cross slope under the front wheel, + rising to the left.
    pub front_cross_slope: f64,
    /// Cross slope under the rear wheel, + rising to the left.
    pub rear_cross_slope: f64,
    /// Speed of the front axle along the base.
    pub front_axle_along_mps: f64,
    /// Speed of the rear axle along the base.
    pub rear_axle_along_mps: f64,
}

impl Ends {
    /// Speed of the front axle along the ground under it.
    pub fn front_over_ground_mps(&self, state: &State) -> f64 {
        along_ground(self.front_ground_slope, self.front_axle_along_mps, state.front_axle_mps)
    }

    /// Speed of the rear axle along the ground under it.
    pub fn rear_over_ground_mps(&self, state: &State) -> f64 {
        along_ground(self.rear_ground_slope, self.rear_axle_along_mps, state.rear_axle_mps)
    }

    /// Slip of the front wheel: 0 rolls, 1 is locked. No slip where next to nothing moves.
    pub fn front_slip(&self, state: &State, wheel_radius_m: f64) -> f64 {
        slip(self.front_over_ground_mps(state), wheel_radius_m * state.front_wheel.speed_radps)
    }

    /// Slip of the rear wheel.
    pub fn rear_slip(&self, state: &State, wheel_radius_m: f64) -> f64 {
        slip(self.rear_over_ground_mps(state), wheel_radius_m * state.rear_wheel.speed_radps)
    }
}

fn along_ground(slope: f64, along_mps: f64, up_mps: f64) -> f64 {
    (along_mps + slope * up_mps) / (1.0 + slope * slope).sqrt()
}

fn slip(over_ground_mps: f64, rolled_mps: f64) -> f64 {
    const MOVING_MPS: f64 = 0.5;
    if over_ground_mps < MOVING_MPS { 0.0 } else { 1.0 - rolled_mps / over_ground_mps }
}

/// Forces of one instant, and what follows from them.
#[derive(Clone, Copy, Debug, Default)]
pub struct Forces {
    /// Travel and loads.
    pub ends: Ends,
    /// Front wheel and tyre.
    pub front: Traction,
    /// Rear wheel and tyre.
    pub rear: Traction,
    /// Whole force across the bike at the front contact, + left.
    pub front_side_n: f64,
    /// Whole force across the bike at the rear contact, + left.
    pub rear_side_n: f64,
    /// Load of the legs on the pedals.
    pub feet_n: f64,
    /// Load of the arms on the bars.
    pub hands_n: f64,
    /// Specific force at the front axle, normal to the base.
    pub front_axle_mps2: f64,
    /// Specific force at the rear axle, normal to the base.
    pub rear_axle_mps2: f64,
    /// d(state)/dt.
    pub rate: State,
}

/// One bike with one rider, ready to be moved.
#[derive(Clone, Debug)]
pub struct PitchPlane {
    bike: Bike,
    rider: Rider,
    sin_head: f64,
    cot_head: f64,
    ahead_m: f64,
    behind_m: f64,
    legs_ahead_m: f64,
    arms_ahead_m: f64,
    mass_kg: f64,
    sideways: Sideways,
}

impl PitchPlane {
    /// Puts a rider on a bike.
    pub fn new(bike: Bike, rider: Rider) -> Self {
        let (sin_head, cos_head) = libm::sincos(bike.geometry.head_angle_rad);
        let behind_m = bike.geometry.mass_centre_ahead_m;
        Self {
            sin_head,
            cot_head: cos_head / sin_head,
            ahead_m: bike.geometry.wheelbase_m - behind_m,
            behind_m,
            legs_ahead_m: rider.legs.ahead_m - behind_m,
            arms_ahead_m: rider.arms.ahead_m - behind_m,
            mass_kg: bike.mass_kg() + rider.mass_kg(),
            sideways: Sideways::new(&bike, &rider),
            bike,
            rider,
        }
    }

    /// The bike.
    pub fn bike(&self) -> &Bike {
        &self.bike
    }

    /// The same seen from behind.
    pub fn sideways(&self) -> &Sideways {
        &self.sideways
    }

    /// Mass of bike and rider.
    pub fn mass_kg(&self) -> f64 {
        self.mass_kg
    }

    /// Mass that moves with the frame.
    pub fn sprung_kg(&self) -> f64 {
        self.bike.frame_mass_kg + self.rider.on_frame_kg
    }

    /// Travel, speeds and loads.
    pub fn ends(&self, state: &State, ground: &Ground) -> Ends {
        let (sin, cos) = libm::sincos(state.pitch_rad);
        let front_wheel_m = state.front_axle_m - state.heave_m + self.ahead_m * sin;
        let front_wheel_mps = state.front_axle_mps - state.heave_mps + self.ahead_m * cos * state.pitch_radps;
        let rear_travel_m = state.rear_axle_m - state.heave_m - self.behind_m * sin;
        let rear_speed_mps = state.rear_axle_mps - state.heave_mps - self.behind_m * cos * state.pitch_radps;
        // The axles go back as they go up.
        let back = self.bike.geometry.rear_path_back;
        let front_axle_along_mps = state.speed_mps - self.cot_head * front_wheel_mps;
        let rear_axle_along_mps = state.speed_mps - back * rear_speed_mps;
        let front_at_m = state.distance_m + self.ahead_m - self.cot_head * front_wheel_m;
        let rear_at_m = state.distance_m - self.behind_m - back * rear_travel_m;
        let [front_cross_slope, _] = ground.cross_slope_at(front_at_m);
        let [_, rear_cross_slope] = ground.cross_slope_at(rear_at_m);
        let front = contact(
            &self.bike.front_tyre,
            ground.at(front_at_m),
            front_axle_along_mps,
            state.front_axle_m,
            state.front_axle_mps,
        );
        let rear = contact(
            &self.bike.rear_tyre,
            ground.at(rear_at_m),
            rear_axle_along_mps,
            state.rear_axle_m,
            state.rear_axle_mps,
        );
        Ends {
            front_travel_m: front_wheel_m / self.sin_head,
            front_speed_mps: front_wheel_mps / self.sin_head,
            rear_travel_m,
            rear_speed_mps,
            front_load_n: front.0,
            rear_load_n: rear.0,
            front_ground_slope: front.1,
            rear_ground_slope: rear.1,
            front_cross_slope,
            rear_cross_slope,
            front_axle_along_mps,
            rear_axle_along_mps,
        }
    }

    /// Gravity along the base's normal as the leaned bike feels it: the load of the corner in, the bend of the base out.
    fn normal_gravity_mps2(&self, state: &State, input: &Input) -> f64 {
        let (sin, cos) = libm::sincos(input.lean_rad);
        let slope_cos = libm::cos(input.slope_rad);
        let bend = state.speed_mps * state.speed_mps * input.slope_rate_rad_per_m;
        (GRAVITY_MPS2 * slope_cos - bend) * cos - state.speed_mps * input.yaw_rate_radps * slope_cos * sin
    }

    /// d(state)/dt.
    pub fn rate(&self, state: &State, input: &Input, ground: &Ground) -> State {
        self.forces(state, input, ground).rate
    }

    /// Forces of one instant, and d(state)/dt.
    pub fn forces(&self, state: &State, input: &Input, ground: &Ground) -> Forces {
        let ends = self.ends(state, ground);
        let cos = libm::cos(state.pitch_rad);
        let bike = &self.bike;
        let geometry = &bike.geometry;
        let radius_m = geometry.wheel_radius_m;

        // What the tyres hold, along and across.
        let sideways = &self.sideways;
        let wheel =
            |load_n: f64, slope: f64, axle_mps: f64, across_mps: f64, braking_n: f64, drive_n: f64| {
                let pressing_n = load_n * (1.0 + slope * slope).sqrt();
                Rolling {
                    axle_mps,
                    across_mps,
                    pressing_n,
                    brake_nm: radius_m * braking_n,
                    resistance_nm: radius_m * bike.rolling_resistance * pressing_n,
                    drive_nm: radius_m * drive_n,
                }
            };
        let (front, rear) = if input.held {
            (at_rest(&state.front_wheel), at_rest(&state.rear_wheel))
        } else {
            let axle_mps = ends.front_over_ground_mps(state);
            let front = wheel(
                ends.front_load_n,
                ends.front_ground_slope,
                axle_mps,
                sideways.front_across_mps(&state.sway, axle_mps),
                bike.front_brake_n_per_bar * bike.front_brake.working_bar(input.front_brake_bar),
                0.0,
            );
            let axle_mps = ends.rear_over_ground_mps(state);
            let rear = wheel(
                ends.rear_load_n,
                ends.rear_ground_slope,
                axle_mps,
                sideways.rear_across_mps(&state.sway, axle_mps),
                bike.rear_brake_n_per_bar * bike.rear_brake.working_bar(input.rear_brake_bar),
                input.pedal_n,
            );
            (
                traction(&bike.grip, bike.front_wheel_inertia_kg_m2, radius_m, &state.front_wheel, &front),
                traction(&bike.grip, bike.rear_wheel_inertia_kg_m2, radius_m, &state.rear_wheel, &rear),
            )
        };
        // Ground that slopes across shoves the wheel to its lower side.
        let front_side_n = front.across_n - ends.front_load_n * ends.front_cross_slope;
        let rear_side_n = rear.across_n - ends.rear_load_n * ends.rear_cross_slope;
        let sway = if input.held {
            stood(&state.sway)
        } else {
            sideways.rate(
                &state.sway,
                &SideLoad {
                    front_n: front_side_n,
                    rear_n: rear_side_n,
                    pressing_n: ends.front_load_n + ends.rear_load_n,
                    leftover_mps2: leftover_mps2(
                        input.slope_rad,
                        input.lean_rad,
                        state.speed_mps,
                        input.yaw_rate_radps,
                    ),
                    speed_mps: state.speed_mps,
                    steer_rad: input.steer_rad,
                },
            )
        };
        // The tyre's force lies along the ground, its support across it.
        let (front_along_n, front_down_n) = along_and_down(front.along_n, ends.front_ground_slope);
        let (rear_along_n, rear_down_n) = along_and_down(rear.along_n, ends.rear_ground_slope);
        let front_back_n = front_along_n + ends.front_load_n * ends.front_ground_slope;
        let rear_back_n = rear_along_n + ends.rear_load_n * ends.rear_ground_slope;
        const AIR_KG_PER_M3: f64 = 1.2;
        let drag_n = 0.5 * AIR_KG_PER_M3 * self.rider.drag_area_m2 * state.speed_mps * state.speed_mps;
        let slowing_mps2 =
            if input.held { 0.0 } else { (front_back_n + rear_back_n + drag_n) / self.mass_kg };
        let speed_rate =
            if input.held { 0.0 } else { GRAVITY_MPS2 * libm::sin(input.slope_rad) - slowing_mps2 };

        // Suspension. A brake's torque works on the rear by the way that the locked wheel's contact would go, over what
        // its axle goes.
        let fork_n = bike.fork.force_n(ends.front_travel_m, ends.front_speed_mps) / self.sin_head;
        let rear_n = bike.rear_force_n(ends.rear_travel_m, ends.rear_speed_mps);
        let front_up_n = fork_n - front_back_n * self.cot_head;
        let rear_up_n = rear_n
            - rear_back_n * geometry.rear_path_back
            - rear.brake_nm / radius_m * (geometry.rear_anti_rise - geometry.rear_path_back);

        // Rider.
        let sin = libm::sin(state.pitch_rad);
        let limb_n = |limb: &Limb, ahead_m: f64, height_m: f64, speed_mps: f64| {
            let bend_m = height_m - (state.heave_m - ahead_m * sin);
            let bend_mps = speed_mps - (state.heave_mps - ahead_m * cos * state.pitch_radps);
            // Bent limbs (body low) push up on the body and down on the bike.
            limb.mass_kg * GRAVITY_MPS2 - limb.elastic_n(bend_m) - limb.damping_n_s_per_m * bend_mps
        };
        let legs_n = limb_n(&self.rider.legs, self.legs_ahead_m, state.hips_m, state.hips_mps) + input.feet_n;
        let arms_n = limb_n(&self.rider.arms, self.arms_ahead_m, state.shoulders_m, state.shoulders_mps)
            + input.hands_n;

        let gravity = self.normal_gravity_mps2(state, input);
        let sprung_kg = self.sprung_kg();
        let unsprung_kg = self.bike.front_unsprung_kg + self.bike.rear_unsprung_kg;
        let inertia_nm = slowing_mps2
            * ((self.rider.legs.mass_kg + self.rider.arms.mass_kg) * self.rider.brace_height_m
                - unsprung_kg * (geometry.mass_centre_height_m - geometry.wheel_radius_m));
        // Wheels pass their forces on at the axle; brakes and chain twist the frame, in the air as well.
        let chain_nm = if input.held { 0.0 } else { radius_m * input.pedal_n };
        let pitch_nm = (front_back_n + rear_back_n) * (geometry.mass_centre_height_m - radius_m)
            + front.brake_nm
            + rear.brake_nm
            - chain_nm
            - front_up_n * self.ahead_m * cos
            + rear_up_n * self.behind_m * cos
            + (legs_n * self.legs_ahead_m + arms_n * self.arms_ahead_m) * cos
            + inertia_nm
            + input.attitude_nm;
        let base_pitch_rate = input.slope_bend_rad_per_m2 * state.speed_mps * state.speed_mps
            + input.slope_rate_rad_per_m * speed_rate;

        let front_axle_mps2 = (ends.front_load_n - front_down_n - front_up_n) / bike.front_unsprung_kg;
        let rear_axle_mps2 = (ends.rear_load_n - rear_down_n - rear_up_n) / bike.rear_unsprung_kg;
        let rate = State {
            heave_m: state.heave_mps,
            pitch_rad: state.pitch_radps,
            front_axle_m: state.front_axle_mps,
            rear_axle_m: state.rear_axle_mps,
            hips_m: state.hips_mps,
            shoulders_m: state.shoulders_mps,
            distance_m: state.speed_mps,
            heave_mps: (front_up_n + rear_up_n - legs_n - arms_n) / sprung_kg - gravity,
            pitch_radps: pitch_nm / self.bike.frame_inertia_kg_m2 - base_pitch_rate,
            front_axle_mps: front_axle_mps2 - gravity,
            rear_axle_mps: rear_axle_mps2 - gravity,
            hips_mps: legs_n / self.rider.legs.mass_kg - gravity,
            shoulders_mps: arms_n / self.rider.arms.mass_kg - gravity,
            speed_mps: speed_rate,
            front_wheel: front.rate,
            rear_wheel: rear.rate,
            sway,
        };
        Forces {
            ends,
            front,
            rear,
            front_side_n,
            rear_side_n,
            feet_n: legs_n,
            hands_n: arms_n,
            front_axle_mps2,
            rear_axle_mps2,
            rate,
        }
    }

    /// One step of the classical fourth-order Runge-Kutta method.
    pub fn step(&self, state: &State, input: &Input, ground: &Ground, step_s: f64) -> State {
        let first = self.rate(state, input, ground);
        let second = self.rate(&state.plus(&first, 0.5 * step_s), input, ground);
        let third = self.rate(&state.plus(&second, 0.5 * step_s), input, ground);
        let fourth = self.rate(&state.plus(&third, step_s), input, ground);
        let sixth = step_s / 6.0;
        let mut after = state
            .plus(&first, sixth)
            .plus(&second, 2.0 * sixth)
            .plus(&third, 2.0 * sixth)
            .plus(&fourth, sixth);
        after.front_wheel = wheel::stopped(&state.front_wheel, after.front_wheel);
        after.rear_wheel = wheel::stopped(&state.rear_wheel, after.rear_wheel);
        after
    }
}

/// A wheel of a bike that is held in place: it stands still, and its tyre comes to rest.
fn at_rest(spin: &Spin) -> Traction {
    const CALMING_PER_S: f64 = 50.0;
    Traction {
        rate: Spin {
            angle_rad: 0.0,
            speed_radps: -CALMING_PER_S * spin.speed_radps,
            along_m: -CALMING_PER_S * spin.along_m,
            across_m: -CALMING_PER_S * spin.across_m,
        },
        ..Traction::default()
    }
}

/// A force along the ground, seen along the base (backward) and normal to it (downward).
fn along_and_down(force_n: f64, slope: f64) -> (f64, f64) {
    let cos = 1.0 / (1.0 + slope * slope).sqrt();
    (force_n * cos, force_n * cos * slope)
}

/// Contact force and ground slope under a wheel. A tyre pushes and never pulls.
fn contact(tyre: &Tyre, ground: (f64, f64), speed_mps: f64, axle_m: f64, axle_mps: f64) -> (f64, f64) {
    let (height_m, slope) = ground;
    let pressed_m = height_m - axle_m;
    if pressed_m <= 0.0 {
        return (0.0, slope);
    }
    let pressing_mps = slope * speed_mps - axle_mps;
    let load_n = tyre.stiffness_n_per_m * pressed_m + tyre.damping_n_s_per_m * pressing_mps;
    (load_n.max(0.0), slope)
}
