//! A bench bounce: the bike stands on a level floor, is pushed down by hand at one end or both, and is let go.
//!
//! What stands on it: bags of sand straight over each axle, so that either end carries what it carries with the rider
//! standing still. A rider would do for a person, but bends arms and legs and so has no one mass; without either, the
//! bike alone hardly uses its springs. With all mass near the axles the ends bounce almost independently, and the
//! damping ratio of an end is that of one mass on one spring.
//!
//! The wheels roll freely. The tyres are those of the bike; see [`Bench::on_axle_stands`].

use crate::attitude::{Path, inertial};
use crate::bike::{Bike, End};
use crate::ground::Ground;
use crate::plane::{Input, PitchPlane, State};
use crate::random::Random;
use crate::ride::STEP_S;
use crate::rider::{Limb, Rider};
use crate::track::SlopePoint;
use crate::truth::{Moment, RECORD_HZ, Truth};

/// How the hands move the bike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Push {
    /// Down at one end, and let go.
    One(End),
    /// Down at both ends at once, and let go.
    Both,
    /// To and fro, the ends in turn and ever faster, from 0.4 to 4.5 Hz: pitch for comparing sensors.
    Rocking,
}

/// Times a bike is pushed down and let go.
pub const PUSHES: usize = 6;
/// The bike stands untouched before and after.
pub const STILL_S: f64 = 4.0;

/// Each push: press, hold, rest.
const PRESS_S: f64 = 0.7;
const HOLD_S: f64 = 0.4;
const LET_GO_S: f64 = 0.02;
const REST_S: f64 = 1.5;
const CYCLE_S: f64 = PRESS_S + HOLD_S + LET_GO_S + REST_S;
const ROCKING_S: f64 = 50.0;

/// A bike on the bench.
#[derive(Clone, Copy, Debug)]
pub struct Bench {
    /// The bike, loaded.
    pub bike: Bike,
    /// Sprung mass over front and rear axle, ballast and bike.
    pub carried_kg: [f64; 2],
    /// What the hands do.
    pub push: Push,
    /// Seed of the hands.
    pub seed: u64,
}

impl Bench {
    /// Loads a bike as its rider does.
    pub fn new(bike: &Bike, rider: &Rider, push: Push, seed: u64) -> Self {
        let carried_kg = rider.carried_kg(bike);
        let geometry = bike.geometry;
        let [front_kg, rear_kg] = carried_kg;
        let frame_ahead_m = geometry.mass_centre_ahead_m;
        let ahead_m = front_kg / (front_kg + rear_kg) * geometry.wheelbase_m;
        let frame_front_kg = bike.frame_mass_kg * frame_ahead_m / geometry.wheelbase_m;
        let bags = [
            (front_kg - frame_front_kg, geometry.wheelbase_m - ahead_m),
            (rear_kg - bike.frame_mass_kg + frame_front_kg, ahead_m),
            (bike.frame_mass_kg, frame_ahead_m - ahead_m),
        ];
        let mut loaded = *bike;
        loaded.geometry.mass_centre_ahead_m = ahead_m;
        loaded.frame_mass_kg = front_kg + rear_kg;
        loaded.frame_inertia_kg_m2 += bags.iter().map(|(kg, arm_m)| kg * arm_m * arm_m).sum::<f64>();
        Self { bike: loaded, carried_kg, push, seed }
    }

    /// The same with the axles on stands that do not give: tyres left out, so that travel is all that moves.
    #[must_use]
    pub fn on_axle_stands(mut self) -> Self {
        for tyre in [&mut self.bike.front_tyre, &mut self.bike.rear_tyre] {
            tyre.stiffness_n_per_m = 2e6;
            tyre.damping_n_s_per_m = 400.0;
        }
        self
    }

    /// Elastic force of an end at an axle travel, upward at the axle.
    fn lift_n(&self, end: End, travel_m: f64) -> f64 {
        match end {
            End::Front => self.bike.fork.elastic_force_n(travel_m) / self.sin_head(),
            End::Rear => self.bike.rear_elastic_n(travel_m),
        }
    }

    fn sin_head(&self) -> f64 {
        libm::sin(self.bike.geometry.head_angle_rad)
    }

    /// Axle travel at which an end carries its load, friction left out.
    pub fn ride_height_m(&self, end: End) -> f64 {
        let load_n = crate::plane::GRAVITY_MPS2 * self.carried_kg[end as usize];
        let (mut low, mut high) = (0.0, self.full_travel_m(end));
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.lift_n(end, middle) < load_n { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    fn full_travel_m(&self, end: End) -> f64 {
        let geometry = &self.bike.geometry;
        if end == End::Front { geometry.front_travel_m } else { geometry.rear_travel_m }
    }

    /// Stiffness against vertical movement at ride height, the tyre left out.
    pub fn stiffness_n_per_m(&self, end: End) -> f64 {
        const STEP_M: f64 = 1e-4;
        let at_m = self.ride_height_m(end);
        let per_travel = (self.lift_n(end, at_m + STEP_M) - self.lift_n(end, at_m - STEP_M)) / (2.0 * STEP_M);
        per_travel / self.vertical(end)
    }

    /// Vertical movement per axle travel.
    fn vertical(&self, end: End) -> f64 {
        if end == End::Front { self.sin_head() } else { 1.0 }
    }

    /// Rebound damping against vertical movement at ride height: damper force over speed at an axle speed, friction
    /// left out. Towards 0 m/s it is the slope of the damper's curve at rest.
    pub fn rebound_n_s_per_m(&self, end: End, axle_mps: f64) -> f64 {
        let speed_mps = axle_mps.abs().max(1e-6);
        let (unit, per_stroke) = match end {
            End::Front => (&self.bike.fork, 1.0),
            End::Rear => (&self.bike.shock, self.bike.linkage.ratio(self.ride_height_m(end))),
        };
        let force_n = -unit.damper.force_n(-speed_mps / per_stroke) / per_stroke;
        force_n / speed_mps / (self.vertical(end) * self.vertical(end))
    }

    /// True damping ratio of an end in rebound, `c / (2 sqrt(k m))`: stiffness at ride height without the tyre, the
    /// mass that the end carries, and damping at an axle speed, 0 for the linearised one. A damper whose curve bends
    /// has no one ratio: at the speeds of a bounce it is smaller than at rest.
    pub fn damping_ratio(&self, end: End, axle_mps: f64) -> f64 {
        let stiffness = self.stiffness_n_per_m(end);
        self.rebound_n_s_per_m(end, axle_mps) / (2.0 * (stiffness * self.carried_kg[end as usize]).sqrt())
    }

    /// The same with the damping that would have taken as much work out of all rebound strokes of a record as the
    /// damper did, which is what a fit of these strokes can find.
    pub fn damping_ratio_of(&self, end: End, truth: &Truth) -> f64 {
        // Creeping is friction's, not the damper's.
        const MOVING_MPS: f64 = 0.02;
        let speeds = if end == End::Front { &truth.front_speed_mps } else { &truth.rear_speed_mps };
        let (mut work, mut square) = (0.0, 0.0);
        for speed_mps in speeds.iter().map(|speed| f64::from(*speed)).filter(|speed| *speed < -MOVING_MPS) {
            work += self.damping_ratio(end, speed_mps) * speed_mps * speed_mps;
            square += speed_mps * speed_mps;
        }
        if square > 0.0 { work / square } else { self.damping_ratio(end, 0.0) }
    }

    /// Pushes it, and keeps what happens.
    pub fn bounce(&self) -> Truth {
        let plane = PitchPlane::new(self.bike, nobody(self.bike.geometry.mass_centre_ahead_m));
        let (ground, base) = (Ground::flat(), SlopePoint::default());
        let input = Input { held: true, ..Input::default() };
        let hands = Hands::new(self);
        let behind_m = self.bike.geometry.mass_centre_ahead_m;
        let ahead_m = self.bike.geometry.wheelbase_m - behind_m;
        let mut state = State::default();
        for _ in 0..(8.0 / STEP_S) as usize {
            state = plane.step(&state, &input, &ground, STEP_S);
        }
        let substeps = (1.0 / (RECORD_HZ * STEP_S)).round() as usize;
        let mut truth = Truth::new(self.bike.geometry);
        let mut path = Path::new();
        for index in 0..=(hands.until_s() * RECORD_HZ) as usize {
            let time_s = index as f64 / RECORD_HZ;
            let forces = plane.forces(&state, &input, &ground);
            path.push(&state, &base, 0.0, 0.0, 1.0 / RECORD_HZ);
            truth.push(&Moment { state, forces, input }, &plane);
            for substep in 0..substeps {
                state = plane.step(&state, &input, &ground, STEP_S);
                // The hands come from outside the plane: their impulse on the frame, step by step.
                let [front_n, rear_n] = hands.down_n(time_s + (substep as f64 + 0.5) * STEP_S);
                state.heave_mps -= STEP_S * (front_n + rear_n) / plane.sprung_kg();
                state.pitch_radps +=
                    STEP_S * (front_n * ahead_m - rear_n * behind_m) / self.bike.frame_inertia_kg_m2;
            }
        }
        inertial(&path, &mut truth);
        truth
    }
}

/// The plane wants a rider: half a kilogram at hips and shoulders each, over the mass centre.
fn nobody(ahead_m: f64) -> Rider {
    let limb = Limb {
        mass_kg: 0.5,
        ahead_m,
        stiffness_n_per_m: 8000.0,
        hardening_n_per_m3: 0.0,
        damping_n_s_per_m: 60.0,
    };
    Rider { on_frame_kg: 0.0, legs: limb, arms: limb, ..Rider::default() }
}

/// Hands pressing on the frame over the axles.
struct Hands {
    push: Push,
    /// Force of each push at front and rear.
    most_n: Vec<[f64; 2]>,
}

impl Hands {
    fn new(bench: &Bench) -> Self {
        let mut random = Random::new(bench.seed, 70);
        let mut push_n = |end: End| {
            let at_m = bench.ride_height_m(end);
            // What friction keeps of it is not known to the hand.
            let depth_m = random.between(0.047, 0.057);
            bench.lift_n(end, at_m + depth_m) - bench.lift_n(end, at_m)
        };
        let most_n = match bench.push {
            Push::One(End::Front) => (0..PUSHES).map(|_| [push_n(End::Front), 0.0]).collect(),
            Push::One(End::Rear) => (0..PUSHES).map(|_| [0.0, push_n(End::Rear)]).collect(),
            Push::Both => (0..PUSHES).map(|_| [push_n(End::Front), push_n(End::Rear)]).collect(),
            Push::Rocking => vec![[350.0; 2]],
        };
        Self { push: bench.push, most_n }
    }

    fn until_s(&self) -> f64 {
        let moving_s = if self.push == Push::Rocking { ROCKING_S } else { PUSHES as f64 * CYCLE_S };
        moving_s + 2.0 * STILL_S
    }

    /// Force at front and rear.
    fn down_n(&self, time_s: f64) -> [f64; 2] {
        use std::f64::consts::{PI, TAU};
        let time_s = time_s - STILL_S;
        if time_s < 0.0 {
            return [0.0; 2];
        }
        if self.push == Push::Rocking {
            let Some(most_n) = self.most_n.first().filter(|_| time_s < ROCKING_S) else { return [0.0; 2] };
            const SLOWEST_HZ: f64 = 0.4;
            const FASTEST_HZ: f64 = 4.5;
            let turns = time_s * (SLOWEST_HZ + 0.5 * (FASTEST_HZ - SLOWEST_HZ) * time_s / ROCKING_S);
            // Hands can only press: each end in turn.
            let front = 0.5 * (1.0 + libm::sin(TAU * turns));
            let fade = (time_s.min(ROCKING_S - time_s) / 0.5).min(1.0);
            return [most_n[0] * front * fade, most_n[1] * (1.0 - front) * fade];
        }
        let cycle = (time_s / CYCLE_S) as usize;
        let within_s = time_s - cycle as f64 * CYCLE_S;
        let half_cosine = |share: f64| 0.5 - 0.5 * libm::cos(PI * share.clamp(0.0, 1.0));
        let share = half_cosine(within_s / PRESS_S) - half_cosine((within_s - PRESS_S - HOLD_S) / LET_GO_S);
        self.most_n.get(cycle).map_or([0.0; 2], |most_n| most_n.map(|force_n| share * force_n))
    }
}
