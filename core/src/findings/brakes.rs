//! Brakes that lock, rub, drag, or are on where nobody should brake.

use super::case::{Case, brake};
use super::words::{BRAKE_CAUTION, times};
use super::{Advice, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step};
use crate::readout::SectionReadout;
use crate::ride::{DragReadout, SlipEpisode, SlipKind};
use crate::role::{End, Role};

/// What both brakes show.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    let of_end = |at| [residual(case, at), in_no_brake_section(case, at), dragged(case, at)];
    rear_locks(case).into_iter().chain(End::BOTH.into_iter().flat_map(of_end).flatten()).collect()
}

fn rear_locks(case: &Case<'_>) -> Option<Finding> {
    let locked_s = case.limit(Limit::LockedTime);
    let holds = |episode: &&SlipEpisode| episode.kind == SlipKind::LockUp && episode.locked_s >= locked_s;
    let wheel = &case.whole.rear_wheel;
    let mut locks: Vec<&SlipEpisode> = wheel.episodes.get().ok()?.iter().filter(holds).collect();
    let limit = case.limit(Limit::Locks);
    if (locks.len() as f64) < limit {
        return None;
    }
    let together_s: f64 = locks.iter().map(|lock| lock.locked_s).sum();
    let suspected = locks.iter().any(|lock| lock.suspected);
    locks.sort_by(|a, b| b.locked_s.total_cmp(&a.locked_s));
    let count = Evidence {
        n: Some(locks.len()),
        ..Evidence::of("lock-ups of the rear wheel", Measure::Count, locks.len() as f64)
    };
    let count = count.judged(Limit::Locks, limit);
    let mut evidence = vec![count, Evidence::of("locked in all", Measure::Time, together_s)];
    evidence.extend(Evidence::count("shorter ones and bumps included", &wheel.lockups));
    evidence.extend(Evidence::measured(
        "usual peak of the rear brake",
        Measure::Pressure,
        &case.whole.brakes.rear.usual_peak_pa,
    ));
    let mut confidence = case.confidence(
        &evidence[0],
        locks.len() as f64 / limit,
        &[Role::WheelSpeed(End::Rear), Role::Brake(End::Rear)],
    );
    if suspected {
        confidence
            .sensors
            .push("told by the rear wheel alone: no other wheel says how fast the bike went".to_owned());
    }
    let moments: Vec<Moment> =
        locks.iter().map(|lock| Moment { start_s: lock.start_s, end_s: lock.end_s }).collect();
    Some(Finding {
        kind: FindingKind::RearLocks,
        end: Some(End::Rear),
        section: section_of(case, &moments),
        statement: format!(
            "The rear wheel locked {} for {} or longer, {} in all: a locked wheel slides, and the brake stiffens the rear while it does.",
            times(locks.len()),
            Measure::Time.words(locked_s),
            Measure::Time.words(together_s)
        ),
        moments,
        evidence,
        confidence,
        advice: Advice {
            step: Step::Ride("Brake earlier and softer at the rear, and let the lever go over bumps; take more with the front.".to_owned()),
            other_causes: vec![
                "a rear brake that bites too hard for the grip there: pads, disc size, lever reach".to_owned(),
                "a rear wheel that is off the ground when it is braked".to_owned(),
                "a rear tyre with too much pressure or worn knobs".to_owned(),
            ],
            next_run: "Fewer and shorter lock-ups at the same places, without time lost there.".to_owned(),
            cautions: vec![BRAKE_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

fn residual(case: &Case<'_>, at: End) -> Option<Finding> {
    let residual = &brake(case.whole, at).residual;
    if residual.residual_over_allowance.get() != Ok(&true) {
        return None;
    }
    let allowed = residual.residual_allowance_pa;
    let rms =
        Evidence::measured("pressure with the lever off, RMS", Measure::Pressure, &residual.residual_rms_pa)?;
    let times = rms.value / allowed;
    let mut evidence = vec![rms];
    evidence.push(Evidence::of("what you allow, set with the bike", Measure::Pressure, allowed));
    evidence.extend(Evidence::measured("of it constant", Measure::Pressure, &residual.residual_constant_pa));
    evidence.extend(Evidence::measured(
        "blips a minute of free lever",
        Measure::Count,
        &residual.residual_blips_per_min,
    ));
    let confidence = case.confidence(&evidence[0], times, &[Role::Brake(at)]);
    Some(Finding {
        kind: FindingKind::BrakeResidual,
        end: Some(at),
        section: case.whole.name.clone(),
        moments: case.worst("", |section, _| brake(section, at).residual.residual_rms_pa.get().ok().copied()),
        statement: format!(
            "The {} brake keeps {} with the lever off, more than the {} you allow: something may rub or not let go.",
            at.name(),
            evidence[0].shown(),
            Measure::Pressure.words(allowed)
        ),
        evidence,
        confidence,
        advice: Advice {
            step: Step::Inspect(format!(
                "Lift the {} wheel and turn it: listen for rub, look whether pads, pistons and lever go all the way back, and whether the hose is pulled when the bars or the rear move.",
                at.name()
            )),
            other_causes: vec![
                "a frame that flexes in corners, which is normal in small amounts".to_owned(),
                "fluid that has grown hot and has no way back".to_owned(),
                "a pressure sensor whose zero has moved".to_owned(),
            ],
            next_run: "Pressure with the lever off within what you allow.".to_owned(),
            cautions: vec![BRAKE_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

fn in_no_brake_section(case: &Case<'_>, at: End) -> Option<Finding> {
    let marked = || case.run.sections.iter().skip(1).filter(|section| section.brakes.no_braking);
    let on_s = |section: &SectionReadout| brake(section, at).drag_s.get().copied().unwrap_or(0.0);
    let total_s: f64 = marked().map(on_s).sum();
    let limit = case.limit(Limit::NoBraking);
    let most = marked().max_by(|a, b| on_s(a).total_cmp(&on_s(b)))?;
    if total_s < limit || total_s <= 0.0 {
        return None;
    }
    let mut drags: Vec<DragReadout> =
        marked().filter_map(|section| brake(section, at).drag_list.get().ok()).flatten().cloned().collect();
    drags.sort_by(|a, b| b.length_s.total_cmp(&a.length_s));
    let count = drags.len().max(1);
    let on = Evidence {
        n: None,
        ..Evidence::of("brake on in sections marked \"no braking\"", Measure::Time, total_s)
    };
    let mut evidence =
        vec![on.judged(Limit::NoBraking, limit), Evidence::of("pulls there", Measure::Count, count as f64)];
    evidence.extend(
        drags
            .first()
            .map(|drag| Evidence::of("mean pressure of the longest", Measure::Pressure, drag.mean_pa)),
    );
    evidence.extend(
        Evidence::measured("both brakes on there", Measure::Time, &most.brakes.overlap_s)
            .filter(|both| both.value > 0.0),
    );
    let confidence = case.confidence(&evidence[0], total_s / limit, &[Role::Brake(at)]);
    Some(Finding {
        kind: FindingKind::BrakeInNoBrakeSection,
        end: Some(at),
        section: most.name.clone(),
        moments: drags
            .iter()
            .map(|drag| Moment { start_s: drag.start_s, end_s: drag.start_s + drag.length_s })
            .collect(),
        statement: format!(
            "The {} brake was on for {} where you marked that nobody should brake ({}).",
            at.name(),
            Measure::Time.words(total_s),
            most.name
        ),
        evidence,
        confidence,
        advice: Advice {
            step: Step::Ride(format!(
                "Leave the {} lever alone there, or brake before the section.",
                at.name()
            )),
            other_causes: vec![
                "a mark that is a few metres off".to_owned(),
                "arriving faster than in other runs, or an obstacle".to_owned(),
                "a hand that is thrown onto the lever by the bumps: lever reach and angle".to_owned(),
            ],
            next_run: "No pressure in the section.".to_owned(),
            cautions: vec![
                "Where braking keeps the rider safe, braking is right: check the mark first.".to_owned(),
            ],
        },
        doubt: None,
    })
}

/// Long light pulls: stretches up to a quarter of the usual peak, and pulls of seconds that stay well below it.
fn dragged(case: &Case<'_>, at: End) -> Option<Finding> {
    let whole = brake(case.whole, at);
    let usual_pa = case
        .usual(&format!("brakes.{}.usual_peak_pa", at.name()))
        .or_else(|| whole.usual_peak_pa.get().ok().copied());
    let (length_s, share) = (case.limit(Limit::HeldLength), case.limit(Limit::HeldShare));
    let drags = whole.drag_list.get().ok()?;
    let mut held: Vec<DragReadout> = drags.clone();
    for pull in whole.application_list.get().ok()? {
        let light = usual_pa.is_some_and(|usual_pa| pull.mean_pa <= share * usual_pa);
        let rolls = pull.start_s + pull.length_s <= case.whole.end_s;
        let known =
            drags.iter().any(|drag| (pull.start_s..pull.start_s + pull.length_s).contains(&drag.start_s));
        if light && rolls && !known && pull.length_s >= length_s {
            held.push(DragReadout { start_s: pull.start_s, length_s: pull.length_s, mean_pa: pull.mean_pa });
        }
    }
    held.sort_by(|a, b| b.length_s.total_cmp(&a.length_s));
    let total_s: f64 = held.iter().map(|drag| drag.length_s).sum();
    let limit = case.limit(Limit::Dragged);
    if held.is_empty() || total_s < limit {
        return None;
    }
    let mean_pa = held.iter().map(|drag| drag.mean_pa * drag.length_s).sum::<f64>() / total_s;
    let dragged =
        Evidence { n: Some(held.len()), ..Evidence::of("lightly held, in all", Measure::Time, total_s) };
    let mut evidence = vec![
        dragged.judged(Limit::Dragged, limit),
        Evidence::of("mean pressure meanwhile", Measure::Pressure, mean_pa),
    ];
    evidence.extend(
        usual_pa.map(|usual_pa| Evidence::of("usual peak of this brake", Measure::Pressure, usual_pa)),
    );
    evidence.extend(Evidence::measured(
        "both brakes on in the run",
        Measure::Time,
        &case.whole.brakes.overlap_s,
    ));
    let confidence = case.confidence(&evidence[0], total_s / limit, &[Role::Brake(at)]);
    let moments: Vec<Moment> = held
        .iter()
        .map(|drag| Moment { start_s: drag.start_s, end_s: drag.start_s + drag.length_s })
        .collect();
    Some(Finding {
        kind: FindingKind::BrakeDragged,
        end: Some(at),
        section: section_of(case, &moments),
        statement: format!(
            "The {} brake was held lightly for seconds at a time, {}, {} in all: that heats it and slows the bike without stopping it.",
            at.name(),
            times(held.len()),
            Measure::Time.words(total_s)
        ),
        moments,
        evidence,
        confidence,
        advice: Advice {
            step: Step::Ride(format!(
                "Brake shorter and firmer with the {} lever, then let it go all the way.",
                at.name()
            )),
            other_causes: vec![
                "a lever that does not come all the way back, or pads that stick: turn the wheel by hand"
                    .to_owned(),
                "a steep part that is ridden on the brakes on purpose".to_owned(),
            ],
            next_run: "Shorter pulls at the same places, and the same or less time there.".to_owned(),
            cautions: vec![BRAKE_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

/// The section that all moments lie in, else the whole run.
fn section_of(case: &Case<'_>, moments: &[Moment]) -> String {
    let mut names = moments.iter().map(|moment| case.section_at(moment.start_s));
    match names.next() {
        Some(first) if names.all(|name| name == first) => first,
        _ => case.whole.name.clone(),
    }
}
