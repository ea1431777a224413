//! An end that comes back too fast, or does not come back.

use super::case::{Case, end, key};
use super::words::{SUSPENSION_CAUTION, against_usual, part};
use super::{
    Adjuster, Adjustment, Advice, Direction, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step,
    spring,
};
use crate::readout::EndReadout;
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

fn too_fast(case: &Case<'_>, at: End) -> Option<Finding> {
    let rate = rate(case, at)?;
    let (by, limit, times) = match rate.usual {
        Some(usual) => {
            let factor = case.limit(Limit::ReboundFaster);
            (Limit::ReboundFaster, factor * usual, (rate.value / usual).ln() / factor.ln())
        }
        None => {
            let by = if at == End::Front { Limit::FrontReboundFast } else { Limit::RearReboundFast };
            let limit = case.limit(by);
            (by, limit, rate.value / limit)
        }
    };
    if rate.value < limit {
        return None;
    }
    let rate = rate.judged(by, limit);
    Some(fast(case, at, rate, times, worst(case, at, 1.0)))
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
    let mut evidence = vec![deciding];
    evidence.extend(early_top_outs(case, at).filter(|other| other.what != evidence[0].what));
    evidence.extend(beside(end(case.whole, at), &[Beside::Overshoot, Beside::Skitter]));
    Finding {
        kind: FindingKind::ReboundTooFast,
        end: Some(at),
        section: case.whole.name.clone(),
        moments,
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::Adjust(Adjustment {
                adjuster: Adjuster::Rebound,
                end: at,
                direction: Direction::More,
            }),
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
    let readout = end(case.whole, at);
    let rate = rate(case, at);
    let share = Evidence::measured(
        "hits met by the next one before it was back",
        Measure::Share,
        &readout.recovery.all.not_recovered_share,
    );
    // A softer spring pushes back more slowly, whatever the damping.
    let by_rate = rate.filter(|_| !spring::stands_deeper(case, at)).and_then(|rate| {
        let (by, limit, times) = match rate.usual {
            Some(usual) => {
                let factor = case.limit(Limit::ReboundSlower);
                (Limit::ReboundSlower, factor * usual, (rate.value / usual).ln() / factor.ln())
            }
            None => {
                let by = if at == End::Front { Limit::FrontReboundSlow } else { Limit::RearReboundSlow };
                let limit = case.limit(by);
                (by, limit, limit / rate.value)
            }
        };
        (rate.value <= limit).then(|| (rate.judged(by, limit), times))
    });
    let by_share = || {
        let limit = case.limit(Limit::NotRecovered);
        let share = share.clone().filter(|share| share.interval.is_some_and(|[low, _]| low >= limit))?;
        let times = share.value / limit;
        Some((share.judged(Limit::NotRecovered, limit), times))
    };
    let known = case.usual(&key(at, RATE)).is_some();
    let (deciding, times) = by_rate.or_else(|| if known { None } else { by_share() })?;
    let statement = format!(
        "The {} comes back too slowly and has less travel left for each next hit: {} {}{}.",
        part(at),
        deciding.what,
        deciding.shown(),
        against_usual(&deciding)
    );
    let confidence = case.confidence(&deciding, times, &[Role::Travel(at)]);
    let mut evidence = vec![deciding];
    evidence.extend(share.filter(|share| share.what != evidence[0].what));
    evidence.extend(beside(readout, &[Beside::Recovery, Beside::Sink]));
    Some(Finding {
        kind: FindingKind::ReboundTooSlow,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: worst(case, at, -1.0),
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::Adjust(Adjustment {
                adjuster: Adjuster::Rebound,
                end: at,
                direction: Direction::Less,
            }),
            other_causes: vec![
                "friction: a bent or dry fork leg, a tight bearing".to_owned(),
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

/// Numbers that stand beside the deciding one.
enum Beside {
    Overshoot,
    Skitter,
    Recovery,
    Sink,
}

fn beside(readout: &EndReadout, which: &[Beside]) -> Vec<Evidence> {
    let one = |which: &Beside| match which {
        Beside::Overshoot => Evidence::measured(
            "how far it goes past ride height after a hit",
            Measure::Length,
            &readout.rebound.overshoot_p50_m,
        ),
        Beside::Skitter => Evidence::measured(
            "time this wheel alone was unweighted",
            Measure::Time,
            &readout.contact.skitter_s,
        ),
        Beside::Recovery => Evidence::measured(
            "time to come back from a hit, median",
            Measure::Time,
            &readout.recovery.all.recovery_p50_s,
        ),
        Beside::Sink => Evidence::measured(
            "how much it sinks in a train of hits",
            Measure::Length,
            &readout.packing.sink_m,
        ),
    };
    which.iter().filter_map(one).collect()
}

/// Where the rate is farthest from the usual, `sign` 1 for faster.
fn worst(case: &Case<'_>, at: End, sign: f64) -> Vec<Moment> {
    case.worst(&key(at, RATE), |section, usual| {
        let rate = *end(section, at).rebound.rebound_rate_per_s.get().ok()?;
        Some(sign * (rate / usual.unwrap_or(1.0)).ln())
    })
}
