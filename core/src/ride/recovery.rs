//! How long an end takes to come back to its ride height after a hit.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::hits::{Hit, strong_hits};
use crate::grouped::grouped;
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::{Duration, KaplanMeier, wilson};

/// A hit that stays shallower than this share of travel past ride height is not followed (own default).
const SHALLOWEST_SHARE: f64 = 0.10;
/// Back within this share of travel of ride height is recovered (own default).
const BACK_SHARE: f64 = 0.05;
/// A hit whose stroke is less than this share of travel is small (own default).
const SMALL_SHARE: f64 = 0.25;
/// A hit whose stroke is more than this share of travel is large (own default).
const LARGE_SHARE: f64 = 0.50;
/// Times and shares of fewer hits say nothing (own default).
const FEWEST_HITS: usize = 5;

/// A strong hit that went well past ride height, and how it came back.
#[derive(Clone, Debug, PartialEq)]
pub struct Return {
    /// The hit.
    pub hit: Hit,
    /// Deepest travel past ride height, m.
    pub depth_m: f64,
    /// From its deepest point to the next hit, or as far as travel is logged.
    pub way_back: Range<usize>,
    /// From the deepest point to back within 5 % of travel of ride height, or to where watching ended, s.
    pub time_s: Duration,
    /// Whether the next hit came before it was back.
    pub met: bool,
}

impl Return {
    /// The first sample at which it was back, if it came back.
    pub fn back(&self, rate_hz: f64) -> Option<usize> {
        match self.time_s {
            Duration::Observed(s) => Some(self.way_back.start + (s * rate_hz).ceil() as usize),
            Duration::Censored(_) => None,
        }
    }
}

/// The hits of one end whose deepest point lies in a stretch while the bike rolls, at least 10 % of travel
/// past `ride_height_m`; their way back may lead out of the stretch.
///
/// The next hit is the next strong one: what comes back by less than 5 % of travel does not end a way back.
/// Fork hits during which the front brake is on are left out where its pressure is logged: load then holds
/// the fork below its ride height, however it is damped.
///
/// # Errors
/// Travel of this end is not measured.
pub fn returns(
    basis: &Basis<'_>,
    end: End,
    range: &Range<usize>,
    ride_height_m: f64,
) -> Result<Vec<Return>, NotMeasured> {
    let travel_m = basis.sharp_travel_m(end)?;
    let full_m = basis.bike.travel_m(end);
    let hits = strong_hits(travel_m, full_m);
    let applications = if end == End::Front { basis.applications(end).unwrap_or_default() } else { &[] };
    let braked = |way_back: &Range<usize>| {
        let first = applications.partition_point(|on| on.range.end <= way_back.start);
        applications.get(first).is_some_and(|on| on.range.start <= way_back.end)
    };
    let counts = |hit: &Hit| {
        range.contains(&hit.deepest)
            && basis.rolling[hit.deepest]
            && f64::from(hit.deepest_m) - ride_height_m >= SHALLOWEST_SHARE * full_m
    };
    let back_m = ride_height_m + BACK_SHARE * full_m;
    let found = hits.iter().enumerate().filter(|(_, hit)| counts(hit)).map(|(i, hit)| {
        let next = hits.get(i + 1).map(|next| next.start);
        way_back(travel_m, *hit, next, back_m, ride_height_m, basis.rate_hz())
    });
    Ok(found.filter(|found| !braked(&found.way_back)).collect())
}

fn way_back(
    travel_m: &[f32],
    hit: Hit,
    next: Option<usize>,
    back_m: f64,
    ride_height_m: f64,
    rate_hz: f64,
) -> Return {
    let from = hit.deepest;
    let seconds = |samples: f64| samples / rate_hz;
    let limit = next.unwrap_or(travel_m.len().saturating_sub(1));
    let gap = (from..=limit).find(|&i| travel_m[i].is_nan());
    let until = gap.map_or(limit, |gap| gap - 1);
    let back = (from + 1..=until).find(|&i| f64::from(travel_m[i]) <= back_m);
    let time_s = match back {
        // Between two samples along the straight line.
        Some(i) => {
            let (before, after) = (f64::from(travel_m[i - 1]), f64::from(travel_m[i]));
            Duration::Observed(seconds((i - from) as f64 - (back_m - after) / (before - after)))
        }
        None => Duration::Censored(seconds((until - from) as f64)),
    };
    Return {
        hit,
        depth_m: f64::from(hit.deepest_m) - ride_height_m,
        way_back: from..until + 1,
        time_s,
        met: back.is_none() && gap.is_none() && next.is_some(),
    }
}

/// Recovery of one end from some hits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recovery {
    /// Median time from the deepest point of a hit to back within 5 % of travel of ride height, s. A hit
    /// that is met by the next one before it is back counts as cut short (Kaplan-Meier).
    pub recovery_p50_s: Measured,
    /// The time by which nine in ten are back, s.
    pub recovery_p90_s: Measured,
    /// Share of the hits that were met by the next one before they were back.
    pub not_recovered_share: Measured,
}

impl Recovery {
    fn not(reason: &NotMeasured) -> Self {
        Self {
            recovery_p50_s: Measured::not(reason.clone()),
            recovery_p90_s: Measured::not(reason.clone()),
            not_recovered_share: Measured::not(reason.clone()),
        }
    }

    fn of<'a>(returns: impl Iterator<Item = &'a Return>) -> Self {
        let returns: Vec<&Return> = returns.collect();
        let n = returns.len();
        if n < FEWEST_HITS {
            return Self::not(&NotMeasured::because(format!(
                "{n} such hits went a tenth of travel past ride height here; recovery needs {FEWEST_HITS}"
            )));
        }
        let times: Vec<Duration> = returns.iter().map(|hit| hit.time_s).collect();
        let estimate = KaplanMeier::new(&times);
        let quantile = |share, reason: &str| match estimate.quantile_s(share) {
            Some(time_s) => {
                let time = Measured::value(time_s).with_n(n);
                match estimate.quantile_interval_s(share) {
                    Some(interval) => time.with_interval(interval),
                    None => time,
                }
            }
            None => Measured::not(NotMeasured::because(reason)),
        };
        let met = returns.iter().filter(|hit| hit.met).count();
        let known = returns.iter().filter(|hit| hit.met || matches!(hit.time_s, Duration::Observed(_)));
        let known = known.count();
        let share = match wilson(met, known) {
            Some(interval) => {
                Measured::value(met as f64 / known as f64).with_n(known).with_interval(interval)
            }
            None => Measured::not(NotMeasured::because("travel is missing after every hit")),
        };
        Self {
            recovery_p50_s: quantile(0.5, "the next hit came too often before this end was back"),
            recovery_p90_s: quantile(0.9, "the next hit came too often before this end was back"),
            not_recovered_share: share,
        }
    }
}

/// Recovery of one end by the stroke of the hits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RecoveryByStroke {
    /// Strokes under 25 % of travel.
    pub small: Recovery,
    /// Strokes between.
    pub middle: Recovery,
    /// Strokes over 50 % of travel.
    pub large: Recovery,
}

grouped! {
    /// Recovery of one end over one section.
    pub struct RecoveryReadout {
        /// The same by size.
        pub recovery_by_stroke: RecoveryByStroke,
    }
    groups {
        /// From all hits.
        pub all: Recovery,
    }
}

impl RecoveryReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        let not = || Recovery::not(reason);
        Self {
            all: not(),
            recovery_by_stroke: RecoveryByStroke { small: not(), middle: not(), large: not() },
        }
    }

    /// Reads what [`returns`] found; `full_m`: full travel of the end.
    pub fn of(returns: &[Return], full_m: f64) -> Self {
        let share = |hit: &Return| hit.hit.stroke_m() / full_m;
        let class = |holds: fn(f64) -> bool| Recovery::of(returns.iter().filter(|hit| holds(share(hit))));
        Self {
            all: Recovery::of(returns.iter()),
            recovery_by_stroke: RecoveryByStroke {
                small: class(|share| share < SMALL_SHARE),
                middle: class(|share| (SMALL_SHARE..=LARGE_SHARE).contains(&share)),
                large: class(|share| share > LARGE_SHARE),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ride height 50 mm; hits that fall back with a time constant of 50 ms, one every `every` samples.
    fn decays(depths_m: &[f64], every: usize, rate_hz: f64) -> Vec<f32> {
        let rise = (0.02 * rate_hz) as usize;
        let mut level = 0.05;
        let mut travel = Vec::new();
        for depth_m in depths_m {
            let top = 0.05 + depth_m;
            travel.extend((0..rise).map(|i| level + (top - level) * i as f64 / rise as f64));
            travel.extend((0..every - rise).map(|i| 0.05 + depth_m * (-(i as f64) / rate_hz / 0.05).exp()));
            level = travel[travel.len() - 1];
        }
        travel.iter().map(|t| *t as f32).collect()
    }

    fn follow(travel_m: &[f32], rate_hz: f64) -> Vec<Return> {
        let hits = strong_hits(travel_m, 0.2);
        let next = |i: usize| hits.get(i + 1).map(|hit| hit.start);
        let found =
            hits.iter().enumerate().map(|(i, hit)| way_back(travel_m, *hit, next(i), 0.06, 0.05, rate_hz));
        found.collect()
    }

    #[test]
    fn the_time_is_that_of_the_decay() {
        for rate_hz in [250.0, 1000.0] {
            let travel = decays(&[0.03, 0.06, 0.08, 0.06, 0.03, 0.06], rate_hz as usize, rate_hz);
            let returns = follow(&travel, rate_hz);
            for hit in &returns {
                // d exp(-t / 50 ms) = 10 mm.
                let expected = 0.05 * (hit.depth_m / 0.01).ln();
                let Duration::Observed(found) = hit.time_s else { panic!("{hit:?}") };
                assert!((found - expected).abs() < 2e-3, "{found} {expected}");
                assert!(!hit.met);
            }
            let readout = RecoveryReadout::of(&returns, 0.2);
            assert_eq!(readout.all.not_recovered_share.get(), Ok(&0.0));
            let median = readout.all.recovery_p50_s.get().unwrap();
            assert!((median - 0.05 * 6_f64.ln()).abs() < 2e-3, "{median}");
            assert!(readout.recovery_by_stroke.large.recovery_p50_s.get().is_err());
        }
    }

    #[test]
    fn a_hit_that_is_met_is_cut_short_and_a_gap_is_not_a_hit() {
        // Every 100 ms: 60 mm has come down to 12 mm, 30 mm to 6 mm past ride height at the next.
        let mut travel = decays(&[0.06, 0.06, 0.03, 0.06, 0.03, 0.06, 0.03], 100, 1000.0);
        travel.extend(vec![f32::NAN; 50]);
        travel.extend(decays(&[0.06, 0.06], 400, 1000.0));
        travel[830..835].fill(f32::NAN);
        let returns = follow(&travel, 1000.0);
        let met: Vec<bool> = returns.iter().map(|hit| hit.met).collect();
        let cut =
            returns.iter().filter(|hit| !hit.met && matches!(hit.time_s, Duration::Censored(_))).count();
        assert_eq!(met.iter().filter(|met| **met).count(), 4, "{returns:#?}");
        assert_eq!(cut, 1, "{returns:#?}");
        let share = RecoveryReadout::of(&returns, 0.2).all.not_recovered_share;
        assert_eq!(share.n(), Some(returns.len() - 1));
    }

    #[test]
    fn too_few_hits_say_so() {
        let returns = follow(&decays(&[0.06; 3], 500, 500.0), 500.0);
        let reason = RecoveryReadout::of(&returns, 0.2).all.recovery_p50_s.get().unwrap_err();
        assert!(reason.0.contains("needs 5"), "{reason}");
    }
}
