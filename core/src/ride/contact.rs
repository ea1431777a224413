//! On the ground or in the air.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};
use crate::unit::STANDARD_GRAVITY;

/// An end within this of full extension counts as extended, m.
pub const EXTENDED_M: f32 = 0.003;
/// The bike counts as rolling above this speed, m/s.
pub const ROLLING_MPS: f32 = 1.0;
/// Specific force below this counts as falling, m/s^2.
const FALLING_MPS2: f32 = 0.4 * STANDARD_GRAVITY as f32;
/// Falling for so long is a flight even where one end has not extended yet, s.
const SURE_FLIGHT_S: f64 = 0.25;
/// Shorter than this is not a flight, s.
const SHORTEST_FLIGHT_S: f64 = 0.1;

/// An end is unweighted when it stays extended for this long, s; a wheel on rough ground touches full
/// extension for shorter (model).
const SHORTEST_UNWEIGHTED_S: f64 = 0.04;
/// Slower logs see such moments with two samples or less, Hz.
const UNWEIGHTED_RATE_HZ: f64 = 50.0;

/// Ranges of at least `shortest` samples in which `holds`.
pub fn ranges_where(len: usize, shortest: usize, holds: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = None;
    for i in 0..=len {
        match (i < len && holds(i), start) {
            (true, None) => start = Some(i),
            (false, Some(from)) => {
                start = None;
                if i - from >= shortest {
                    found.push(from..i);
                }
            }
            _ => {}
        }
    }
    found
}

/// Flights: both ends at full extension and, where the frame's specific force is measured, less than
/// 0.4 g of it, for 0.1 s or more. A jump, not a fault.
///
/// Where force is measured, 0.25 s or more of falling with one end extended are a flight too: a rear that
/// rebounds slowly may need longer than a jump lasts.
///
/// `front_m`, `rear_m`: axle travel, m; `force_mps2`: magnitude of specific force, m/s^2; one grid.
pub fn airborne(
    front_m: &[f32],
    rear_m: &[f32],
    force_mps2: Option<&[f32]>,
    rate_hz: f64,
) -> Vec<Range<usize>> {
    let shortest = (SHORTEST_FLIGHT_S * rate_hz).round() as usize;
    let extended = |i: usize| [front_m[i] <= EXTENDED_M, rear_m[i] <= EXTENDED_M];
    let Some(force) = force_mps2 else {
        return ranges_where(front_m.len(), shortest, |i| extended(i) == [true; 2]);
    };
    let sure = (SURE_FLIGHT_S * rate_hz).round() as usize;
    let mut flies = vec![false; front_m.len()];
    for both in ranges_where(flies.len(), shortest, |i| force[i] < FALLING_MPS2 && extended(i) == [true; 2]) {
        flies[both].fill(true);
    }
    for fall in falling(force, rate_hz) {
        if fall.len() >= sure && fall.clone().any(|i| extended(i) != [false; 2]) {
            flies[fall].fill(true);
        }
    }
    ranges_where(flies.len(), shortest, |i| flies[i])
}

/// Falling by specific force alone, whatever the travel sensors say: for finding fault with these.
pub fn falling(force_mps2: &[f32], rate_hz: f64) -> Vec<Range<usize>> {
    let shortest = (SHORTEST_FLIGHT_S * rate_hz).round() as usize;
    ranges_where(force_mps2.len(), shortest, |i| force_mps2[i] < FALLING_MPS2)
}

/// Rolling and not in flight: the samples that show what the suspension does on the ground.
pub fn on_the_ground(rolling: &[bool], flights: &[Range<usize>]) -> Vec<bool> {
    let mut grounded = rolling.to_vec();
    for flight in flights {
        grounded[flight.clone()].fill(false);
    }
    grounded
}

/// How long one end was unweighted over one section: rolling, within 3 mm of full extension for 40 ms or
/// more. Whatever begins in the section counts whole.
///
/// Not the time without contact: a wheel also leaves the ground at partial extension. On simulated bikes
/// what is found is right for 94-98 % of its time, but it is only 2-29 % of the time the wheel was off the
/// ground. So it compares runs with each other, and says nothing else.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ContactReadout {
    /// Time unweighted, s, flights included.
    pub unweighted_s: Measured,
    /// How often.
    pub unweighted: Measured<usize>,
    /// The longest of them, s.
    pub unweighted_longest_s: Measured,
    /// Time unweighted while the other end was loaded all along: skitter, s.
    pub skitter_s: Measured,
    /// How often.
    pub skitter: Measured<usize>,
    /// The longest of them, s.
    pub skitter_longest_s: Measured,
}

/// When each end of a run was unweighted.
pub struct Contact {
    ends: [Result<Vec<Range<usize>>, NotMeasured>; 2],
    rate_hz: f64,
}

impl Contact {
    /// Prepares a run.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self { ends: [End::Front, End::Rear].map(|end| unweighted(basis, end)), rate_hz: basis.rate_hz() }
    }

    /// Reads one end over one section.
    pub fn read(&self, end: End, range: &Range<usize>) -> ContactReadout {
        let of = |end: End| self.ends[end as usize].as_ref().map_err(Clone::clone);
        let other = if end == End::Front { End::Rear } else { End::Front };
        let alone = of(end).and_then(|these| {
            let others = of(other)?;
            let meets = |a: &Range<usize>| others.iter().any(|b| a.start < b.end && b.start < a.end);
            Ok(these.iter().filter(|a| !meets(a)).cloned().collect::<Vec<_>>())
        });
        let [unweighted_s, unweighted_longest_s] = self.total_and_longest(of(end).map(Vec::as_slice), range);
        let [skitter_s, skitter_longest_s] =
            self.total_and_longest(alone.as_deref().map_err(Clone::clone), range);
        ContactReadout {
            unweighted: count(of(end).map(Vec::as_slice), range),
            unweighted_s,
            unweighted_longest_s,
            skitter: count(alone.as_deref().map_err(Clone::clone), range),
            skitter_s,
            skitter_longest_s,
        }
    }

    fn total_and_longest(
        &self,
        episodes: Result<&[Range<usize>], NotMeasured>,
        section: &Range<usize>,
    ) -> [Measured; 2] {
        let lengths = episodes.map(|episodes| {
            let inside = episodes.iter().filter(|episode| section.contains(&episode.start));
            inside.map(|episode| episode.len() as f64 / self.rate_hz).collect::<Vec<_>>()
        });
        match lengths {
            Ok(lengths) => [
                lengths.iter().fold(0.0, |sum, length| sum + length),
                lengths.iter().copied().fold(0.0, f64::max),
            ]
            .map(|seconds| Measured::value(seconds).with_n(lengths.len())),
            Err(reason) => [Measured::not(reason.clone()), Measured::not(reason)],
        }
    }
}

fn count(episodes: Result<&[Range<usize>], NotMeasured>, section: &Range<usize>) -> Measured<usize> {
    episodes.map(|episodes| episodes.iter().filter(|episode| section.contains(&episode.start)).count()).into()
}

fn unweighted(basis: &Basis<'_>, end: End) -> Result<Vec<Range<usize>>, NotMeasured> {
    let travel = basis.placed_travel_m(end)?;
    basis.needs_rate(Role::Travel(end), UNWEIGHTED_RATE_HZ, "moments without load need")?;
    if !basis.rolling.contains(&true) {
        return Err(NotMeasured::because("the bike never rolls"));
    }
    let shortest = basis.samples(SHORTEST_UNWEIGHTED_S);
    Ok(ranges_where(travel.len(), shortest, |i| travel[i] <= EXTENDED_M && basis.rolling[i]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_end_alone_skitters_and_both_do_not() {
        let contact =
            Contact { ends: [Ok(vec![10..20, 100..130]), Ok(vec![95..105, 300..310])], rate_hz: 100.0 };
        let front = contact.read(End::Front, &(0..200));
        assert_eq!((front.unweighted.get(), front.skitter.get()), (Ok(&2), Ok(&1)));
        assert_eq!((front.unweighted_s.get(), front.skitter_s.get()), (Ok(&0.4), Ok(&0.1)));
        assert_eq!(front.unweighted_longest_s.get(), Ok(&0.3));
        let rear = contact.read(End::Rear, &(0..200));
        assert_eq!((rear.unweighted.get(), rear.skitter.get()), (Ok(&1), Ok(&0)));
        assert_eq!(contact.read(End::Front, &(15..200)).unweighted.get(), Ok(&1));
        // Without the other end nobody knows whether it was alone.
        let contact =
            Contact { ends: [Ok(vec![10..20, 300..310]), Err(NotMeasured::because("lost"))], rate_hz: 1.0 };
        let front = contact.read(End::Front, &(0..200));
        assert!(front.unweighted.get().is_ok() && front.skitter_s.get().is_err());
    }

    #[test]
    fn a_flight_needs_both_ends_weightlessness_and_time() {
        let rate_hz = 100.0;
        let mut front = vec![0.05; 300];
        let mut rear = vec![0.06; 300];
        let mut force = vec![10.0; 300];
        front[50..80].fill(0.001);
        rear[50..80].fill(0.002);
        force[50..80].fill(1.0);
        // Extended at both ends, but carried: no flight.
        front[120..150].fill(0.0);
        rear[120..150].fill(0.0);
        // Weightless for too short a time.
        front[200..209].fill(0.0);
        rear[200..209].fill(0.0);
        force[200..209].fill(0.5);
        let flight = 50..80;
        assert_eq!(airborne(&front, &rear, Some(&force), rate_hz), std::slice::from_ref(&flight));
        assert_eq!(airborne(&front, &rear, None, rate_hz), [50..80, 120..150]);
        let mask = on_the_ground(&[true; 300], &[flight]);
        assert_eq!(mask.iter().filter(|on| !**on).count(), 30);
    }

    #[test]
    fn missing_travel_is_no_flight() {
        assert!(airborne(&[f32::NAN; 50], &[0.0; 50], None, 100.0).is_empty());
    }
}
