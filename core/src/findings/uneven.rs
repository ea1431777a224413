//! Ends that make different things of the same bumps.

use super::case::Case;
use super::words::{SUSPENSION_CAUTION, against_usual};
use super::{
    Adjuster, Adjustment, Advice, Direction, Evidence, Finding, FindingKind, Limit, Measure, Moment, Step,
};
use crate::ride::HitPair;
use crate::role::{End, Role};

const TRAVEL: [Role; 2] = [Role::Travel(End::Front), Role::Travel(End::Rear)];

/// All bumps of the run together, and one big one alone.
pub fn findings(case: &Case<'_>) -> Vec<Finding> {
    all_through(case).into_iter().chain(one_big_hit(case)).collect()
}

fn all_through(case: &Case<'_>) -> Option<Finding> {
    let level = &case.whole.level;
    let usual = case.usual("level.hit_ratio");
    let what = "rear wheel movement over front on the same bumps, median";
    let ratio = Evidence::measured(what, Measure::Ratio, &level.hit_pairs.hit_ratio)?.with_usual(usual);
    let by = if usual.is_some() { Limit::HitRatioOff } else { Limit::HitRatioAlone };
    let (middle, room) = (usual.unwrap_or(1.0), case.limit(by));
    let [low, high] = ratio.interval?;
    // The whole interval has to lie outside.
    let (more, at) = if low > middle * (1.0 + room) {
        (End::Rear, middle * (1.0 + room))
    } else if high < middle * (1.0 - room) {
        (End::Front, middle * (1.0 - room))
    } else {
        return None;
    };
    let times = (ratio.value / middle - 1.0).abs() / room;
    let ratio = ratio.judged(by, at);
    let (moving, less) = if more == End::Rear { ("rear", "front") } else { ("front", "rear") };
    let statement = format!(
        "On the same bumps the {moving} moves more than the {less}, so that the bike pitches instead of staying level: {} times as far at the rear as at the front{}.",
        ratio.shown(),
        against_usual(&ratio)
    );
    let confidence = case.confidence(&ratio, times, &TRAVEL);
    let mut evidence = vec![ratio];
    evidence.extend(Evidence::measured(
        "difference of wheel movement, rear less front, median",
        Measure::Length,
        &level.hit_pairs.hit_difference_m,
    ));
    evidence.extend(Evidence::measured(
        "evenness: 0 both ends the same, 1 opposite",
        Measure::Ratio,
        &level.evenness.evenness_share,
    ));
    let other = if more == End::Rear { End::Front } else { End::Rear };
    let compression = |end, direction| Adjustment { adjuster: Adjuster::SlowCompression, end, direction };
    Some(Finding {
        kind: FindingKind::EndsUneven,
        end: None,
        section: case.whole.name.clone(),
        moments: case.worst("level.hit_ratio", |section, usual| {
            let ratio = *section.level.hit_pairs.hit_ratio.get().ok()?;
            Some((ratio / usual.unwrap_or(middle) - 1.0).abs())
        }),
        statement,
        evidence,
        confidence,
        advice: Advice {
            step: Step::OneOf(vec![compression(more, Direction::More), compression(other, Direction::Less)]),
            other_causes: vec![
                "rebound of one end that is too fast or too slow".to_owned(),
                "one end that is sprung too soft or too firm".to_owned(),
                "a rider who stands farther forward or back than usual".to_owned(),
            ],
            next_run: "The ratio back towards what it usually is, and a calmer frame.".to_owned(),
            cautions: vec![SUSPENSION_CAUTION.to_owned()],
        },
        doubt: None,
    })
}

/// Common practice: 150 mm at the front and 200 mm at the rear on one big bump is an imbalance there.
fn one_big_hit(case: &Case<'_>) -> Option<Finding> {
    let (big_m, limit) = (case.limit(Limit::BigHit), case.limit(Limit::BigHitRatio));
    let over = |pair: &HitPair| {
        let (front, rear) = (pair.front_stroke_m, pair.rear_stroke_m);
        front.max(rear) / front.min(rear)
    };
    let is_uneven =
        |pair: &&HitPair| pair.front_stroke_m.min(pair.rear_stroke_m) >= big_m && over(pair) >= limit;
    let mut pairs: Vec<&HitPair> =
        case.whole.level.hit_pairs.hit_pairs.get().ok()?.iter().filter(is_uneven).collect();
    pairs.sort_by(|a, b| over(b).total_cmp(&over(a)));
    let worst = *pairs.first()?;
    let ratio = Evidence {
        n: Some(pairs.len()),
        ..Evidence::of("the longer stroke over the shorter", Measure::Ratio, over(worst))
    };
    let mm = |m: f64| Measure::Length.words(m);
    let evidence = vec![
        ratio.judged(Limit::BigHitRatio, limit),
        Evidence::of("front stroke", Measure::Length, worst.front_stroke_m),
        Evidence::of("rear stroke", Measure::Length, worst.rear_stroke_m),
    ];
    let section = case.section_at(worst.front_s);
    let confidence = case.confidence(&evidence[0], over(worst) / limit, &TRAVEL);
    Some(Finding {
        kind: FindingKind::UnevenHit,
        end: None,
        statement: format!(
            "On one big bump the front went {} and the rear {}: the bike did not stay level there.",
            mm(worst.front_stroke_m),
            mm(worst.rear_stroke_m)
        ),
        section,
        moments: pairs.iter().map(|pair| Moment { start_s: pair.front_s, end_s: pair.rear_s + 0.5 }).collect(),
        evidence,
        confidence,
        advice: Advice {
            step: Step::Inspect("Look at this place on the video and in the next run before anything is turned: one bump is no setting.".to_owned()),
            other_causes: vec![
                "where the rider's weight was at that moment".to_owned(),
                "two wheels that did not hit the same thing".to_owned(),
            ],
            next_run: "About the same stroke at both ends at this place, or the same difference again: then it is the setting.".to_owned(),
            cautions: Vec::new(),
        },
        doubt: None,
    })
}
