//! Hits: one compression stroke each, with the rebound that follows.

use crate::signal::strokes;

/// A stroke ends when travel comes back by more than this, m...
const TURN_M: f64 = 0.003;
/// ...and by more than this share of full travel.
const TURN_SHARE: f64 = 0.02;

/// A strong hit, and what counts as rebound from one, is more than this share of full travel (own default):
/// half of what a hit must go past ride height to be followed until it is back, so that a way back is
/// always a rebound. Sensor noise, friction and the patter of a tyre stay below it.
const STRONG_SHARE: f64 = 0.05;

/// One compression stroke from a bump, landing or hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Sample at which it begins.
    pub start: usize,
    /// Sample at which it is deepest.
    pub deepest: usize,
    /// Travel at the start, m.
    pub start_m: f32,
    /// Deepest travel, m.
    pub deepest_m: f32,
}

impl Hit {
    /// How far the end was compressed, m.
    pub fn stroke_m(&self) -> f64 {
        f64::from(self.deepest_m) - f64::from(self.start_m)
    }
}

/// Every compression stroke of one end, in order.
///
/// `travel_m`: axle travel, m, NaN where missing; `full_m`: full travel. A stroke turns when travel comes
/// back by more than max(3 mm, 2 % of travel). None reaches across a missing sample.
pub fn hits(travel_m: &[f32], full_m: f64) -> Vec<Hit> {
    turning(travel_m, TURN_M.max(TURN_SHARE * full_m))
}

/// Strong hits: the same, where only what comes back by more than 5 % of travel ends a stroke. A wiggle on
/// the way up or down belongs to the hit it happens in.
pub fn strong_hits(travel_m: &[f32], full_m: f64) -> Vec<Hit> {
    turning(travel_m, STRONG_SHARE * full_m)
}

fn turning(travel_m: &[f32], turn_m: f64) -> Vec<Hit> {
    strokes(travel_m, turn_m as f32)
        .into_iter()
        .filter(|stroke| travel_m[stroke.to] > travel_m[stroke.from])
        .map(|stroke| Hit {
            start: stroke.from,
            deepest: stroke.to,
            start_m: travel_m[stroke.from],
            deepest_m: travel_m[stroke.to],
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hit_goes_from_its_valley_to_its_deepest_point() {
        let travel: Vec<f32> = (0..200).map(|i| 0.06 + 0.02 * (i as f32 * 0.1).sin()).collect();
        let found = hits(&travel, 0.2);
        // The first valley may be cut off by the start; the rest swing 40 mm.
        for hit in &found[1..] {
            assert!((hit.stroke_m() - 0.04).abs() < 1e-4, "{hit:?}");
            assert!(hit.start < hit.deepest);
        }
        assert_eq!(found.len(), 3);
        assert_eq!(strong_hits(&travel, 0.2).len(), 3);
        assert_eq!(strong_hits(&travel, 0.81).len(), 0);
        // Less than the turn is no hit.
        assert!(hits(&travel.iter().map(|t| t * 0.05).collect::<Vec<_>>(), 0.2).is_empty());
    }
}
