//! Doubts about sensors: what a channel does that no bike does. Each is a flag of its channel.

use std::fmt;
use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Unfit;
use super::brakes::ON_PA;
use crate::measured::NotMeasured;
use crate::readout::ChannelReadout;
use crate::role::Role;
use crate::signal::{Resolution, median};
use crate::unit::Quantity;

/// A zero that is off by more than this in the air is doubted, m. (An almost empty air spring alone
/// can stop 4 mm short.)
const ZERO_MOVED_M: f64 = 0.005;
/// An end has time to extend in a flight of this length, s.
const LONG_FLIGHT_S: f64 = 0.3;
/// Travel may read this far beyond 0 or full before it is doubted, m.
const BEYOND_M: f32 = 0.003;
/// Nor is it beyond for its own noise, in standard deviations of it.
const BEYOND_NOISE_SDS: f32 = 4.0;
/// Travel that stays at one value for so long while the bike rolls is stuck, s.
const STUCK_S: f64 = 5.0;
/// In slower logs of travel, pressure or turning, riding looks like noise, Hz.
const NOISE_RATE_HZ: f64 = 100.0;
/// Share of samples beyond the range, or resting at a rail, that is doubted.
const RARE_SHARE: f64 = 0.001;
/// Share of samples at one extreme value, for however short, that no moving bike shows.
const OFTEN_SHARE: f64 = 0.02;
/// The values next to a rail are those within this share of the farthest value, and at least so many steps of the
/// sensor (own default).
const NEXT_SHARE: f64 = 0.02;
const NEXT_STEPS: f64 = 4.0;
/// An end that stays extended for so long rests there, s (as for unweighted moments).
const REST_S: f64 = 0.04;
/// The rear, correlated with the front as if it led, must beat the true order by this factor.
const SWAPPED_FACTOR: f64 = 1.5;
/// A correlation below this says nothing about the order of the ends.
const SWAPPED_CORRELATION: f64 = 0.15;

/// Something about a channel that no bike does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// Fully extended it reads this far from zero.
    ZeroMoved {
        /// Reading at full extension, m.
        by_m: f64,
    },
    /// Reads beyond 0..full travel.
    BeyondRange {
        /// Share of samples.
        share: f64,
    },
    /// Rests at an extreme value: the sensor's own end, not the bike's.
    Clipped {
        /// Share of samples.
        share: f64,
    },
    /// Never changes.
    Constant,
    /// Stops changing while the bike rolls.
    Stuck {
        /// For how long, s.
        for_s: f64,
    },
    /// White noise over the floor for its kind.
    Noisy {
        /// Standard deviation of the noise, SI.
        sd: f64,
    },
    /// Moves the wrong way on landings.
    Inverted,
    /// The rear meets the ground's bumps before the front: the ends are swapped.
    EndsSwapped,
    /// A wheel stands while other channels show that the bike moves.
    Standing {
        /// For how long, s.
        for_s: f64,
    },
    /// A wheel's speed is not that of GPS.
    WrongSpeed {
        /// Its speed over that of GPS.
        ratio: f64,
    },
    /// Both wheels' speeds differ while they run free, and nothing says which one is right.
    SpeedsDisagree {
        /// Its speed over the other wheel's.
        ratio: f64,
    },
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ZeroMoved { by_m } => {
                write!(f, "reads {:+.1} mm when fully extended; set its zero again", by_m * 1000.0)
            }
            Self::BeyondRange { share } => {
                write!(
                    f,
                    "reads beyond 0..full travel in {:.1} % of samples; check unit, zero and full travel",
                    share * 100.0
                )
            }
            Self::Clipped { share } => {
                write!(
                    f,
                    "rests at its extreme value in {:.1} % of samples; the sensor's range may be too small",
                    share * 100.0
                )
            }
            Self::Constant => f.write_str("never changes; check plug and cable"),
            Self::Stuck { for_s } => {
                write!(f, "stays at one value for {for_s:.0} s while the bike rolls; check plug and cable")
            }
            Self::Noisy { sd } => {
                write!(f, "is noisy (standard deviation {sd:.2e} in SI units); check cable and fixing")
            }
            Self::Inverted => f.write_str("moves the wrong way on landings; reverse its sign"),
            Self::EndsSwapped => f.write_str("rear hits come before front hits; the two ends seem swapped"),
            Self::Standing { for_s } => {
                write!(
                    f,
                    "stands for {for_s:.0} s while the bike moves; check plug, cable and the sensor's gap"
                )
            }
            Self::WrongSpeed { ratio } => {
                write!(f, "reads {:.0} % of GPS speed; check circumference and pulses a turn", ratio * 100.0)
            }
            Self::SpeedsDisagree { ratio } => write!(
                f,
                "reads {:.0} % of the other wheel's speed; check circumference and pulses a turn of both",
                ratio * 100.0
            ),
        }
    }
}

impl Doubt {
    /// Whether nothing can be read from such a channel at all.
    fn silences(&self) -> bool {
        matches!(
            self,
            Self::Constant
                | Self::Stuck { .. }
                | Self::Clipped { .. }
                | Self::Inverted
                | Self::EndsSwapped
                | Self::Standing { .. }
                | Self::WrongSpeed { .. }
        )
    }

    /// Whether it cannot be said from where to where something moves, or how fast, only when and how it changes.
    fn displaces(&self) -> bool {
        matches!(self, Self::ZeroMoved { .. } | Self::BeyondRange { .. } | Self::SpeedsDisagree { .. })
    }

    /// Whether single samples say nothing, only means and medians of many do.
    fn blurs(&self) -> bool {
        matches!(self, Self::Noisy { .. })
    }
}

/// The channels that may not be used, by the doubts about them.
pub fn unfit(channels: &[ChannelReadout]) -> Unfit {
    let by = |forbids: fn(&Doubt) -> bool| {
        channels
            .iter()
            .filter(|channel| channel.used)
            .filter_map(|channel| {
                let doubt = channel.flags.iter().find(|doubt| forbids(doubt))?;
                let reason = NotMeasured::because(format!("{} {doubt}", channel.role.words()));
                Some((channel.role.as_read(), reason))
            })
            .collect()
    };
    Unfit { all: by(Doubt::silences), level: by(Doubt::displaces), detail: by(Doubt::blurs) }
}

/// Whether nothing can be read from a channel, by its own samples.
pub fn is_dead(role: Role, samples: &[f32], rate_hz: f64) -> bool {
    of_samples(role, samples, rate_hz).iter().any(Doubt::silences)
}

/// Doubts that a channel's own samples raise, in SI at their own rate; NaN samples are skipped.
pub fn of_samples(role: Role, samples: &[f32], rate_hz: f64) -> Vec<Doubt> {
    let finite: Vec<f32> = samples.iter().copied().filter(|v| v.is_finite()).collect();
    if finite.len() < 10
        || matches!(role.quantity(), Quantity::Count | Quantity::Other | Quantity::Temperature)
    {
        return Vec::new();
    }
    let (low, high) = finite.iter().fold((f32::MAX, f32::MIN), |(low, high), &v| (low.min(v), high.max(v)));
    if low == high && low == 0.0 && matches!(role, Role::WheelSpeed(_)) {
        // A bike that stands; other channels may know better.
        return Vec::new();
    }
    if low == high {
        return vec![Doubt::Constant];
    }
    clipped(role, &finite, low, high).into_iter().chain(noisy(role, &finite, rate_hz)).collect()
}

fn clipped(role: Role, finite: &[f32], low: f32, high: f32) -> Option<Doubt> {
    // Full extension, a free lever and a standing wheel are rails on which a healthy channel rests.
    let rails = match role.quantity() {
        Quantity::Acceleration | Quantity::AngularRate => vec![low, high],
        // A brake that is never pulled rests at the top of its noise.
        Quantity::Pressure if high < ON_PA => return None,
        Quantity::Length | Quantity::Pressure => vec![high],
        _ => return None,
    };
    // What reads zero at rest and moves to one side only has an extreme at zero that is no rail.
    let farthest = low.abs().max(high.abs());
    let rails: Vec<f32> = rails.into_iter().filter(|rail| rail.abs() > 0.05 * farthest).collect();
    let share = |count: usize| count as f64 / finite.len() as f64;
    let (resting, touching) = rails.iter().fold((0, 0), |(resting, touching), rail| {
        let runs = finite.chunk_by(|a, b| a == b).filter(|run| run[0] == *rail).map(<[_]>::len);
        runs.fold((resting, touching), |(resting, touching), run| {
            (resting + if run >= 3 { run } else { 0 }, touching + run)
        })
    });
    let rests = share(resting) > RARE_SHARE || share(touching) > OFTEN_SHARE;
    let clipped = rests && rails.iter().any(|rail| cuts_off(finite, *rail, farthest));
    clipped.then(|| Doubt::Clipped { share: share(touching) })
}

/// Whether a channel ends at a value: a coarse sensor shows one value for long wherever it is, but a rail stands for all
/// that lies beyond it, and so holds more than all values next to it.
fn cuts_off(finite: &[f32], rail: f32, farthest: f32) -> bool {
    let steps = (NEXT_STEPS + 0.5) * Resolution::of(finite).step.unwrap_or_default();
    let next = steps.max(NEXT_SHARE * f64::from(farthest));
    let touching = finite.iter().filter(|v| **v == rail).count();
    let near = finite.iter().filter(|v| f64::from((**v - rail).abs()) <= next).count();
    2 * touching > near
}

fn noisy(role: Role, finite: &[f32], rate_hz: f64) -> Option<Doubt> {
    // A logger's crystal is never exact.
    if rate_hz < 0.99 * NOISE_RATE_HZ {
        return None;
    }
    let floor = match role {
        Role::Travel(_) | Role::ShockStroke => 0.5e-3,
        Role::Brake(_) => 0.1e5,
        Role::Gyro(..) => 3_f64.to_radians(),
        _ => return None,
    };
    let sd = Resolution::of(finite).noise_sd?;
    (sd > floor).then_some(Doubt::Noisy { sd })
}

/// Doubts about one end's travel from the grid: range, and where `flights` (by specific force alone)
/// are known, zero and sign. `noise_m`: standard deviation of its noise.
pub fn of_travel(
    travel_m: &[f32],
    noise_m: f64,
    full_m: f64,
    flights: &[Range<usize>],
    rate_hz: f64,
) -> Vec<Doubt> {
    let room_m = BEYOND_M.max(BEYOND_NOISE_SDS * noise_m as f32);
    let share_beyond = |zero_m: f32| {
        let range = zero_m - room_m..=zero_m + full_m as f32 + room_m;
        let beyond = travel_m.iter().filter(|t| !t.is_nan() && !range.contains(*t)).count();
        beyond as f64 / travel_m.len().max(1) as f64
    };
    let share = share_beyond(0.0);
    let is_beyond = |share: &f64| *share > RARE_SHARE;
    let inverted = inverted(travel_m, flights, rate_hz).then_some(Doubt::Inverted);
    let is_moved = |by_m: &f64| by_m.abs() > ZERO_MOVED_M;
    // No end extends beyond its stop: where it rests there, zero has moved, perhaps after the last flight, and all else
    // must fit once it is put right.
    let fits = |by_m: &f64| is_moved(by_m) && !is_beyond(&share_beyond(*by_m as f32));
    let by_rest = || zero_at_rest(travel_m, room_m, rate_hz).filter(fits);
    let zero = match inverted {
        Some(_) => None,
        None => zero_in_flight(travel_m, flights, rate_hz).filter(is_moved).or_else(by_rest),
    };
    // What a moved zero explains is not told twice.
    let left = zero.map_or(share, |by_m| share.min(share_beyond(by_m as f32)));
    let zero = zero.map(|by_m| Doubt::ZeroMoved { by_m });
    let beyond = Some(left).filter(is_beyond).map(|_| Doubt::BeyondRange { share });
    inverted.into_iter().chain(zero).chain(beyond).collect()
}

/// Whether travel stays at exactly one value, `rolling` all the while.
pub fn stuck(travel_m: &[f32], rolling: &[bool], rate_hz: f64) -> Option<Doubt> {
    let samples = |run: &[(f32, bool)]| run.iter().filter(|(_, rolls)| *rolls).count();
    let paired: Vec<(f32, bool)> = travel_m.iter().copied().zip(rolling.iter().copied()).collect();
    let longest = paired.chunk_by(|a, b| a.0 == b.0).map(samples).max()?;
    let for_s = longest as f64 / rate_hz;
    (for_s >= STUCK_S).then_some(Doubt::Stuck { for_s })
}

/// What the end reads when it is extended: after the last third of a flight long enough to extend in, and
/// of several flights the shallowest, since slow rebound may need all of one.
fn zero_in_flight(travel_m: &[f32], flights: &[Range<usize>], rate_hz: f64) -> Option<f64> {
    let long = flights.iter().filter(|flight| flight.len() as f64 >= LONG_FLIGHT_S * rate_hz);
    long.filter_map(|flight| median(&travel_m[flight.end - flight.len() / 3..flight.end])).reduce(f64::min)
}

/// What the end reads where it rests longest beyond full extension.
fn zero_at_rest(travel_m: &[f32], room_m: f32, rate_hz: f64) -> Option<f64> {
    let rests = travel_m.chunk_by(|a, b| (*a < -room_m) == (*b < -room_m));
    let longest = rests.filter(|rest| rest[0] < -room_m).max_by_key(|rest| rest.len())?;
    if (longest.len() as f64) < REST_S * rate_hz { None } else { median(longest) }
}

fn inverted(travel_m: &[f32], flights: &[Range<usize>], rate_hz: f64) -> bool {
    let after = (0.3 * rate_hz) as usize;
    let votes: f64 = flights
        .iter()
        .filter_map(|flight| {
            let in_air = median(&travel_m[flight.start.midpoint(flight.end)..flight.end])?;
            let landing = &travel_m[flight.end..(flight.end + after).min(travel_m.len())];
            let (low, high) = landing
                .iter()
                .filter(|v| !v.is_nan())
                .fold((in_air, in_air), |(low, high), &v| (low.min(f64::from(v)), high.max(f64::from(v))));
            let (up, down) = (high - in_air, in_air - low);
            // A landing moves an end by centimetres, or it says nothing.
            (up.max(down) > 0.02).then(|| (up - down).signum())
        })
        .sum();
    votes < 0.0
}

/// Whether the rear answers the ground before the front does.
///
/// Correlates front axle speed with the rear's a wheelbase later, `wheelbase_m / speed`, and a
/// wheelbase earlier; only where the bike moves at 2 m/s or more. One grid, NaN skipped.
pub fn ends_swapped(
    front_mps: &[f32],
    rear_mps: &[f32],
    speed_mps: &[f32],
    wheelbase_m: f64,
    rate_hz: f64,
) -> bool {
    let correlation = |sign: f64| {
        let (mut fr, mut ff, mut rr) = (0.0, 0.0, 0.0);
        for (i, (&front, &speed)) in front_mps.iter().zip(speed_mps).enumerate() {
            if speed.is_nan() || speed < 2.0 {
                continue;
            }
            let shift = (sign * wheelbase_m / f64::from(speed) * rate_hz).round() as isize;
            let Some(&rear) = i.checked_add_signed(shift).and_then(|j| rear_mps.get(j)) else { continue };
            if front.is_nan() || rear.is_nan() {
                continue;
            }
            let (front, rear) = (f64::from(front), f64::from(rear));
            fr += front * rear;
            ff += front * front;
            rr += rear * rear;
        }
        if ff * rr > 0.0 { fr / (ff * rr).sqrt() } else { 0.0 }
    };
    let (follows, leads) = (correlation(1.0), correlation(-1.0));
    leads > SWAPPED_CORRELATION && leads > SWAPPED_FACTOR * follows.max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::role::End;

    const TRAVEL: Role = Role::Travel(End::Front);

    fn of(samples: &[f32]) -> Vec<Doubt> {
        of_samples(TRAVEL, samples, 250.0)
    }

    fn noise(n: usize) -> impl Iterator<Item = f32> {
        let mut state = 1_u32;
        (0..n).map(move |_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / (1 << 24) as f32 - 0.5
        })
    }

    #[test]
    fn dead_clipped_and_noisy_channels_are_told_from_healthy_ones() {
        let healthy: Vec<f32> = (0..5000).map(|i| 0.06 + 0.05 * (i as f32 * 0.01).sin()).collect();
        assert_eq!(of(&healthy), []);
        assert_eq!(of(&[0.05; 100]), [Doubt::Constant]);
        let clipped: Vec<f32> = healthy.iter().map(|v| v.min(0.1)).collect();
        assert!(matches!(of(&clipped)[..], [Doubt::Clipped { share }] if share > 0.1));
        let noisy: Vec<f32> = healthy.iter().zip(noise(5000)).map(|(v, n)| v + 0.01 * n).collect();
        // Uniform noise of width 10 mm has a standard deviation of 10 / sqrt(12) = 2.9 mm; the quietest
        // tenth of its windows shows somewhat less.
        assert!(matches!(of(&noisy)[..], [Doubt::Noisy { sd }] if (2.0e-3..3.0e-3).contains(&sd)));
    }

    #[test]
    fn travel_that_stops_while_the_bike_rolls_is_stuck() {
        let mut travel: Vec<f32> = noise(2000).collect();
        travel[1000..].fill(0.05);
        assert_eq!(stuck(&travel, &[true; 2000], 100.0), Some(Doubt::Stuck { for_s: 10.0 }));
        assert_eq!(stuck(&travel, &[false; 2000], 100.0), None);
        assert_eq!(stuck(&travel[..1400], &[true; 1400], 100.0), None);
    }

    #[test]
    fn resting_at_full_extension_is_healthy() {
        let travel: Vec<f32> = (0..5000).map(|i| (0.05 * (i as f32 * 0.01).sin()).max(0.0)).collect();
        assert_eq!(of(&travel), []);
    }

    fn landing(sign: f32, zero: f32) -> (Vec<f32>, [Range<usize>; 1]) {
        let mut travel = vec![0.06; 300];
        travel[100..150].fill(zero);
        for (i, slot) in travel[150..180].iter_mut().enumerate() {
            *slot = zero + sign * 0.004 * i as f32;
        }
        (travel, std::array::from_fn(|_| 100..150))
    }

    #[test]
    fn a_landing_shows_zero_and_sign() {
        let (travel, flights) = landing(1.0, 0.001);
        assert_eq!(of_travel(&travel, 1e-4, 0.2, &flights, 100.0), []);
        let (travel, flights) = landing(1.0, 0.008);
        assert!(
            matches!(of_travel(&travel, 1e-4, 0.2, &flights, 100.0)[..], [Doubt::ZeroMoved { by_m }] if (by_m - 0.008).abs() < 1e-6)
        );
        let (travel, flights) = landing(1.0, -0.008);
        let moved = of_travel(&travel, 1e-4, 0.2, &flights, 100.0);
        assert!(matches!(moved[..], [Doubt::ZeroMoved { by_m }] if (by_m + 0.008).abs() < 1e-6), "{moved:?}");
        // Nor is what lies beyond the range for a moved zero another doubt where no flight is known.
        assert_eq!(of_travel(&travel, 1e-4, 0.2, &[], 100.0), moved);
        // It may have moved after the last flight.
        let (before, _) = landing(1.0, 0.0);
        let later: Vec<f32> = before.iter().chain(&travel).copied().collect();
        let doubts = of_travel(&later, 1e-4, 0.2, &flights, 100.0);
        assert!(
            matches!(doubts[..], [Doubt::ZeroMoved { by_m }] if (by_m + 0.008).abs() < 1e-6),
            "{doubts:?}"
        );
        let wide: Vec<f32> = travel.iter().map(|t| 1.8 * t).collect();
        let doubts = of_travel(&wide, 1e-4, 0.2, &flights, 100.0);
        assert!(matches!(doubts[..], [Doubt::ZeroMoved { .. }, Doubt::BeyondRange { .. }]), "{doubts:?}");
        let (travel, flights) = landing(-1.0, 0.19);
        assert_eq!(of_travel(&travel, 1e-4, 0.2, &flights, 100.0), [Doubt::Inverted]);
        let beyond: Vec<f32> = travel.iter().map(|t| t + 0.1).collect();
        assert!(matches!(of_travel(&beyond, 1e-4, 0.2, &[], 100.0)[..], [Doubt::BeyondRange { .. }]));
    }

    /// Pulls of 8 s of which each is held for a while, none as hard as another, in steps of `step_pa`.
    fn pulls(step_pa: f32) -> Vec<f32> {
        let pull = |i: usize| {
            let hardest = 9.0e5 + 0.7e5 * ((i / 2000) as f32 * 2.6).sin() * 3.0;
            let held = (2.5 * (std::f32::consts::TAU * i as f32 / 2000.0).sin()).clamp(0.0, 1.0);
            hardest * held * (1.0 + 0.04 * (i as f32 * 0.02).sin())
        };
        (0..20_000).map(|i| (pull(i) / step_pa).round() * step_pa).collect()
    }

    #[test]
    fn a_coarse_sensor_is_not_clipped_where_the_hardest_pull_rests_on_one_value() {
        const BRAKE: Role = Role::Brake(End::Rear);
        for step_pa in [1.0e5, 0.25e5, 0.01e5] {
            let coarse = pulls(step_pa);
            assert_eq!(of_samples(BRAKE, &coarse, 250.0), [], "{step_pa}");
            let short: Vec<f32> = coarse.iter().map(|v| v.min(7.0e5)).collect();
            assert!(matches!(of_samples(BRAKE, &short, 250.0)[..], [Doubt::Clipped { .. }]), "{step_pa}");
        }
        // Eight bits over 200 mm; the deepest of many strokes stays on its value for some samples.
        let deep = |i: usize| 0.07 + (0.05 + 0.04 * (i as f32 * 0.0017).sin()) * (i as f32 * 0.03).sin();
        let coarse = |most: f32| -> Vec<f32> {
            (0..20_000).map(|i| ((deep(i).min(most)) * 255.0 / 0.2).round() * 0.2 / 255.0).collect()
        };
        assert_eq!(of(&coarse(1.0)), []);
        assert!(matches!(of(&coarse(0.13))[..], [Doubt::Clipped { .. }]));
    }

    #[test]
    fn swapped_ends_are_seen_by_who_leads() {
        let ground: Vec<f32> = noise(4000).collect();
        let smooth: Vec<f32> = ground.windows(5).map(|w| w.iter().sum()).collect();
        // Wheelbase 1.25 m at 5 m/s and 200 Hz: the rear comes 50 samples later.
        let (front, rear) = (&smooth[50..3950], &smooth[..3900]);
        let speed = vec![5.0; front.len()];
        assert!(!ends_swapped(front, rear, &speed, 1.25, 200.0));
        assert!(ends_swapped(rear, front, &speed, 1.25, 200.0));
        assert!(!ends_swapped(front, &noise(3900).collect::<Vec<_>>(), &speed, 1.25, 200.0));
    }
}
