//! How fast the rider wants to go, and what the hands do about it.

use crate::bike::Bike;
use crate::plane::GRAVITY_MPS2;
use crate::random::{Random, Unrest};
use crate::rider::Rider;
use crate::track::Track;

const GRID_M: f64 = 0.5;

/// Speed wanted along the track: what the ground and the corners allow, and early enough before they do.
#[derive(Clone, Debug)]
pub struct SpeedPlan {
    target_mps: Vec<f64>,
}

impl SpeedPlan {
    /// Plans a run.
    pub fn new(track: &Track, rider: &Rider) -> Self {
        let count = ((track.stop_m + 10.0) / GRID_M) as usize;
        let mut target_mps: Vec<f64> = (0..count)
            .map(|index| {
                let distance_m = index as f64 * GRID_M;
                if distance_m >= track.stop_m {
                    return 0.0;
                }
                let corner = track.base_at(distance_m).curvature_per_m.abs().max(1e-6);
                let allowed =
                    track.section_at(distance_m).speed_mps.min((rider.cornering_mps2 / corner).sqrt());
                rider.pace * allowed
            })
            .collect();
        for index in (0..count - 1).rev() {
            let next = target_mps[index + 1];
            let braked = (next * next + 2.0 * rider.braking_mps2 * GRID_M).sqrt();
            target_mps[index] = target_mps[index].min(braked);
        }
        Self { target_mps }
    }

    /// Time to a distance if the speed wanted were always there.
    pub fn least_time_s(&self, distance_m: f64) -> f64 {
        let count = ((distance_m / GRID_M) as usize).min(self.target_mps.len());
        self.target_mps[..count].iter().map(|target| GRID_M / target.max(0.5)).sum()
    }

    /// Speed wanted at a distance.
    pub fn at(&self, distance_m: f64) -> f64 {
        let place = (distance_m / GRID_M).clamp(0.0, (self.target_mps.len() - 2) as f64);
        let index = place as usize;
        let (a, b) = (self.target_mps[index], self.target_mps[index + 1]);
        a + (b - a) * (place - index as f64)
    }
}

/// Brake levers and pedals.
#[derive(Clone, Debug)]
pub struct Hands {
    braking: bool,
    last_excess_mps: f64,
    pushing: bool,
    front_bar: f64,
    rear_bar: f64,
    unrest: Unrest,
}

/// What hands and feet ask for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Demand {
    /// Front brake pressure at the lever.
    pub front_brake_bar: f64,
    /// Rear brake pressure at the lever.
    pub rear_brake_bar: f64,
    /// Forward force from the pedals.
    pub pedal_n: f64,
}

/// Where the bike is and how fast.
#[derive(Clone, Copy, Debug)]
pub struct Progress {
    /// Time.
    pub time_s: f64,
    /// Distance.
    pub distance_m: f64,
    /// Speed.
    pub speed_mps: f64,
}

impl Hands {
    /// Idle hands.
    pub fn new(random: &mut Random) -> Self {
        Self {
            braking: false,
            last_excess_mps: 0.0,
            pushing: false,
            front_bar: 0.0,
            rear_bar: 0.0,
            unrest: Unrest::new(random, 0.10, 0.5, 4.0),
        }
    }

    /// Tells the hands that they are pushing the bars: no braking meanwhile.
    pub fn busy(&mut self, pushing: bool) {
        self.pushing = pushing;
    }

    /// True with a lever clearly pulled.
    pub fn on_the_brakes(&self) -> bool {
        self.braking || self.front_bar.max(self.rear_bar) > 0.5
    }

    /// Moves the levers by one control period. The rider brakes in applications, not in trickles: on when clearly
    /// too fast, off when a little slower than wanted; the rear lever comes and goes before the front one.
    pub fn act(
        &mut self,
        plan: &SpeedPlan,
        track: &Track,
        rider: &Rider,
        bike: &Bike,
        now: Progress,
        period_s: f64,
    ) -> Demand {
        const TOO_FAST_MPS: f64 = 0.55;
        const SLOW_ENOUGH_MPS: f64 = -0.35;
        const LOOK_AHEAD_S: f64 = 0.25;
        const BUILD_UP_FRONT_S: f64 = 0.11;
        const BUILD_UP_REAR_S: f64 = 0.06;
        const RELEASE_S: f64 = 0.04;
        let wanted = plan.at(now.distance_m).min(plan.at(now.distance_m + LOOK_AHEAD_S * now.speed_mps));
        let excess = now.speed_mps - wanted;
        let jump = track.is_jump(now.distance_m);
        let was_braking = self.braking;
        if excess > TOO_FAST_MPS && !jump {
            self.braking = true;
        } else if excess < SLOW_ENOUGH_MPS || jump {
            self.braking = false;
        }
        // The hand moves when the speed has passed the threshold, not at the next tick: else a step of integration that
        // is a little finer would shift all that follows by a whole period.
        let passed = if self.braking { TOO_FAST_MPS } else { SLOW_ENOUGH_MPS };
        let after = if self.braking == was_braking || jump {
            1.0
        } else {
            ((excess - passed) / (excess - self.last_excess_mps)).clamp(0.0, 1.0)
        };
        self.last_excess_mps = excess;
        let mass_kg = bike.mass_kg() + rider.mass_kg();
        let wanted_n = |braking: bool| {
            if !braking || self.pushing {
                return 0.0;
            }
            let slope = libm::sin(track.base_at(now.distance_m).slope_rad);
            let deceleration = (2.8 + 2.6 * excess).clamp(2.0, 6.0) + 0.6 * GRAVITY_MPS2 * slope;
            (mass_kg * deceleration * (1.0 + self.unrest.at(now.time_s))).max(0.0)
        };
        let forces_n = [wanted_n(was_braking), wanted_n(self.braking)];
        let follow = |pressure: &mut f64, asked: f64, build_up_s: f64, period_s: f64| {
            let lag_s = if asked > *pressure { build_up_s } else { RELEASE_S };
            *pressure += (asked - *pressure) * (period_s / lag_s).min(1.0);
        };
        let share = rider.front_brake_share;
        let pressure_bar = |force_n: f64, n_per_bar: f64, touch_bar: f64| {
            if force_n > 0.0 { touch_bar + force_n / n_per_bar } else { 0.0 }
        };
        for (force_n, part_s) in forces_n.into_iter().zip([(1.0 - after) * period_s, after * period_s]) {
            let front_bar =
                pressure_bar(share * force_n, bike.front_brake_n_per_bar, bike.front_brake.touch_bar);
            let rear_bar =
                pressure_bar((1.0 - share) * force_n, bike.rear_brake_n_per_bar, bike.rear_brake.touch_bar);
            follow(&mut self.front_bar, front_bar, BUILD_UP_FRONT_S, part_s);
            follow(&mut self.rear_bar, rear_bar, BUILD_UP_REAR_S, part_s);
        }
        const PEDAL_FORCE_MAX_N: f64 = 190.0;
        let smooth = matches!(track.section_at(now.distance_m).name, "Start straight" | "Finish straight");
        let pedal = smooth && !self.braking && now.distance_m < track.finish_m;
        // Softly in and out.
        let effort = ((-0.8 - excess) / 0.4).clamp(0.0, 1.0);
        Demand {
            front_brake_bar: self.front_bar,
            rear_brake_bar: self.rear_bar,
            pedal_n: if pedal {
                effort * (rider.pedal_power_w / now.speed_mps.max(1.0)).min(PEDAL_FORCE_MAX_N)
            } else {
                0.0
            },
        }
    }
}
