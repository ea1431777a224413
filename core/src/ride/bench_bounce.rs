//! Damping of one end from a bench bounce: the standing bike pushed down and released.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::contact::EXTENDED_M;
use super::free_rebound::FreeRebound;
use super::hits::strong_hits;
use crate::measured::{Measured, NotMeasured};
use crate::role::End;
use crate::signal::{median, median_interval};

/// Releases that are needed (own default).
const FEWEST_RELEASES: usize = 5;
/// How far past where the bike stood a push goes, m: asked are 40-60 mm.
const PUSH_M: std::ops::RangeInclusive<f64> = 0.03..=0.08;
/// Before a push the end stands still for this long, s...
const STILL_S: f64 = 0.3;
/// ...within this, m...
const STILL_M: f64 = 0.002;
/// ...at most this long before it is deepest, s.
const LONGEST_PUSH_S: f64 = 5.0;
/// Friction holds an end anywhere in a band whose deep edge is where it balances while it extends: that edge is
/// looked for among the levels at which it stood, this far at most from the one before the push, m.
const FRICTION_BAND_M: f64 = 0.004;
/// An end that extends more slowly than this stands, m/s...
const STANDS_MPS: f64 = 0.02;
/// ...and so does one slower than this share of its peak.
const STANDS_SHARE: f64 = 0.05;
/// Speed is taken over this long to either side, s.
const SPEED_REACH_S: f64 = 0.015;
/// A stroke is fitted from where this share of it is done: until then the hands still leave (own default).
const HANDS_OFF_SHARE: f64 = 0.1;
/// Room kept to the top-out rubber, m.
const TOP_OUT_ROOM_M: f64 = 0.001;
/// More misfit than this share of the stroke is no free rebound (own default).
const MISFIT_SHARE: f64 = 0.015;
/// A ratio known no better than this share of it is not used (own default).
const LARGEST_ERROR: f64 = 0.25;
/// Over this an end creeps back, and its ratio cannot be told from how it does (from simulated ends).
const LARGEST_RATIO: f64 = 1.5;
/// The same if one exponential leaves less than this over, as a share of the squares (own default).
const CREEP_RATIO: f64 = 1.5;
/// Without a speed, this share of all strong compressions must be releases, or the bike was ridden.
const BOUNCED_SHARE: f64 = 0.8;

const HOW: &str = "with the bike standing, push this end 40-60 mm down, let go at once and let it come to rest, \
                   five times or more";

/// Damping of one end, standing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BenchBounceReadout {
    /// Damping ratio of the rebound stroke at the stiffness of the level at which the bike stood: median over
    /// the releases of a bench bounce anywhere in the log, 1 = critical. Friction that moves the end's balance
    /// by more than some 3 mm is in part taken for damping.
    pub damping_ratio: Measured,
    /// Smallest and largest of the releases.
    pub damping_ratio_range: Measured<[f64; 2]>,
}

impl BenchBounceReadout {
    /// Finds the releases of one end in the whole log and reads them.
    pub fn of(basis: &Basis<'_>, end: End) -> Self {
        match ratios(basis, end) {
            Ok((middle, ratios)) => {
                let n = ratios.len();
                let (low, high) = (
                    ratios.iter().copied().fold(f64::MAX, f64::min),
                    ratios.iter().copied().fold(0.0, f64::max),
                );
                let ratio = Measured::value(middle).with_n(n);
                Self {
                    damping_ratio: match median_interval(&ratios) {
                        Some(interval) => ratio.with_interval(interval),
                        None => ratio,
                    },
                    damping_ratio_range: Measured::value([low, high]).with_n(n),
                }
            }
            Err(reason) => Self {
                damping_ratio: Measured::not(reason.clone()),
                damping_ratio_range: Measured::not(reason),
            },
        }
    }
}

/// Median and each of the damping ratios.
fn ratios(basis: &Basis<'_>, end: End) -> Result<(f64, Vec<f64>), NotMeasured> {
    let travel_m = basis.sharp_travel_m(end)?;
    let speed_known = basis.speed_mps().is_ok();
    let standing = |range: Range<usize>| !speed_known || range.into_iter().all(|i| !basis.rolling[i]);
    let releases = releases(travel_m, basis.bike.travel_m(end), basis.rate_hz(), standing);
    let ask = |why: String| NotMeasured::because(format!("{why}; {HOW}"));
    if !speed_known && releases.ridden {
        return Err(ask(
            "this is no bench bounce, and no speed is logged to tell where the bike stands".to_owned()
        ));
    }
    let n = releases.strokes.len();
    if n < FEWEST_RELEASES {
        return Err(ask(format!("damping shows in a bench bounce, of which {n} releases were found")));
    }
    let fits: Vec<Verdict> = releases.strokes.iter().map(|stroke| judge(stroke, basis.rate_hz())).collect();
    let ratios: Vec<f64> = fits
        .iter()
        .filter_map(|fit| if let Verdict::Ratio(zeta) = fit { Some(*zeta) } else { None })
        .collect();
    let creeping = fits.iter().filter(|fit| **fit == Verdict::Creeps).count();
    // Where many creep, those that seem to swing are chance.
    if 2 * creeping > n {
        return Err(NotMeasured::because(format!(
            "this end creeps back when released: it is damped more strongly than a bounce can tell (ratio over \
             about {LARGEST_RATIO})"
        )));
    }
    match median(&ratios) {
        Some(middle) if ratios.len() >= FEWEST_RELEASES => Ok((middle, ratios)),
        _ => Err(ask(format!("{} of {n} releases look like a free rebound", ratios.len()))),
    }
}

struct Releases {
    /// Each rebound stroke, m past the deepest level at which the bike stood before a push.
    strokes: Vec<Vec<f64>>,
    /// Most strong compressions are none.
    ridden: bool,
}

/// Finds pushes that begin from a standstill, and the stroke that follows each.
fn releases(
    travel_m: &[f32],
    full_m: f64,
    rate_hz: f64,
    standing: impl Fn(Range<usize>) -> bool,
) -> Releases {
    let hits = strong_hits(travel_m, full_m);
    let mut strokes = Vec::new();
    let mut deep = 0;
    for (i, hit) in hits.iter().enumerate() {
        if hit.stroke_m() < *PUSH_M.start() {
            continue;
        }
        deep += 1;
        let after = hits.get(i + 1).map_or(travel_m.len(), |next| next.start + 1);
        let before = if i > 0 { hits[i - 1].deepest } else { 0 };
        let Some((from, stood_m)) = standstill(travel_m, before, hit.deepest, rate_hz) else { continue };
        let Some(stroke) = rebound_stroke(travel_m, hit.deepest..after, rate_hz) else { continue };
        if !standing(from..stroke.end) {
            continue;
        }
        let top_m =
            travel_m[hit.deepest..stroke.start].iter().copied().fold(travel_m[stroke.start], f32::max);
        if PUSH_M.contains(&(f64::from(top_m) - stood_m)) {
            strokes.push((stood_m, stroke));
        }
    }
    let ridden = (strokes.len() as f64) < BOUNCED_SHARE * f64::from(deep);
    let deepest_m = strokes.iter().map(|(stood_m, _)| *stood_m).fold(f64::MIN, f64::max);
    let past = |(stood_m, stroke): (f64, Range<usize>)| {
        let level_m = deepest_m.min(stood_m + FRICTION_BAND_M);
        travel_m[stroke].iter().map(|t| f64::from(*t) - level_m).collect()
    };
    Releases { strokes: strokes.into_iter().map(past).collect(), ridden }
}

/// The last standstill well above the deepest point: its first sample and its level, m.
fn standstill(travel_m: &[f32], after: usize, deepest: usize, rate_hz: f64) -> Option<(usize, f64)> {
    let samples = |seconds: f64| ((seconds * rate_hz).round() as usize).max(1);
    let (length, step) = (samples(STILL_S), samples(STILL_S / 6.0));
    let first = after.max(deepest.saturating_sub(samples(LONGEST_PUSH_S)));
    let starts = (first..(deepest + 1).saturating_sub(length)).rev().step_by(step);
    starts.into_iter().find_map(|from| {
        let still = &travel_m[from..from + length];
        let low = still.iter().copied().fold(f32::MAX, f32::min);
        let high = still.iter().copied().fold(f32::MIN, f32::max);
        let stood_m = median(still)?;
        let is_still = f64::from(high - low) <= STILL_M && !still.iter().any(|t| t.is_nan());
        (is_still && f64::from(travel_m[deepest]) - stood_m >= *PUSH_M.start()).then_some((from, stood_m))
    })
}

/// The fastest rebound in a range: from where a tenth of it is done to where it stands or nears full extension.
fn rebound_stroke(travel_m: &[f32], range: Range<usize>, rate_hz: f64) -> Option<Range<usize>> {
    let reach = ((SPEED_REACH_S * rate_hz).round() as usize).max(1);
    let whole = range.start.max(reach)..range.end.min(travel_m.len().saturating_sub(reach));
    let speed =
        |i: usize| f64::from(travel_m[i + reach] - travel_m[i - reach]) * rate_hz / (2 * reach) as f64;
    let fastest =
        whole.clone().filter(|&i| !speed(i).is_nan()).min_by(|a, b| speed(*a).total_cmp(&speed(*b)))?;
    let stands_mps = -STANDS_MPS.max(STANDS_SHARE * -speed(fastest));
    let extended_m = EXTENDED_M + TOP_OUT_ROOM_M as f32;
    let ends = |&i: &usize| !(speed(i) < stands_mps && travel_m[i] > extended_m);
    let end = (fastest..whole.end).find(ends).unwrap_or(whole.end);
    let extends = |i: usize| speed(i) < -STANDS_MPS;
    let top = (whole.start..fastest).rev().find(|&i| !extends(i)).unwrap_or(whole.start);
    let done_m = HANDS_OFF_SHARE as f32 * (travel_m[top] - travel_m[end.min(travel_m.len() - 1)]);
    // A creeping end is fastest at once, long before that.
    let start = (top..end).find(|&i| travel_m[i] < travel_m[top] - done_m)?;
    (start < end).then_some(start..end)
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Verdict {
    Ratio(f64),
    Creeps,
    Unlike,
}

fn judge(stroke: &[f64], rate_hz: f64) -> Verdict {
    let Some(fit) = FreeRebound::fit(stroke, rate_hz) else { return Verdict::Unlike };
    let length_m = stroke.first().zip(stroke.last()).map_or(0.0, |(first, last)| first - last);
    if fit.misfit_m > MISFIT_SHARE * length_m {
        Verdict::Unlike
    } else if fit.creep_ratio < CREEP_RATIO || fit.zeta > LARGEST_RATIO {
        Verdict::Creeps
    } else if fit.relative_error > LARGEST_ERROR {
        Verdict::Unlike
    } else {
        Verdict::Ratio(fit.zeta)
    }
}
