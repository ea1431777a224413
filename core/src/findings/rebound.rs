//! An end that comes back too fast, or does not come back.

use super::case::{Case, end, key};
use super::words::{SUSPENSION_CAUTION, against_usual, part};
use super::{
    Adjuster, Advice, Direction, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step, spring,
};
use crate::role::{End, Role};

/// At most one for each end.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    End::BOTH.into_iter().filter_map(|end| too_fast(case, end).or_else(|| too_slow(case, end))).collect()
}

/// Whether an end's rebound is found out of order, which explains much else about it.
pub fn is_off(case: &Case<'_>, end: End) -> bool {
    too_fast(case, end).or_else(|| too_slow(case, end)).is_some()
}

const RATE: &str = "rebound_rate_per_s";

fn rate(case: &Case<'_>, at: End) -> Option<Evidence> {
    let measured = &end(case.whole, at).rebound.rebound_rate_per_s;
    let evidence = Evidence::measured("rebound rate", Measure::PerSecond, measured)?.meaning(
        "Speed on the way back from a hit, for how deep it was: it falls as rebound damping is added.",
    );
    Some(evidence.with_usual(case.usual(&key(at, RATE)).filter(|usual| *usual > 0.0)))
}

/// Hits after which the end flew to full extension at once, of all; with the limit.
pub fn early_top_outs(case: &Case<'_>, at: End) -> Option<Evidence> {
    let measured = &end(case.whole, at).rebound.early_top_outs;
    let (count, n) = (*measured.get().ok()?, measured.n().filter(|n| *n > 0)?);
    let limit = case.limit(Limit::EarlyTopOuts);
    let evidence = Evidence {
        interval: crate::signal::wilson(count, n),
        n: Some(n),
        ..Evidence::of("hits after which it tops out at once", Measure::Share, count as f64 / n as f64)
    };
    Some(evidence.judged(Limit::EarlyTopOuts, limit))
}

/// Which way rebound is off.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Off {
    Fast,
    Slow,
}

/// The deciding number, one that agrees with it, and how far the first is beyond its limit.
type Shown = (Evidence, Option<Evidence>, f64);

fn shows(case: &Case<'_>, at: End, off: Off) -> Option<Shown> {
    let rate = rate(case, at);
    match rate.as_ref().and_then(|rate| rate.usual) {
        Some(usual) => against_earlier(case, off, rate?, usual),
        None if off == Off::Slow => slow_alone(case, at),
        None => None,
    }
}

fn against_earlier(case: &Case<'_>, off: Off, rate: Evidence, usual: f64) -> Option<Shown> {
    let by = if off == Off::Fast { Limit::ReboundFaster } else { Limit::ReboundSlower };
    let factor = case.limit(by);
    let times = (rate.value / usual).ln() / factor.ln();
    let beyond = if off == Off::Fast { rate.value >= factor * usual } else { rate.value <= factor * usual };
    beyond.then(|| (rate.judged(by, factor * usual), None, times))
}

/// Without an earlier run the rate says nothing, for it goes with masses, springs and dampers of a bike, and early
/// top-outs alone are found on bikes in order too: too fast is left to shake. An end is too slow where it comes back
/// slowly for how fast it was pushed in, and does not swing past ride height or is met by the next hit.
fn slow_alone(case: &Case<'_>, at: End) -> Option<Shown> {
    let [ratio_by, overshoot_by] = match at {
        End::Front => [Limit::FrontSpeedRatioSlow, Limit::FrontOvershootSlow],
        End::Rear => [Limit::RearSpeedRatioSlow, Limit::RearOvershootSlow],
    };
    let limit = case.limit(ratio_by);
    let ratio = speed_ratio(case, at).filter(|ratio| ratio.value <= limit)?;
    let creeps_back = || {
        let limit = case.limit(overshoot_by);
        Some(overshoot(case, at).filter(|past| past.value <= limit)?.judged(overshoot_by, limit))
    };
    let is_met = || {
        let limit = case.limit(Limit::NotRecovered);
        Some(not_recovered(case, at).filter(|share| share.value >= limit)?.judged(Limit::NotRecovered, limit))
    };
    let second = creeps_back().or_else(is_met)?;
    let times = limit / ratio.value;
    Some((ratio.judged(ratio_by, limit), Some(second), times))
}

/// How fast the end comes back for how fast it is pushed in.
fn speed_ratio(case: &Case<'_>, at: End) -> Option<Evidence> {
    let speeds = &end(case.whole, at).axle_speed;
    let back = *speeds.rebound_speed_p95_mps.get().ok()?;
    let pushed_in = speeds.compression_speed_p95_mps.get().ok().filter(|speed| **speed > 0.0)?;
    let what = "speed coming back divided by speed going in";
    let meaning = "95th percentiles of axle speed: at 1 it comes back as fast as the ground pushes it in.";
    Some(Evidence::of(what, Measure::Ratio, back / pushed_in).meaning(meaning))
}

/// How far the end goes past ride height after a hit, of its travel.
fn overshoot(case: &Case<'_>, at: End) -> Option<Evidence> {
    let measured = &end(case.whole, at).rebound.overshoot_p50_m;
    let length = Evidence::measured(
        "how far it goes past ride height after a hit, of travel",
        Measure::Share,
        measured,
    )?;
    let full_m = case.bike.travel_m(at);
    (full_m > 0.0).then(|| Evidence {
        value: length.value / full_m,
        interval: length.interval.map(|interval| interval.map(|m| m / full_m)),
        ..length
    })
}

fn not_recovered(case: &Case<'_>, at: End) -> Option<Evidence> {
    let share = &end(case.whole, at).recovery.all.not_recovered_share;
    Evidence::measured("hits met by the next one before it was back", Measure::Share, share)
}

fn too_fast(case: &Case<'_>, at: End) -> Option<Finding> {
    let (deciding, _, times) = shows(case, at, Off::Fast)?;
    Some(fast(case, at, deciding, times, worst(case, at, 1.0)))
}

/// The finding, by whatever number decides it.
pub fn fast(case: &Case<'_>, at: End, deciding: Evidence, times: f64, moments: Vec<Moment>) -> Finding {
    let confidence = case.confidence(&deciding, times, &[Role::Travel(at)]);
    let statement = format!(
        "The {} comes back from hits too fast, so that the wheel is thrown off the ground: {} {}{}.",
        part(at),
        deciding.what,
        deciding.shown(),
        against_usual(&deciding)
    );
    let readout = end(case.whole, at);
    let mut evidence = vec![deciding];
    add(&mut evidence, early_top_outs(case, at));
    add(&mut evidence, overshoot(case, at));
    let skitter = &readout.contact.skitter_s;
    add(&mut evidence, Evidence::measured("time this wheel alone was unweighted", Measure::Time, skitter));
    Finding {
        kind: FindingKind::ReboundTooFast,
        end: Some(at),
        section: case.whole.name.clone(),
        moments,
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::turn(Adjuster::Rebound, at, Direction::More),
            other_causes: vec![
                "damping that has faded with heat, or a damper that has lost oil or gas".to_owned(),
                "a spring that is too firm for this rebound setting".to_owned(),
                "a rougher or faster track than in the earlier runs".to_owned(),
            ],
            next_run: format!(
                "The {}'s rebound rate lower, fewer top-outs right after hits, and no more hits met before it is back.",
                part(at)
            ),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    }
}

fn too_slow(case: &Case<'_>, at: End) -> Option<Finding> {
    // A softer spring pushes back more slowly, whatever the damping.
    if spring::stands_deeper(case, at) {
        return None;
    }
    let (deciding, second, times) = shows(case, at, Off::Slow)?;
    let statement = format!(
        "The {} comes back too slowly and has less travel left for each next hit: {} {}{}.",
        part(at),
        deciding.what,
        deciding.shown(),
        against_usual(&deciding)
    );
    let confidence = case.confidence(&deciding, times, &[Role::Travel(at)]);
    let readout = end(case.whole, at);
    let mut evidence = vec![deciding];
    add(&mut evidence, second);
    add(&mut evidence, not_recovered(case, at));
    let recovery = &readout.recovery.all.recovery_p50_s;
    add(&mut evidence, Evidence::measured("time to come back from a hit, median", Measure::Time, recovery));
    let sink = &readout.packing.sink_m;
    add(&mut evidence, Evidence::measured("how much it sinks in a train of hits", Measure::Length, sink));
    Some(Finding {
        kind: FindingKind::ReboundTooSlow,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: worst(case, at, -1.0),
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::turn(Adjuster::Rebound, at, Direction::Less),
            other_causes: vec![
                match at {
                    End::Front => "friction: a bent or dry fork leg",
                    End::Rear => "friction: a tight bearing, a bent or dry shock",
                }
                .to_owned(),
                "a spring that is too soft to push it back".to_owned(),
                "cold oil in the first run of a cold day".to_owned(),
            ],
            next_run: format!(
                "The {}'s rebound rate higher, fewer hits met before it is back, and a higher ride height in rough sections.",
                part(at)
            ),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

/// Adds a number that is not among the evidence yet.
fn add(evidence: &mut Vec<Evidence>, other: Option<Evidence>) {
    evidence.extend(other.filter(|other| evidence.iter().all(|known| known.what != other.what)));
}

/// Where the rate is farthest from the usual, `sign` 1 for faster.
fn worst(case: &Case<'_>, at: End, sign: f64) -> Vec<Moment> {
    case.worst(&key(at, RATE), |section, usual| {
        let rate = *end(section, at).rebound.rebound_rate_per_s.get().ok()?;
        Some(sign * (rate / usual.unwrap_or(1.0)).ln())
    })
}
