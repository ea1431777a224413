//! On the ground or in the air.

use std::ops::Range;

use crate::unit::STANDARD_GRAVITY;

/// An end within this of full extension counts as extended, m.
pub const EXTENDED_M: f32 = 0.003;
/// The bike counts as rolling above this speed, m/s.
pub const ROLLING_MPS: f32 = 1.0;
/// Specific force below this counts as falling, m/s^2.
const FALLING_MPS2: f32 = 0.4 * STANDARD_GRAVITY as f32;
/// Shorter than this is not a flight, s.
const SHORTEST_FLIGHT_S: f64 = 0.1;

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
/// `front_m`, `rear_m`: axle travel, m; `force_mps2`: magnitude of specific force, m/s^2; one grid.
pub fn airborne(
    front_m: &[f32],
    rear_m: &[f32],
    force_mps2: Option<&[f32]>,
    rate_hz: f64,
) -> Vec<Range<usize>> {
    let shortest = (SHORTEST_FLIGHT_S * rate_hz).round() as usize;
    ranges_where(front_m.len(), shortest, |i| {
        front_m[i] <= EXTENDED_M
            && rear_m[i] <= EXTENDED_M
            && force_mps2.is_none_or(|force| force[i] < FALLING_MPS2)
    })
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

#[cfg(test)]
mod tests {
    use super::*;

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
