//! A frame that shakes sideways: rebound where an end tops out early, else something else.

use super::case::Case;
use super::rebound::{self, early_top_outs};
use super::words::{STRUCTURE_CAUTION, against_usual};
use super::{Advice, Evidence, Finding, FindingKind, Limit, Measure, Step};
use crate::role::{Axis, End, Place, Role};

const KEY: &str = "lateral.shake_rms_mps2";

/// Rebound at each end that tops out early, or one finding that it is not rebound.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    let Some((shake, times)) = shakes(case) else { return Vec::new() };
    let moments = case.worst(KEY, |section, _| section.lateral.shake_rms_mps2.get().ok().copied());
    let early = |at: End| {
        let share = early_top_outs(case, at)?;
        let limit = share.limit?.at;
        (share.value >= limit).then_some((at, share.value / limit, share))
    };
    let early: Vec<_> = End::BOTH.into_iter().filter_map(early).collect();
    if !early.is_empty() {
        // Where the rebound rate has told it already, it is told once.
        let new = early.into_iter().filter(|(at, ..)| !rebound::is_off(case, *at));
        return new
            .map(|(at, times, share)| {
                let mut finding = rebound::fast(case, at, share, times, moments.clone());
                finding.evidence.insert(1, shake.clone());
                finding
            })
            .collect();
    }
    if End::BOTH.into_iter().any(|at| rebound::is_off(case, at)) {
        return Vec::new();
    }
    let read = Axis::ALL.map(|axis| Role::Accel(Place::Frame, axis));
    let confidence = case.confidence(&shake, times, &read);
    let mut evidence = vec![shake];
    evidence.extend(End::BOTH.into_iter().filter_map(|at| {
        let share = early_top_outs(case, at)?;
        Some(Evidence { what: format!("{}: {}", at.name(), share.what), ..share })
    }));
    vec![Finding {
        kind: FindingKind::Shakes,
        end: None,
        section: case.whole.name.clone(),
        moments,
        statement: format!(
            "The bike shakes sideways, {}{}, though neither end tops out early: rebound is in order, look elsewhere.",
            evidence[0].shown(),
            against_usual(&evidence[0])
        ),
        evidence,
        confidence,
        advice: Advice {
            step: Step::Inspect("Read both tyre pressures, then look at wheels, spokes, hubs, axles, headset and the frame's bearings for play.".to_owned()),
            other_causes: vec![
                "a rougher line or more speed than in the earlier runs".to_owned(),
                "a sensor unit that is loose on the frame".to_owned(),
            ],
            next_run: "Less shake at like speed in the same sections.".to_owned(),
            cautions: vec![STRUCTURE_CAUTION.to_owned()],
        },
        doubt: None,
    }]
}

fn shakes(case: &Case<'_>) -> Option<(Evidence, f64)> {
    let usual = case.usual(KEY).filter(|usual| *usual > 0.0);
    let measured = &case.whole.lateral.shake_rms_mps2;
    let shake =
        Evidence::measured("sideways shake, median", Measure::Acceleration, measured)?.with_usual(usual);
    let most = case.limit(Limit::Shake);
    let (by, limit) = match usual.map(|usual| case.limit(Limit::ShakeOverUsual) * usual) {
        Some(over_usual) if over_usual < most => (Limit::ShakeOverUsual, over_usual),
        _ => (Limit::Shake, most),
    };
    (shake.value >= limit).then(|| {
        let times = shake.value / limit;
        (shake.judged(by, limit), times)
    })
}
