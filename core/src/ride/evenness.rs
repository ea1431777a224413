//! Whether both ends do the same on the same ground.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::wheelbase_lag;
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};

/// Slower is ride height, faster is wheel and tyre, Hz.
const BAND_HZ: [f64; 2] = [0.3, 12.0];
/// Less says too little about the slow end of the band, s.
const SHORTEST_S: f64 = 5.0;

/// Evenness over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EvennessReadout {
    /// Share of movement in which the ends differ, var(zf - zr) / (var(zf - zr) + var(zf + zr)): 0 where both
    /// do the same on the same ground, 0.5 where they have nothing to do with each other, 1 where one goes
    /// down as the other comes up.
    pub evenness_share: Measured,
    /// Movement of the rear over that of the front: SD zr / SD zf.
    pub evenness_gain: Measured,
}

/// Vertical wheel movement of both ends on the same ground, 0.3-12 Hz.
pub struct Evenness {
    /// Front and rear, m, NaN where they cannot be compared; or why they cannot at all.
    pairs: Result<Vec<[f32; 2]>, NotMeasured>,
    shortest: usize,
}

impl Evenness {
    /// Prepares a run: zf = front travel x sin HA and zr = rear travel, band-passed, the rear shifted earlier
    /// by the time in which the bike rolls one wheelbase. Only where both wheels meet that ground over 2 m/s
    /// and not in flight.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self { pairs: pairs(basis), shortest: basis.samples(SHORTEST_S) }
    }

    /// Reads one section.
    pub fn read(&self, range: &Range<usize>) -> EvennessReadout {
        let [share, gain] = match self.share_and_gain(range) {
            Ok((values, n)) => values.map(|value| Measured::value(value).with_n(n)),
            Err(reason) => [Measured::not(reason.clone()), Measured::not(reason)],
        };
        EvennessReadout { evenness_share: share, evenness_gain: gain }
    }

    fn share_and_gain(&self, range: &Range<usize>) -> Result<([f64; 2], usize), NotMeasured> {
        let pairs = self.pairs.as_ref().map_err(Clone::clone)?;
        let both = || {
            let known = pairs[range.clone()].iter().filter(|[f, r]| !f.is_nan() && !r.is_nan());
            known.map(|pair| pair.map(f64::from))
        };
        let n = both().count();
        if n < self.shortest.max(2) {
            return Err(NotMeasured::because(format!(
                "evenness needs {SHORTEST_S:.0} s of rolling on the ground over 2 m/s"
            )));
        }
        let variance = |of: fn([f64; 2]) -> f64| {
            let mean = both().map(of).sum::<f64>() / n as f64;
            both().map(|pair| (of(pair) - mean).powi(2)).sum::<f64>() / n as f64
        };
        let [apart, together] = [variance(|[f, r]| f - r), variance(|[f, r]| f + r)];
        let [front, rear] = [variance(|[f, _]| f), variance(|[_, r]| r)];
        if apart + together <= 0.0 || front <= 0.0 {
            return Err(NotMeasured::because("nothing moves here"));
        }
        Ok(([apart / (apart + together), (rear / front).sqrt()], n))
    }
}

fn pairs(basis: &Basis<'_>) -> Result<Vec<[f32; 2]>, NotMeasured> {
    let lags = wheelbase_lag::of_speed(basis)?;
    let front = basis.in_band(Role::Travel(End::Front), BAND_HZ)?;
    let rear = basis.in_band(Role::Travel(End::Rear), BAND_HZ)?;
    let sin = basis.bike.head_angle_rad.sin() as f32;
    // Missing lags give a missing sample.
    Ok((0..front.len()).map(|i| [sin * front[i], on_the_same_ground(basis, &rear, i, lags[i])]).collect())
}

/// `rear` at sample `i` plus a lag, on a straight line between samples; NaN where either wheel flies.
fn on_the_same_ground(basis: &Basis<'_>, rear: &[f32], i: usize, lag: f32) -> f32 {
    if lag.is_nan() || !basis.grounded[i] {
        return f32::NAN;
    }
    let at = i + lag as usize;
    match (rear.get(at), basis.grounded.get(at)) {
        (Some(&one), Some(true)) => {
            let next = rear.get(at + 1).copied().unwrap_or(one);
            one + (next - one) * lag.fract()
        }
        _ => f32::NAN,
    }
}
