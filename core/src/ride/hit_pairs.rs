//! What each end makes of the same bump.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::hits::Hit;
use super::wheelbase_lag;
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::{bootstrap_median, percentiles};

/// Smaller front strokes are not looked at, m.
const SMALLEST_M: f64 = 0.030;
/// A rear hit belongs to a front hit if it begins after this share of the wheelbase's lag...
const EARLIEST: f64 = 0.65;
/// ...and before this one.
const LATEST: f64 = 1.35;
/// A stroke begins where a tenth of it is done (the lower reference level of IEEE 181): before a landing the
/// deepest extension may lie anywhere in the flight.
const BEGUN: f64 = 0.1;
/// Fewer pairs say nothing about the bike.
const FEWEST: usize = 8;
/// Seed of the bootstrap.
const SEED: u64 = 1;

/// One bump as both ends took it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HitPair {
    /// When the front's stroke begins on the run's clock, s.
    pub front_s: f64,
    /// When the rear's stroke begins, s.
    pub rear_s: f64,
    /// Stroke of the front axle, along the fork, m.
    pub front_stroke_m: f64,
    /// Stroke of the rear axle, vertical, m.
    pub rear_stroke_m: f64,
    /// Rear over front, both as vertical wheel movement: rear stroke / (front stroke x sin HA).
    pub ratio: f64,
    /// Rear less front, both as vertical wheel movement, m.
    pub difference_m: f64,
    /// Rear less front, each stroke as a share of its end's travel.
    pub difference_share: f64,
}

/// Hit pairs over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HitPairsReadout {
    /// Median ratio of vertical wheel movement, rear over front, with the 95 % interval of a percentile
    /// bootstrap (2000 draws). At least 8 pairs.
    pub hit_ratio: Measured,
    /// Quartiles of the ratio.
    pub hit_ratio_quartiles: Measured<[f64; 2]>,
    /// Median difference of vertical wheel movement, rear less front, m, with its interval.
    pub hit_difference_m: Measured,
    /// Median difference of strokes as shares of each travel, rear less front, with its interval.
    pub hit_difference_share: Measured,
    /// The pairs themselves, in order of time, however few.
    pub hit_pairs: Measured<Vec<HitPair>>,
}

/// Every hit pair of a run.
pub struct HitPairs(Result<Vec<HitPair>, NotMeasured>);

impl HitPairs {
    /// Pairs each front hit of 30 mm and more with the rear hit that begins 0.65..1.35 of the wheelbase's lag
    /// after it, one to one, the nearest to the lag first. Without speed the lag is that at which the ends
    /// are most alike. Hits that begin in flight are left out: where a landing puts which wheel is the
    /// rider's doing.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self(pairs(basis))
    }

    /// Reads one section: the pairs whose front hit begins in it, `start_s <= t < end_s`.
    pub fn read(&self, span_s: Range<f64>) -> HitPairsReadout {
        let pairs = self.0.as_ref().map_err(Clone::clone).map(|pairs| {
            pairs.iter().copied().filter(|pair| span_s.contains(&pair.front_s)).collect::<Vec<_>>()
        });
        let enough = pairs.clone().and_then(|pairs| {
            if pairs.len() >= FEWEST {
                return Ok(pairs);
            }
            Err(NotMeasured::because(format!(
                "{} bumps moved both ends clearly here; it takes {FEWEST} to judge the bike by",
                pairs.len()
            )))
        });
        let of = |value: fn(&HitPair) -> f64| match &enough {
            Ok(pairs) => bootstrap_median(&pairs.iter().map(value).collect::<Vec<_>>(), SEED).map_or_else(
                || Measured::not(NotMeasured::because("there are no hit pairs")),
                Measured::from,
            ),
            Err(reason) => Measured::not(reason.clone()),
        };
        let quartiles = enough.clone().and_then(|pairs| {
            let ratios: Vec<f64> = pairs.iter().map(|pair| pair.ratio).collect();
            percentiles(&ratios, [25.0, 75.0]).ok_or_else(|| NotMeasured::because("there are no hit pairs"))
        });
        HitPairsReadout {
            hit_ratio: of(|pair| pair.ratio),
            hit_ratio_quartiles: quartiles.into(),
            hit_difference_m: of(|pair| pair.difference_m),
            hit_difference_share: of(|pair| pair.difference_share),
            hit_pairs: pairs.into(),
        }
    }
}

fn pairs(basis: &Basis<'_>) -> Result<Vec<HitPair>, NotMeasured> {
    let [front, rear] = [begun(basis, End::Front)?, begun(basis, End::Rear)?];
    let lags = wheelbase_lag::of_speed(basis).or_else(|_| wheelbase_lag::of_correlation(basis))?;
    let sin = basis.bike.head_angle_rad.sin();
    let pair = |(f, r): (usize, usize)| {
        let ((front_at, front), (rear_at, rear)) = (front[f], rear[r]);
        let (front_m, rear_m) = (front.stroke_m(), rear.stroke_m());
        HitPair {
            front_s: basis.time_s(front_at),
            rear_s: basis.time_s(rear_at),
            front_stroke_m: front_m,
            rear_stroke_m: rear_m,
            ratio: rear_m / (front_m * sin),
            difference_m: rear_m - front_m * sin,
            difference_share: rear_m / basis.bike.rear_travel_m - front_m / basis.bike.front_travel_m,
        }
    };
    let starts = |hits: &[(usize, Hit)]| hits.iter().map(|(start, _)| *start).collect::<Vec<_>>();
    let large = |f: &usize| front[*f].1.stroke_m() >= SMALLEST_M;
    Ok(matched(&starts(&front), large, &starts(&rear), &lags).into_iter().map(pair).collect())
}

/// Hits of one end that do not begin in flight, each with the sample at which it has clearly begun.
fn begun(basis: &Basis<'_>, end: End) -> Result<Vec<(usize, Hit)>, NotMeasured> {
    let travel = basis.sharp_travel_m(end)?;
    let begins = |hit: &Hit| {
        let level = hit.start_m + (BEGUN * hit.stroke_m()) as f32;
        let before = travel[hit.start..hit.deepest].iter().rposition(|t| *t <= level).unwrap_or(0);
        hit.start + before
    };
    let flights = basis.flights.as_deref().unwrap_or_default();
    let hits = basis.hits(end)?.iter().map(|hit| (begins(hit), *hit));
    Ok(hits.filter(|(at, hit)| !flights.iter().any(|f| f.start <= *at && hit.start < f.end)).collect())
}

/// Which front start goes with which rear start, one to one, by number in each list, in order.
fn matched(
    front: &[usize],
    large: impl Fn(&usize) -> bool,
    rear: &[usize],
    lags: &[f32],
) -> Vec<(usize, usize)> {
    let mut near = Vec::new();
    for f in (0..front.len()).filter(large) {
        let lag = f64::from(lags[front[f]]);
        let share = |r: usize| (rear[r] as f64 - front[f] as f64) / lag;
        let first = rear.partition_point(|at| (*at as f64) < front[f] as f64 + EARLIEST * lag);
        let fits = (first..rear.len()).take_while(|&r| share(r) <= LATEST);
        near.extend(fits.map(|r| ((share(r) - 1.0).abs(), f, r)));
    }
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut front_taken, mut rear_taken) = (vec![false; front.len()], vec![false; rear.len()]);
    let mut matched = Vec::new();
    for (_, f, r) in near {
        if !front_taken[f] && !rear_taken[r] {
            (front_taken[f], rear_taken[r]) = (true, true);
            matched.push((f, r));
        }
    }
    matched.sort_unstable();
    matched
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_front_hit_gets_the_rear_hit_nearest_to_the_lag_and_none_twice() {
        let lags = vec![40.0; 2000];
        let all = |_: &usize| true;
        // 26..54 samples later fits; 41 beats 30; the second front hit is left with the other.
        assert_eq!(matched(&[100, 112], all, &[130, 141], &lags), [(0, 1)]);
        assert_eq!(matched(&[100, 112], all, &[141, 150], &lags), [(0, 0), (1, 1)]);
        assert_eq!(matched(&[100, 112], |f| *f == 1, &[141, 150], &lags), [(1, 1)]);
        assert_eq!(matched(&[100], all, &[125, 155], &lags), []);
        assert_eq!(matched(&[100], all, &[126], &lags), [(0, 0)]);
        assert_eq!(matched(&[100], all, &[140], &[f32::NAN; 200]), []);
    }
}
