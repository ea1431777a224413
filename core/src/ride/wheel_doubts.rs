//! Doubts about wheel speeds: a wheel that stands while the bike moves, and speeds that disagree.

use super::basis::Unfit;
use super::contact::ranges_where;
use super::speed::Wheels;
use super::wheel_slip::DISAGREE_SHARE;
use super::{Doubt, Trace, Traces};
use crate::readout::ChannelReadout;
use crate::role::{End, Role};
use crate::signal::{Sos, median};

/// A wheel slower than this stands, m/s.
const STANDING_MPS: f32 = 0.3;
/// Another speed beyond this moves, m/s.
const MOVING_MPS: f32 = 3.0;
/// No wheel is locked for so long, s.
const STANDING_S: f64 = 5.0;
/// Axles shaken by the ground for so long mean riding, s.
const SHAKEN_S: f64 = 10.0;
/// The ground shakes axles faster than this, a bounce on the bench does not, Hz.
const SHAKEN_BAND_HZ: f64 = 8.0;
/// RMS axle speed over that, within a second, that is ground and not noise, m/s.
const SHAKEN_MPS: f64 = 0.1;
/// Speeds must be compared for so long, s.
const COMPARED_S: f64 = 10.0;

/// Adds the doubts that only other channels can raise to the flags of wheel channels.
pub fn doubt_wheels(channels: &mut [ChannelReadout], traces: &Traces, wheels: &Wheels<'_>, unfit: &Unfit) {
    let shaken = shaken(traces, unfit);
    for end in [End::Front, End::Rear] {
        if let Some(doubt) = of_wheel(traces, wheels, end, &shaken) {
            let measures =
                |channel: &ChannelReadout| channel.used && channel.role.as_read() == Role::WheelSpeed(end);
            if let Some(channel) = channels.iter_mut().find(|channel| measures(channel)) {
                channel.flags.push(doubt);
            }
        }
    }
}

fn of_wheel(traces: &Traces, wheels: &Wheels<'_>, end: End, shaken: &[bool]) -> Option<Doubt> {
    let rate_hz = traces.grid().rate_hz;
    let speed = wheels.wheel(end)?.speed_mps;
    let other = wheels.wheel(if end == End::Front { End::Rear } else { End::Front });
    let gps = traces.get(Trace::Logged(Role::GroundSpeed));
    let moves = |i: usize| {
        other.is_some_and(|other| other.speed_mps[i] > MOVING_MPS)
            || gps.is_some_and(|gps| gps[i] > MOVING_MPS)
    };
    let standing = |seconds: f64, moves: &dyn Fn(usize) -> bool| -> usize {
        let shortest = (seconds * rate_hz) as usize;
        ranges_where(speed.len(), shortest, |i| speed[i] < STANDING_MPS && moves(i))
            .iter()
            .map(ExactSizeIterator::len)
            .sum()
    };
    let samples = standing(STANDING_S, &moves).max(standing(SHAKEN_S, &|i| shaken[i]));
    if samples > 0 {
        return Some(Doubt::Standing { for_s: samples as f64 / rate_hz });
    }
    if let Some(gps) = gps {
        return over(speed, gps, rate_hz)
            .filter(|ratio| disagrees(*ratio))
            .map(|ratio| Doubt::WrongSpeed { ratio });
    }
    let ratio = wheels.rear_scale;
    let ratio = if end == End::Rear { ratio } else { 1.0 / ratio };
    disagrees(wheels.rear_scale).then_some(Doubt::SpeedsDisagree { ratio })
}

fn disagrees(ratio: f64) -> bool {
    !(1.0 - DISAGREE_SHARE..1.0 / (1.0 - DISAGREE_SHARE)).contains(&ratio)
}

/// Median of a wheel's speed over GPS speed while both move, which short lock-ups do not move.
fn over(speed_mps: &[f32], gps_mps: &[f32], rate_hz: f64) -> Option<f64> {
    let ratios: Vec<f64> = speed_mps
        .iter()
        .zip(gps_mps)
        .filter(|&(v, gps)| *gps > MOVING_MPS && *v > STANDING_MPS)
        .map(|(v, gps)| f64::from(v / gps))
        .collect();
    if (ratios.len() as f64) < COMPARED_S * rate_hz { None } else { median(&ratios) }
}

/// By sample: an axle is shaken as only ground does it.
fn shaken(traces: &Traces, unfit: &Unfit) -> Vec<bool> {
    let grid = traces.grid();
    let mut shaken = vec![false; grid.len];
    let Ok(filter) = Sos::high_pass(2, SHAKEN_BAND_HZ, grid.rate_hz) else { return shaken };
    let half = (grid.rate_hz / 2.0) as usize;
    for end in [End::Front, End::Rear] {
        // Noise shakes a bike that stands, too.
        if !unfit.allows_detail(Role::Travel(end)) {
            continue;
        }
        let Some(axle) = traces.get(Trace::AxleSpeed(end)) else { continue };
        let mut sum = 0.0_f64;
        let squares: Vec<f64> = std::iter::once(0.0)
            .chain(filter.zero_phase_stretches(axle).iter().map(|v| {
                sum += if v.is_nan() { 0.0 } else { f64::from(*v).powi(2) };
                sum
            }))
            .collect();
        for (i, shaken) in shaken.iter_mut().enumerate() {
            let (from, to) = (i.saturating_sub(half), (i + half + 1).min(grid.len));
            *shaken |= squares[to] - squares[from] > SHAKEN_MPS.powi(2) * (to - from) as f64;
        }
    }
    shaken
}
