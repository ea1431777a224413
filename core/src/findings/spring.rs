//! An end that is sprung too soft or too firm.

use super::case::{Case, end, key};
use super::words::{SUSPENSION_CAUTION, against_usual, part};
use super::{
    Adjuster, Advice, Direction, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step, drift, rebound,
};
use crate::role::{End, Role};

/// A shorter run need not use all its travel, s (own default).
const WHOLE_RUN_S: f64 = 60.0;

/// At most one for each end.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    End::BOTH.into_iter().filter_map(|end| too_soft(case, end).or_else(|| too_firm(case, end))).collect()
}

fn too_soft(case: &Case<'_>, at: End) -> Option<Finding> {
    // Both let an end hang low, on whatever spring.
    let explained = rebound::is_off(case, at) || drift::is_found(case, at);
    let (deciding, times) = deeper(case, at)
        .filter(|_| !explained)
        .or_else(|| sags(case, at))
        .or_else(|| bottoms_out(case, at))?;
    let statement = format!(
        "The {} hangs deep in its travel, so that little is left for big hits: {} {}{}.",
        part(at),
        deciding.what,
        deciding.shown(),
        against_usual(&deciding)
    );
    let confidence = case.confidence(&deciding, times, &[Role::Travel(at)]);
    let readout = end(case.whole, at);
    let more = [
        Evidence::count("bottom-outs", &readout.travel.bottom_outs),
        Evidence::measured("sag, if the rider was aboard", Measure::Share, &readout.sag_share),
        Evidence::measured("ride height, of travel", Measure::Share, &readout.travel.ride_height_share),
        Evidence::measured(
            "front ride height less rear, of travel",
            Measure::Share,
            &case.whole.level.ride_height_offset_share,
        ),
    ];
    let others: Vec<Evidence> =
        more.into_iter().flatten().filter(|other| other.what != deciding.what).collect();
    let evidence = std::iter::once(deciding).chain(others).collect();
    Some(Finding {
        kind: FindingKind::TooSoft,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: deepest(case, at),
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::turn(Adjuster::Spring, at, Direction::More),
            other_causes: vec![
                "air that has leaked out: read the pressure first".to_owned(),
                "rebound so slow that the end packs down".to_owned(),
                "a rider who stands farther to this end, or a steeper track".to_owned(),
            ],
            next_run: format!("The {} higher while rolling, and fewer bottom-outs.", part(at)),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

/// Whether an end hangs deeper than usual while it stands still, where damping has no say.
pub fn stands_deeper(case: &Case<'_>, at: End) -> bool {
    let sag = end(case.whole, at).sag_share.get().ok().copied();
    let deeper = sag.zip(case.usual(&key(at, "sag_share"))).map(|(sag, usual)| sag - usual);
    deeper.is_some_and(|deeper| deeper >= case.limit(Limit::DeeperThanUsual))
}

fn deeper(case: &Case<'_>, at: End) -> Option<(Evidence, f64)> {
    let usual = case.usual(&key(at, "ride_height_m"));
    let ride_height = &end(case.whole, at).travel.ride_height_m;
    let evidence = Evidence::measured("ride height", Measure::Length, ride_height)?.with_usual(usual);
    let room_m = case.limit(Limit::DeeperThanUsual) * case.bike.travel_m(at);
    let deeper_m = evidence.value - usual?;
    (deeper_m >= room_m).then(|| {
        (evidence.judged(Limit::DeeperThanUsual, usual.unwrap_or_default() + room_m), deeper_m / room_m)
    })
}

/// Too much sag, where nothing better is known.
fn sags(case: &Case<'_>, at: End) -> Option<(Evidence, f64)> {
    if case.usual(&key(at, "ride_height_m")).is_some() {
        return None;
    }
    let by = if at == End::Front { Limit::FrontSagMost } else { Limit::RearSagMost };
    let limit = case.limit(by);
    let sag = &end(case.whole, at).sag_share;
    let evidence = Evidence::measured("sag, if the rider was aboard", Measure::Share, sag)?;
    (evidence.value > limit).then(|| {
        let times = evidence.value / limit;
        (evidence.judged(by, limit), times)
    })
}

fn bottoms_out(case: &Case<'_>, at: End) -> Option<(Evidence, f64)> {
    let limit = case.limit(Limit::BottomOuts);
    let count = Evidence::count("bottom-outs", &end(case.whole, at).travel.bottom_outs)?;
    (count.value >= limit).then(|| {
        let times = count.value / limit;
        (count.judged(Limit::BottomOuts, limit), times)
    })
}

/// The section in which the end goes deepest.
fn deepest(case: &Case<'_>, at: End) -> Vec<Moment> {
    case.worst("", |section, _| end(section, at).travel.travel_max_m.get().ok().copied())
}

fn too_firm(case: &Case<'_>, at: End) -> Option<Finding> {
    let readout = end(case.whole, at);
    let limit = case.limit(Limit::TravelUsed);
    let deciding =
        Evidence::measured("deepest travel of the run", Measure::Share, &readout.travel.travel_max_share)?;
    if deciding.value > limit || case.whole.time_s < WHOLE_RUN_S {
        return None;
    }
    let times = (1.0 - deciding.value) / (1.0 - limit);
    let deciding = deciding.judged(Limit::TravelUsed, limit);
    let statement = format!(
        "The {} never used more than {} of its travel in the whole run, so that bumps come through harder than they need to.",
        part(at),
        deciding.shown()
    );
    let confidence = case.confidence(&deciding, times, &[Role::Travel(at)]);
    let mut evidence = vec![deciding];
    evidence.extend(Evidence::measured(
        "harshness: frame vibration for how fast the axle moves",
        Measure::PerSecond,
        &readout.harshness_per_s,
    ));
    Some(Finding {
        kind: FindingKind::TooFirm,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: deepest(case, at),
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::turn(Adjuster::Spring, at, Direction::Less),
            other_causes: vec![
                "a track without a big hit, or a slow run".to_owned(),
                "too many volume spacers, or too much compression damping".to_owned(),
                "a full travel that is typed too long".to_owned(),
            ],
            next_run: format!(
                "The {} deeper at its deepest, still without bottoming out more than once or twice.",
                part(at)
            ),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}
