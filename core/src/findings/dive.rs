//! A fork that dives under the brake.

use super::case::Case;
use super::words::{SUSPENSION_CAUTION, against_usual};
use super::{
    Adjuster, Adjustment, Advice, Direction, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step,
};
use crate::role::{End, Role};

/// At most one.
pub fn findings(case: &Case<'_>) -> Option<Finding> {
    let dive = &case.whole.dive;
    let share = Evidence::measured("dive as a share of travel, median", Measure::Share, &dive.rise_share);
    let gain =
        Evidence::measured("dive for each bar, median", Measure::LengthPerPressure, &dive.gain_m_per_pa);
    let share = share.map(|share| share.judged(Limit::DiveShare, case.limit(Limit::DiveShare)));
    let gain = gain.and_then(|gain| {
        let usual = case.usual("dive.gain_m_per_pa").filter(|usual| *usual > 0.0)?;
        let limit = case.limit(Limit::DiveOverUsual) * usual;
        Some(gain.with_usual(Some(usual)).judged(Limit::DiveOverUsual, limit))
    });
    let beyond = |evidence: &&Evidence| {
        let limit = evidence.limit.map_or(f64::INFINITY, |limit| limit.at);
        evidence.value >= limit && evidence.interval.is_none_or(|[low, _]| low >= limit)
    };
    let deciding = share.as_ref().filter(beyond).or(gain.as_ref().filter(beyond))?.clone();
    let times = match deciding.usual {
        Some(usual) => (deciding.value / usual).ln() / case.limit(Limit::DiveOverUsual).ln(),
        None => deciding.value / case.limit(Limit::DiveShare),
    };
    let statement = format!(
        "The fork dives when the front brake comes on, and has little travel left for the next bump: {} {}{}.",
        deciding.what,
        deciding.shown(),
        against_usual(&deciding)
    );
    let confidence = case.confidence(&deciding, times, &[Role::Travel(End::Front), Role::Brake(End::Front)]);
    let mut dives = dive.dives.get().cloned().unwrap_or_default();
    dives.sort_by(|a, b| b.rise_m.total_cmp(&a.rise_m));
    let others = [share, gain, Evidence::measured("dive, median", Measure::Length, &dive.rise_m)];
    let others: Vec<Evidence> =
        others.into_iter().flatten().filter(|other| other.what != deciding.what).collect();
    let front = |adjuster| Adjustment { adjuster, end: End::Front, direction: Direction::More };
    Some(Finding {
        kind: FindingKind::Dives,
        end: Some(End::Front),
        section: case.whole.name.clone(),
        moments: dives
            .iter()
            .take(3)
            .map(|dive| Moment { start_s: dive.start_s, end_s: dive.start_s + 0.6 })
            .collect(),
        statement,
        evidence: std::iter::once(deciding).chain(others).collect(),
        confidence,
        advice: Advice {
            step: Step::OneOf(vec![front(Adjuster::Spring), front(Adjuster::SlowCompression)]),
            other_causes: vec![
                "braking late and hard with the front alone".to_owned(),
                "weight far forward, or bars that are low".to_owned(),
                "rear rebound so fast that it lifts the rear under braking".to_owned(),
            ],
            next_run: "Less dive for the same pressure, and no more harshness at the front.".to_owned(),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}
