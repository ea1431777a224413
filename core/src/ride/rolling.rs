//! When the bike rolls.

use super::basis::Unfit;
use super::contact::ROLLING_MPS;
use super::{Trace, Traces};
use crate::role::{End, Role};

/// Without a speed: the axles move more than this on average over a second when rolling, m/s.
const ROLLING_AXLE_MPS: f32 = 0.02;

/// Where the bike rolls: faster than 1 m/s; without a speed, where its axles move.
pub fn rolling(traces: &Traces, unfit: &Unfit) -> Vec<bool> {
    let grid = traces.grid();
    if let Some(speed) = traces.get(Trace::Speed) {
        return speed.iter().map(|v| *v > ROLLING_MPS).collect();
    }
    let half = (grid.rate_hz / 2.0) as usize;
    let mut rolling = vec![false; grid.len];
    for end in [End::Front, End::Rear] {
        let Some(speed) = traces.get(Trace::AxleSpeed(end)) else { continue };
        // What is noise would roll all day.
        if !unfit.allows_detail(Role::Travel(end)) {
            continue;
        }
        let mut sum = 0.0_f64;
        let moved: Vec<f64> = std::iter::once(0.0)
            .chain(speed.iter().map(|v| {
                sum += f64::from(if v.is_nan() { 0.0 } else { v.abs() });
                sum
            }))
            .collect();
        for (i, slot) in rolling.iter_mut().enumerate() {
            let (from, to) = (i.saturating_sub(half), (i + half + 1).min(grid.len));
            *slot |= (moved[to] - moved[from]) / (to - from) as f64 > f64::from(ROLLING_AXLE_MPS);
        }
    }
    rolling
}
