//! Ride height that sinks through the run.

use super::case::{Case, end, key};
use super::words::{SUSPENSION_CAUTION, part};
use super::{Advice, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step, rebound};
use crate::role::{End, Role};
use crate::signal::theil_sen_interval;

/// Shorter sections have a ride height of their own bumps, s (own default).
const SHORTEST_S: f64 = 5.0;
/// A slope through fewer sections says nothing (own default).
const FEWEST: usize = 5;

/// At most one for each end.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    End::BOTH.into_iter().filter_map(|end| drift(case, end)).collect()
}

/// Whether an end is found to sink, which explains that it hangs deep.
pub fn is_found(case: &Case<'_>, end: End) -> bool {
    drift(case, end).is_some()
}

fn drift(case: &Case<'_>, at: End) -> Option<Finding> {
    // An end that does not come back sinks too, and more in the rough than later.
    if rebound::is_off(case, at) {
        return None;
    }
    let deciding = against_usual(case, at).or_else(|| alone(case, at))?;
    let limit = deciding.limit?.at;
    if deciding.value < limit || deciding.interval.is_some_and(|[low, _]| low <= 0.0) {
        return None;
    }
    let confidence = case.confidence(&deciding, deciding.value / limit, &[Role::Travel(at)]);
    let late = case.whole.end_s - 0.2 * case.whole.time_s;
    Some(Finding {
        kind: FindingKind::RideHeightDrifts,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: vec![Moment { start_s: late, end_s: case.whole.end_s }],
        statement: format!(
            "The {} sinks deeper through the run, by {}, as if its spring lost pressure or its damper grew hot.",
            part(at),
            deciding.shown()
        ),
        evidence: vec![deciding],
        confidence,
        advice: Advice {
            step: Step::Inspect(format!(
                "Read the {}'s pressure right after the run and again when it is cold; if it is lower than set, look for the leak.",
                part(at)
            )),
            other_causes: vec![
                "heat that thins the damper's oil on a long track".to_owned(),
                "a track that gets steeper or rougher towards the end".to_owned(),
                "a travel sensor that slips".to_owned(),
            ],
            next_run: "With the pressure put right, the same ride height in the last sections as in the earlier runs.".to_owned(),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

/// Slope of what each section's ride height differs from the usual by.
fn against_usual(case: &Case<'_>, at: End) -> Option<Evidence> {
    let number = key(at, "ride_height_m");
    let points = case.sections(&number).filter(|(section, _)| section.time_s >= SHORTEST_S);
    let (time_min, apart_m): (Vec<f64>, Vec<f64>) = points
        .filter_map(|(section, usual)| {
            let here = *end(section, at).travel.ride_height_m.get().ok()?;
            Some(((section.start_s + section.end_s) / 120.0, here - usual?))
        })
        .unzip();
    if time_min.len() < FEWEST {
        return None;
    }
    let (slope, interval) = theil_sen_interval(&time_min, &apart_m)?;
    let what = "how fast ride height sinks against the earlier runs, section by section";
    let evidence = Evidence {
        interval: Some(interval),
        n: Some(time_min.len()),
        usual: Some(0.0),
        ..Evidence::of(what, Measure::LengthPerMinute, slope)
    };
    Some(evidence.judged(Limit::DriftAgainstUsual, case.limit(Limit::DriftAgainstUsual)))
}

fn alone(case: &Case<'_>, at: End) -> Option<Evidence> {
    let slope = &end(case.whole, at).travel.ride_height_slope_m_per_min;
    let evidence =
        Evidence::measured("how fast ride height sinks through the run", Measure::LengthPerMinute, slope)?;
    let by = if at == End::Front { Limit::FrontDriftAlone } else { Limit::RearDriftAlone };
    Some(evidence.judged(by, case.limit(by)))
}
