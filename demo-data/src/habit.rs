//! What happens at the brakes beside the braking that the pace asks for.

use crate::pace::{Demand, Progress};
use crate::random::Random;
use crate::ride::{Run, START_S};

/// A pull on a lever that begins at a place: short and hard, or long and light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stab {
    /// Where it begins.
    pub at_m: f64,
    /// How long it lasts.
    pub length_s: f64,
    /// Pressure asked for; while a hand is already braking harder, it does nothing.
    pub pressure_bar: f64,
}

/// Pressure that stays in a hose with the lever free. At the gate there is none: it comes as the brake warms.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Residual {
    /// The part that stays, reached 10 s after the gate.
    pub constant_bar: f64,
    /// Largest height of a blip over it.
    pub blip_bar: f64,
    /// Blips a minute.
    pub blips_per_min: f64,
}

/// Both brakes' habits during one run.
#[derive(Clone, Debug)]
pub(crate) struct Habits {
    ends: [Brake; 2],
}

#[derive(Clone, Debug)]
struct Brake {
    stabs: Vec<Stab>,
    /// When each stab began, infinite before.
    began_s: Vec<f64>,
    pulled_bar: f64,
    residual: Residual,
    /// Start, length and height of each blip.
    blips: Vec<[f64; 3]>,
}

impl Habits {
    pub(crate) fn new(run: &Run) -> Self {
        let brake = |stabs: &[Stab], residual: Residual, stream: u64| Brake {
            stabs: stabs.to_vec(),
            began_s: vec![f64::INFINITY; stabs.len()],
            pulled_bar: 0.0,
            residual,
            blips: blips(residual, &mut Random::new(run.seed, stream)),
        };
        let [front, rear] = run.residual;
        Self { ends: [brake(&run.front_stabs, front, 50), brake(&run.rear_stabs, rear, 51)] }
    }

    /// Adds them to what the hands ask for. Once the bike stands, only what is left in the hoses.
    pub(crate) fn act(&mut self, demand: &mut Demand, now: Progress, stopped: bool, period_s: f64) {
        let asked = [&mut demand.front_brake_bar, &mut demand.rear_brake_bar];
        for (brake, asked_bar) in self.ends.iter_mut().zip(asked) {
            let pulled_bar = brake.pulled(now, stopped, period_s);
            *asked_bar = asked_bar.max(pulled_bar).max(brake.left_bar(now.time_s));
        }
    }
}

impl Brake {
    fn pulled(&mut self, now: Progress, stopped: bool, period_s: f64) -> f64 {
        const BUILD_UP_S: f64 = 0.03;
        const RELEASE_S: f64 = 0.03;
        let mut asked_bar = 0.0_f64;
        for (stab, began_s) in self.stabs.iter().zip(&mut self.began_s) {
            if now.distance_m >= stab.at_m {
                *began_s = began_s.min(now.time_s);
            }
            if !stopped && (*began_s..*began_s + stab.length_s).contains(&now.time_s) {
                asked_bar = asked_bar.max(stab.pressure_bar);
            }
        }
        let lag_s = if asked_bar > self.pulled_bar { BUILD_UP_S } else { RELEASE_S };
        self.pulled_bar += (asked_bar - self.pulled_bar) * (period_s / lag_s).min(1.0);
        self.pulled_bar
    }

    fn left_bar(&self, time_s: f64) -> f64 {
        const WARMING_S: f64 = 10.0;
        let constant = self.residual.constant_bar * ((time_s - START_S) / WARMING_S).clamp(0.0, 1.0);
        let next = self.blips.partition_point(|[start_s, ..]| *start_s <= time_s);
        let blip = next.checked_sub(1).and_then(|index| self.blips.get(index)).map_or(
            0.0,
            |[start, length, bar]| {
                bar * libm::sin(std::f64::consts::PI * ((time_s - start) / length).clamp(0.0, 1.0))
            },
        );
        constant + blip
    }
}

/// Half sines at random times, none before the last has gone.
fn blips(residual: Residual, random: &mut Random) -> Vec<[f64; 3]> {
    const LONGEST_RUN_S: f64 = 600.0;
    let mut blips = Vec::new();
    if residual.blips_per_min <= 0.0 {
        return blips;
    }
    let mut start_s = START_S;
    loop {
        start_s += -60.0 / residual.blips_per_min * libm::log(random.unit());
        if start_s > LONGEST_RUN_S {
            return blips;
        }
        let length_s = random.between(0.12, 0.35);
        blips.push([start_s, length_s, residual.blip_bar * random.between(0.6, 1.0)]);
        start_s += length_s;
    }
}
