//! One run from the gate to standing still, moved through time.

use crate::attitude::{Path, inertial};
use crate::bike::Bike;
use crate::brake::Line;
use crate::ground::Ground;
use crate::habit::{Habits, Residual, Stab};
use crate::pace::{Hands, Progress, SpeedPlan};
use crate::plane::{GRAVITY_MPS2, Input, PitchPlane, State};
use crate::push::{self, PushHabit, Pushes};
use crate::random::{Random, Unrest};
use crate::rider::Rider;
use crate::track::Track;
use crate::truth::{Moment, RECORD_HZ, Truth};

/// When the rider leaves the gate.
pub const START_S: f64 = 10.0;
/// Deliberate knocks on the bars, for matching clocks.
pub const TAPS_S: [f64; 3] = [6.3, 6.95, 7.6];
/// How long the bike stands after the run.
pub const STILL_AFTER_S: f64 = 6.5;
/// Step of the integration; `tests/convergence.rs` says what it costs.
pub const STEP_S: f64 = 0.25e-3;

/// Everything that makes one run what it is. Whatever a test wants to change, it changes here.
#[derive(Clone, Debug)]
pub struct Run {
    /// The bike, set up.
    pub bike: Bike,
    /// The rider.
    pub rider: Rider,
    /// The track.
    pub track: Track,
    /// Seed of the hill: the same for every run of a day.
    pub hill_seed: u64,
    /// Seed of this run: its line, its rider's unrest, its sensors' noise.
    pub seed: u64,
    /// Where the rider pushes the bars.
    pub pushes: Vec<PushHabit>,
    /// Integration step; a whole number of them must fit into the recording period.
    pub step_s: f64,
    /// Stop early, for checks that need only a part of the run.
    pub until_s: f64,
    /// Pulls on the front lever that the pace does not ask for.
    pub front_stabs: Vec<Stab>,
    /// The same on the rear lever.
    pub rear_stabs: Vec<Stab>,
    /// Pressure in the front and rear hose with the lever free.
    pub residual: [Residual; 2],
    /// Share of the front and rear spring's force that is lost a second from the gate on.
    pub spring_loss_per_s: [f64; 2],
}

impl Run {
    /// A run down Harrowdean Bank.
    pub fn new(bike: Bike, rider: Rider, hill_seed: u64, seed: u64) -> Self {
        let track = Track::harrowdean_bank();
        Self {
            bike,
            rider,
            pushes: push::usual(&track),
            track,
            hill_seed,
            seed,
            step_s: STEP_S,
            until_s: f64::INFINITY,
            front_stabs: Vec::new(),
            rear_stabs: Vec::new(),
            residual: [Residual::default(); 2],
            spring_loss_per_s: [0.0; 2],
        }
    }

    /// The bike after some time on the track.
    fn bike_after(&self, rolling_s: f64) -> Bike {
        let mut bike = self.bike;
        for (unit, loss_per_s) in [&mut bike.fork, &mut bike.shock].into_iter().zip(self.spring_loss_per_s) {
            unit.spring = unit.spring.scaled((1.0 - loss_per_s * rolling_s).max(0.1));
        }
        bike
    }

    /// Rides it.
    pub fn ride(&self) -> Truth {
        /// Slower than this the bike stands, and a foot is put down.
        const STANDING_MPS: f64 = 0.05;
        // Nobody is on the hill longer than this, whatever was changed on the bike.
        const PATIENCE_S: f64 = 600.0;
        let period_s = 1.0 / RECORD_HZ;
        let substeps = (period_s / self.step_s).round().max(1.0) as usize;
        let step_s = period_s / substeps as f64;

        let ground = Ground::of_track(&self.track, self.hill_seed, self.seed);
        let mut plane = PitchPlane::new(self.bike, self.rider);
        let plan = SpeedPlan::new(&self.track, &self.rider);
        let mut hands = Hands::new(&mut Random::new(self.seed, 10));
        let mut habits = Habits::new(self);
        let body = Body::new(&mut Random::new(self.seed, 11));
        let mut state = settle(&plane, &ground, &self.track);
        let mut truth = Truth::new(self.bike.geometry);
        let mut path = Path::new();
        let mut lean = Lean::default();
        // Of the frame, as it was a moment ago; the brake hoses feel it.
        let mut lateral_mps2 = 0.0;
        let mut pushes = Pushes::new(&self.pushes);
        let mut lines = [Line::default(); 2];
        let mut stopped_s = f64::INFINITY;
        let mut air_s = [0.0; 2];
        let mut index = 0_u64;
        loop {
            let time_s = index as f64 * period_s;
            if time_s > (stopped_s + STILL_AFTER_S).min(PATIENCE_S).min(self.until_s) {
                break;
            }
            let started = time_s >= START_S;
            if started && state.distance_m > self.track.finish_m && state.speed_mps < STANDING_MPS {
                stopped_s = stopped_s.min(time_s);
            }
            let held = !started || stopped_s.is_finite();
            if held {
                state.speed_mps = 0.0;
            }
            let now = Progress { time_s, distance_m: state.distance_m, speed_mps: state.speed_mps };
            let push_n = if held { None } else { pushes.act(now, hands.on_the_brakes(), &mut truth.pushes) };
            hands.busy(push_n.is_some());
            let base = self.track.base_at(state.distance_m);
            let yaw_rate_radps = base.curvature_per_m * state.speed_mps;
            let rolling = (state.speed_mps / 4.0).min(1.0);
            let lean_rad =
                lean.follow(&self.track, &state, period_s) + body.lean.at(time_s) * (0.25 + 0.75 * rolling);
            let mut demand = if started {
                hands.act(&plan, &self.track, &self.rider, &self.bike, now, period_s)
            } else {
                Default::default()
            };
            if stopped_s.is_finite() {
                // The bike is held by the rear lever for a moment, then by the legs.
                demand.front_brake_bar = 0.0;
                demand.rear_brake_bar = if time_s < stopped_s + 1.5 { 5.0 } else { 0.0 };
            }
            if started {
                habits.act(&mut demand, now, stopped_s.is_finite(), period_s);
                if self.spring_loss_per_s != [0.0; 2] {
                    plane = PitchPlane::new(self.bike_after(time_s - START_S), self.rider);
                }
            }
            let ends = plane.ends(&state, &ground);
            let [front_line, rear_line] = &mut lines;
            let front_brake_bar = front_line.follow(
                &self.bike.front_brake,
                demand.front_brake_bar,
                lateral_mps2,
                lean_rad,
                period_s,
            );
            let rear_brake_bar = rear_line.follow(
                &self.bike.rear_brake,
                demand.rear_brake_bar,
                lateral_mps2,
                lean_rad,
                period_s,
            );
            for (air, load_n) in air_s.iter_mut().zip([ends.front_load_n, ends.rear_load_n]) {
                *air = if load_n > 0.0 { 0.0 } else { *air + period_s };
            }
            let input = Input {
                slope_rad: base.slope_rad,
                slope_rate_rad_per_m: base.slope_rate_rad_per_m,
                slope_bend_rad_per_m2: base.slope_bend_rad_per_m2,
                lean_rad,
                yaw_rate_radps,
                front_brake_bar,
                rear_brake_bar,
                pedal_n: if held { 0.0 } else { demand.pedal_n },
                hands_n: knock_n(time_s) + body.hands.at(time_s) * (0.1 + 0.9 * rolling),
                push_n: push_n.unwrap_or(0.0),
                feet_n: body.feet.at(time_s) * (0.1 + 0.9 * rolling),
                steer_rad: body.steer.at(time_s) * rolling,
                attitude_nm: self.air_attitude_nm(&state, &ground, air_s),
                held,
            };
            path.push(&state, &base, lean_rad, plane.sideways().sprung_m(&state.sway), period_s);
            let forces = plane.forces(&state, &input, &ground);
            lateral_mps2 = (forces.front_side_n + forces.rear_side_n) / plane.mass_kg();
            truth.push(&Moment { state, forces, input }, &plane);
            for _ in 0..substeps {
                state = plane.step(&state, &input, &ground, step_s);
            }
            index += 1;
        }
        inertial(&path, &mut truth);
        truth
    }

    /// In the air the rider turns the bike to the ground that is coming, as far as arms and legs can.
    fn air_attitude_nm(&self, state: &State, ground: &Ground, air_s: [f64; 2]) -> f64 {
        const SURE_S: f64 = 0.05;
        const AHEAD_S: f64 = 0.25;
        if air_s[0] < SURE_S {
            return 0.0;
        }
        // Not all at once; and with the rear still on the take-off there is less to turn against.
        let [front, rear] = air_s.map(|air_s| (air_s / SURE_S).min(2.0));
        let grip = (front - 1.0) * (0.6 + 0.2 * rear);
        let at_m = state.distance_m + AHEAD_S * state.speed_mps;
        let span_m = self.bike.geometry.wheelbase_m;
        let coming_rad = -(ground.at(at_m + span_m).0 - ground.at(at_m - span_m).0) / (2.0 * span_m);
        let rider = &self.rider;
        let torque = rider.air_torque_nm_per_rad * (coming_rad.clamp(-0.3, 0.3) - state.pitch_rad)
            - rider.air_damping_nm_s_per_rad * state.pitch_radps;
        grip * torque.clamp(-rider.air_torque_max_nm, rider.air_torque_max_nm)
    }
}

/// The lean of bike and rider, which have mass: what balances the corner, seen coming and followed without a jolt.
#[derive(Clone, Copy, Debug, Default)]
struct Lean {
    angle_rad: f64,
    rate_radps: f64,
}

impl Lean {
    /// Lean after one more period. A critically damped follower is late by twice its time constant; the rider looks
    /// ahead by as much.
    fn follow(&mut self, track: &Track, state: &State, period_s: f64) -> f64 {
        const LAG_S: f64 = 0.08;
        let coming_m = state.distance_m + 2.0 * LAG_S * state.speed_mps;
        let yaw_rate_radps = track.base_at(coming_m).curvature_per_m * state.speed_mps;
        let balanced_rad = -libm::atan(state.speed_mps * yaw_rate_radps / GRAVITY_MPS2);
        let pull = (balanced_rad - self.angle_rad) / LAG_S - 2.0 * self.rate_radps;
        self.rate_radps += period_s * pull / LAG_S;
        self.angle_rad += period_s * self.rate_radps;
        self.angle_rad
    }
}

/// Small movements of a person who is never quite still.
struct Body {
    lean: Unrest,
    steer: Unrest,
    hands: Unrest,
    feet: Unrest,
}

impl Body {
    fn new(random: &mut Random) -> Self {
        Self {
            lean: Unrest::new(random, 1.1_f64.to_radians(), 0.15, 0.9),
            steer: Unrest::new(random, 0.15_f64.to_radians(), 0.4, 2.2),
            hands: Unrest::new(random, 40.0, 0.2, 1.4),
            feet: Unrest::new(random, 110.0, 0.2, 1.2),
        }
    }
}

/// A stamp on the bars: half a sine of 50 ms.
fn knock_n(time_s: f64) -> f64 {
    const LENGTH_S: f64 = 0.05;
    const PEAK_N: f64 = 900.0;
    TAPS_S
        .iter()
        .map(|start_s| (time_s - start_s) / LENGTH_S)
        .filter(|share| (0.0..1.0).contains(share))
        .map(|share| PEAK_N * libm::sin(std::f64::consts::PI * share))
        .sum()
}

/// The bike at rest at the gate, found by letting it sink in.
fn settle(plane: &PitchPlane, ground: &Ground, track: &Track) -> State {
    const SETTLING_S: f64 = 5.0;
    let base = track.base_at(0.0);
    let input = Input { slope_rad: base.slope_rad, held: true, ..Input::default() };
    let mut state = State::default();
    for _ in 0..(SETTLING_S / STEP_S) as usize {
        state = plane.step(&state, &input, ground, STEP_S);
    }
    state
}
