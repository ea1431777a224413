//! Faults put into a run on purpose, so that an analysis can be asked what is wrong.
//!
//! ```
//! use evenkeel_demo_data::bike::End;
//! use evenkeel_demo_data::day::plans;
//! use evenkeel_demo_data::fault::{Fault, Kind, Severity};
//! use evenkeel_demo_data::logger::{motion::MotionLogger, suspension::SuspensionLogger};
//! use evenkeel_demo_data::sensor::Clock;
//!
//! let clock = Clock { offset_s: 0.0, drift_ppm: 0.0 };
//! let mut run = plans()[0].run();
//! let (mut suspension, mut motion) = (SuspensionLogger::new(clock), MotionLogger::new(clock));
//! let fault = Fault { kind: Kind::SpringTooSoft, end: Some(End::Rear), severity: Severity::Clear };
//! fault.apply(&mut run, &mut suspension, &mut motion);
//! ```

use std::ops::Range;

use crate::bike::End;
use crate::habit::{Residual, Stab};
use crate::logger::motion::MotionLogger;
use crate::logger::suspension::SuspensionLogger;
use crate::pace::SpeedPlan;
use crate::random::Random;
use crate::ride::Run;
use crate::sensor::Trouble;
use crate::track::{Feature, Track};

/// What is wrong. Sizes are those of [`Severity::Clear`]; the light fault is a third of them, of a factor's logarithm
/// where the size is a factor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Rebound damping x 0.5.
    ReboundTooFast,
    /// Rebound damping x 2.
    ReboundTooSlow,
    /// Spring force -20 % everywhere, preload and all.
    SpringTooSoft,
    /// Spring force -15 % by the finish, linear in time: air that leaks out of the fork; at the rear the coil's force
    /// falls the same way, as a stand-in for an air shock.
    AirLoss,
    /// A lever held at up to 3 bar for 3 to 5 s at six places.
    Drag,
    /// With the lever free 0.3 bar that stay, and up to 0.3 bar more in 25 blips a minute.
    Residual,
    /// The rear lever grabbed at five places, for a rear lock of over 0.2 s.
    RearLocks,
    /// A lever pulled to 6 bar for 0.6 s in the run-up of each jump; see [`no_brake_stretches`].
    NoBrakeSection,
    /// The travel sensors are plugged into each other's sockets.
    EndsSwapped,
    /// A travel sensor slips by 8 mm at the axle, somewhere in the first third of the track.
    ZeroMoved,
    /// A travel sensor shows one value; the light fault begins two thirds down.
    TravelDead,
    /// A travel sensor cannot show the deepest 54 % of its stroke.
    TravelClipped,
    /// A travel sensor is fitted the wrong way round and reads what is left of its stroke.
    TravelInverted,
    /// A travel sensor with 3 mm of white noise, at the axle.
    TravelNoisy,
    /// The frame's gyroscope shows zero on all axes.
    GyroDead,
}

/// How much of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Severity {
    /// The size that must be found.
    Clear,
    /// A third of it.
    Light,
}

impl Severity {
    /// Share of the clear size.
    pub fn share(self) -> f64 {
        match self {
            Self::Clear => 1.0,
            Self::Light => 1.0 / 3.0,
        }
    }
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 15] = [
        Self::ReboundTooFast,
        Self::ReboundTooSlow,
        Self::SpringTooSoft,
        Self::AirLoss,
        Self::Drag,
        Self::Residual,
        Self::RearLocks,
        Self::NoBrakeSection,
        Self::EndsSwapped,
        Self::ZeroMoved,
        Self::TravelDead,
        Self::TravelClipped,
        Self::TravelInverted,
        Self::TravelNoisy,
        Self::GyroDead,
    ];

    /// The ends at which it can be; `None` for what has no end.
    pub fn ends(self) -> &'static [Option<End>] {
        match self {
            Self::RearLocks => &[Some(End::Rear)],
            Self::EndsSwapped | Self::GyroDead => &[None],
            _ => &[Some(End::Front), Some(End::Rear)],
        }
    }

    /// A sensor that is the wrong way round, in the wrong place or dead has no third of it.
    pub fn severities(self) -> &'static [Severity] {
        match self {
            Self::EndsSwapped | Self::TravelInverted | Self::GyroDead => &[Severity::Clear],
            _ => &[Severity::Clear, Severity::Light],
        }
    }

    /// Name of the finding that a reader of the log should come to first. Sensor faults are named as the doubt
    /// about the channel is.
    pub fn finding(self) -> &'static str {
        match self {
            Self::ReboundTooFast => "rebound_too_fast",
            Self::ReboundTooSlow => "rebound_too_slow",
            Self::SpringTooSoft => "too_soft",
            Self::AirLoss => "ride_height_drifts",
            Self::Drag => "brake_dragged",
            Self::Residual => "brake_residual",
            Self::RearLocks => "rear_locks",
            Self::NoBrakeSection => "brake_in_no_brake_section",
            Self::EndsSwapped => "ends_swapped",
            Self::ZeroMoved => "zero_moved",
            Self::TravelDead | Self::GyroDead => "constant",
            Self::TravelClipped => "clipped",
            Self::TravelInverted => "inverted",
            Self::TravelNoisy => "noisy",
        }
    }
}

/// Factor on rebound damping that is too fast, and its inverse for too slow.
const REBOUND_FACTOR: f64 = 0.5;
const SOFT_SHARE: f64 = 0.20;
const AIR_SHARE: f64 = 0.15;
const DRAG_BAR: f64 = 3.0;
const DRAGS: usize = 6;
const RESIDUAL: Residual = Residual { constant_bar: 0.3, blip_bar: 0.3, blips_per_min: 25.0 };
const LOCKS: usize = 5;
const LOCK_BAR: f64 = 45.0;
/// Time until pressure is there and the wheel has stopped.
const LOCK_LEAD_S: f64 = 0.10;
const LOCKED_S: f64 = 0.24;
const NO_BRAKE_BAR: f64 = 6.0;
const NO_BRAKE_S: f64 = 0.6;
const ZERO_MM: f64 = 8.0;
const CLIPPED_SHARE: f64 = 0.54;
const NOISE_MM: f64 = 3.0;

/// One fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Fault {
    /// What.
    pub kind: Kind,
    /// Where on the bike; one of [`Kind::ends`].
    pub end: Option<End>,
    /// How much.
    pub severity: Severity,
}

impl Fault {
    /// Every kind at every end that it can have, in every severity.
    pub fn all() -> impl Iterator<Item = Self> {
        Kind::ALL.into_iter().flat_map(|kind| {
            kind.ends().iter().flat_map(move |&end| {
                kind.severities().iter().map(move |&severity| Self { kind, end, severity })
            })
        })
    }

    /// Puts it into a run and its loggers. Places and signs follow from the run's seed. A fault of one end that is
    /// given none is put at the rear.
    pub fn apply(&self, run: &mut Run, suspension: &mut SuspensionLogger, motion: &mut MotionLogger) {
        let share = self.severity.share();
        let end = self.end.unwrap_or(End::Rear);
        let mut random = Random::new(run.seed, 40);
        let stroke_m = run.bike.shock.stops.stroke_m;
        // Stroke per axle travel where the end is extended, and over the whole range.
        let (at_extension, overall) = match end {
            End::Front => (1.0, 1.0),
            End::Rear => (1.0 / run.bike.linkage.ratio(0.0), stroke_m / run.bike.geometry.rear_travel_m),
        };
        let full_mm = 1000.0 * if end == End::Front { run.bike.geometry.front_travel_m } else { stroke_m };
        let (sensor, trouble) = match end {
            End::Front => (&mut suspension.front_mm, &mut suspension.front_trouble),
            End::Rear => (&mut suspension.stroke_mm, &mut suspension.stroke_trouble),
        };
        match self.kind {
            Kind::ReboundTooFast | Kind::ReboundTooSlow => {
                let sign = if self.kind == Kind::ReboundTooFast { 1.0 } else { -1.0 };
                let damper = &mut run.bike.unit_mut(end).damper;
                *damper = damper.with_rebound(libm::pow(REBOUND_FACTOR, sign * share));
            }
            Kind::SpringTooSoft => {
                let spring = &mut run.bike.unit_mut(end).spring;
                *spring = spring.scaled(1.0 - share * SOFT_SHARE);
            }
            Kind::AirLoss => {
                run.spring_loss_per_s[end as usize] = share * AIR_SHARE / expected_s(run);
            }
            Kind::Drag => {
                let stabs = places(run, DRAGS, 55.0, |at_m| !run.track.is_jump(at_m), &mut random)
                    .into_iter()
                    .flat_map(|at_m| lightly_held(at_m, share * DRAG_BAR, &mut random))
                    .collect();
                run.add_stabs(end, stabs);
            }
            Kind::Residual => {
                run.residual[end as usize] = Residual {
                    constant_bar: share * RESIDUAL.constant_bar,
                    blip_bar: share * RESIDUAL.blip_bar,
                    ..RESIDUAL
                };
            }
            Kind::RearLocks => {
                let length_s = LOCK_LEAD_S + share * LOCKED_S;
                let stab = |at_m| Stab { at_m, length_s, pressure_bar: LOCK_BAR };
                let stabs = places(run, LOCKS, 8.0, |at_m| is_smooth(&run.track, at_m), &mut random)
                    .into_iter()
                    .map(stab)
                    .collect();
                run.add_stabs(End::Rear, stabs);
            }
            Kind::NoBrakeSection => {
                let stab = |stretch: Range<f64>| Stab {
                    at_m: stretch.start + 1.5,
                    length_s: NO_BRAKE_S,
                    pressure_bar: share * NO_BRAKE_BAR,
                };
                let stabs = no_brake_stretches(&run.track).into_iter().map(stab).collect();
                run.add_stabs(end, stabs);
            }
            Kind::EndsSwapped => suspension.swapped = Some(stroke_m / run.bike.geometry.front_travel_m),
            Kind::ZeroMoved => {
                let sign = if random.unit() < 0.5 { -1.0 } else { 1.0 };
                let from_m = random.between(0.04, 0.3) * run.track.finish_m;
                *trouble = Trouble::Shifted { by: sign * share * ZERO_MM * at_extension, from_m };
            }
            Kind::TravelDead => {
                let from_m = match self.severity {
                    Severity::Clear => f64::NEG_INFINITY,
                    Severity::Light => (1.0 - share) * run.track.finish_m,
                };
                *trouble = Trouble::Stuck { from_m };
            }
            Kind::TravelClipped => sensor.range = (1.0 - share * CLIPPED_SHARE) * full_mm,
            Kind::TravelInverted => *trouble = Trouble::Inverted { full: full_mm },
            Kind::TravelNoisy => sensor.noise += share * NOISE_MM * overall,
            Kind::GyroDead => {
                for sensor in &mut motion.gyro_dps {
                    sensor.range = 0.0;
                }
            }
        }
    }
}

impl Run {
    fn add_stabs(&mut self, end: End, stabs: Vec<Stab>) {
        match end {
            End::Front => self.front_stabs.extend(stabs),
            End::Rear => self.rear_stabs.extend(stabs),
        }
    }
}

/// Stretches of a track where no good run brakes: jumps, from the run-up until the bike rolls again.
pub fn no_brake_stretches(track: &Track) -> Vec<Range<f64>> {
    let stretch = |jump: &Feature| match *jump {
        Feature::Jump { lip_m, ramp_m, gap_m, landing_m, .. } => {
            Some(lip_m - ramp_m - 6.0..lip_m + gap_m + landing_m)
        }
        _ => None,
    };
    track.jumps.iter().filter_map(stretch).collect()
}

/// About how long the run takes: what the plan of its speed allows, and what starting and braking cost.
fn expected_s(run: &Run) -> f64 {
    SpeedPlan::new(&run.track, &run.rider).least_time_s(run.track.finish_m) * OVER_LEAST_TIME
}

/// Time of a ride over the least that its plan allows (model, `tests/fault.rs`).
const OVER_LEAST_TIME: f64 = 1.04;

/// Places spread over the track, one in each of as many equal parts of those where all that lies `free_m` ahead suits.
fn places(
    run: &Run,
    count: usize,
    free_m: f64,
    suits: impl Fn(f64) -> bool,
    random: &mut Random,
) -> Vec<f64> {
    const START_M: f64 = 40.0;
    const STEP_M: f64 = 2.0;
    let steps = (0..=(free_m / STEP_M) as usize).map(|step| STEP_M * step as f64);
    let all = (START_M / STEP_M) as usize..((run.track.finish_m - free_m) / STEP_M) as usize;
    let free: Vec<f64> = all
        .map(|step| STEP_M * step as f64)
        .filter(|at_m| steps.clone().all(|ahead_m| suits(at_m + ahead_m)))
        .collect();
    let part = free.len() as f64 / count as f64;
    (0..count)
        // The last fifth of each part keeps it from the next.
        .map(|number| (part * (number as f64 + random.between(0.0, 0.8))) as usize)
        .filter_map(|index| free.get(index).copied())
        .collect()
}

/// Where a braked wheel stays on the ground: neither jump nor tight corner, and no field of roots or rocks.
fn is_smooth(track: &Track, at_m: f64) -> bool {
    const TIGHT_PER_M: f64 = 1.0 / 15.0;
    const ROUGH: [&str; 3] = ["Rooty traverse", "Rock garden", "Braking-bump chute"];
    let drop =
        |drop: &Feature| matches!(*drop, Feature::Drop { at_m: edge_m, .. } if (at_m - edge_m).abs() < 10.0);
    !track.is_jump(at_m)
        && track.base_at(at_m).curvature_per_m.abs() < TIGHT_PER_M
        && !ROUGH.contains(&track.section_at(at_m).name)
        && !track.drops.iter().any(drop)
}

/// A hand that rests on the lever: never quite still, never over the given pressure.
fn lightly_held(at_m: f64, most_bar: f64, random: &mut Random) -> Vec<Stab> {
    let length_s = random.between(3.0, 5.0);
    let firmer_s = random.between(0.3, 0.7) * length_s;
    vec![
        Stab { at_m, length_s, pressure_bar: random.between(0.7, 0.9) * most_bar },
        Stab { at_m, length_s: firmer_s, pressure_bar: most_bar },
    ]
}
