//! How far the fork dives when the front brake comes on.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::brakes::Application;
use super::{BAND_ORDER, Trace};
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};
use crate::signal::{Bootstrapped, Sos, bootstrap_median};

/// Slower than bumps, as fast as braking moves the bike, Hz.
pub const SLOW_BAND_HZ: f64 = 3.0;
/// Travel, and the brake, must be logged this fast to show it, Hz.
const NEEDED_HZ: f64 = 10.0;
/// The fork answers a brake within this time, s.
const ANSWER_S: f64 = 0.6;
/// What travel was before is its mean over this part of the time before the brake came on, s: the filter
/// already lifts the last tenth of a second.
const BEFORE_S: [f64; 2] = [0.5, 0.1];
/// A shorter dab is over before the fork has answered, s.
const SHORTEST_S: f64 = 0.2;
/// Where slow travel moves by more than this share of full travel before the brake comes on (a landing, a
/// train of hits), there is no level to start from.
const UNSETTLED_SHARE: f64 = 0.1;
/// A median of fewer says nothing.
const LEAST: usize = 5;
/// Of the bootstrap.
const SEED: u64 = 8;

/// One front brake application and the fork's answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dive {
    /// When the brake came on, on the run's clock, s.
    pub start_s: f64,
    /// Highest pressure within 0.6 s of it, Pa.
    pub pressure_pa: f64,
    /// Rise of front travel below 3 Hz within 0.6 s, over its mean before, m.
    pub rise_m: f64,
    /// Change of pitch against the ground chord below 3 Hz from before to when the fork is deepest, rad, +
    /// nose down; `null` without rear travel.
    pub pitch_rad: Option<f64>,
}

/// Dive over one section.
///
/// It counts applications of 0.2 s and more that begin while the bike rolls on the ground, half a second or
/// more after the last one, with travel settled before: below 3 Hz within a tenth of full travel.
/// Applications with a flight from 0.5 s before to 0.6 s after are left out: landing is no dive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DiveReadout {
    /// Median over applications of rise over pressure, m/Pa, with its bootstrap interval. (The slope of rise
    /// over pressure across applications is another number, and smaller.)
    pub gain_m_per_pa: Measured,
    /// Median rise, m.
    pub rise_m: Measured,
    /// The same as a share of full travel.
    pub rise_share: Measured,
    /// Median change of pitch, rad, + nose down.
    pub pitch_rad: Measured,
    /// Each application that counts.
    pub dives: Measured<Vec<Dive>>,
}

/// The dives of one run.
pub struct Dives {
    found: Result<Vec<(usize, Dive)>, NotMeasured>,
    pitch: Result<(), NotMeasured>,
    full_m: f64,
}

impl Dives {
    /// Finds them.
    pub fn new(basis: &Basis<'_>) -> Self {
        let pitch = chord_pitch(basis);
        let found = dives(basis, pitch.as_deref().ok());
        Self { found, pitch: pitch.map(|_| ()), full_m: basis.bike.travel_m(End::Front) }
    }

    /// Reads one stretch.
    pub fn read(&self, range: &Range<usize>) -> DiveReadout {
        let here = self.found.as_ref().map_err(Clone::clone).map(|found| {
            let here = found.iter().filter(|(start, _)| range.contains(start));
            here.map(|(_, dive)| dive.clone()).collect::<Vec<_>>()
        });
        let over = |of: &dyn Fn(&Dive) -> Option<f64>| {
            let values: Vec<f64> = here.as_ref().map_err(Clone::clone)?.iter().filter_map(of).collect();
            enough(&values)
        };
        DiveReadout {
            gain_m_per_pa: measured(over(&|dive| Some(dive.rise_m / dive.pressure_pa))),
            rise_m: measured(over(&|dive| Some(dive.rise_m))),
            rise_share: measured(over(&|dive| Some(dive.rise_m / self.full_m))),
            pitch_rad: measured(self.pitch.clone().and_then(|()| over(&|dive| dive.pitch_rad))),
            dives: here.into(),
        }
    }
}

fn enough(values: &[f64]) -> Result<Bootstrapped, NotMeasured> {
    match bootstrap_median(values, SEED) {
        Some(found) if values.len() >= LEAST => Ok(found),
        _ => Err(NotMeasured::because(format!(
            "{} front brake applications here begin with the bike settled on the ground; dive needs {LEAST}",
            values.len()
        ))),
    }
}

fn measured(found: Result<Bootstrapped, NotMeasured>) -> Measured {
    match found {
        Ok(found) => Measured::value(found.estimate).with_n(found.n).with_interval(found.interval),
        Err(reason) => Measured::not(reason),
    }
}

fn chord_pitch(basis: &Basis<'_>) -> Result<Vec<f32>, NotMeasured> {
    basis.travel_m(End::Front)?;
    basis.travel_m(End::Rear)?;
    slow(basis, basis.derived(Trace::ChordPitch, "it needs travel at both ends")?)
}

fn slow(basis: &Basis<'_>, samples: &[f32]) -> Result<Vec<f32>, NotMeasured> {
    Sos::low_pass(BAND_ORDER, SLOW_BAND_HZ, basis.rate_hz())
        .map(|filter| filter.zero_phase_stretches(samples))
        .map_err(|_| NotMeasured::because("travel is logged too slowly for dive"))
}

fn dives(basis: &Basis<'_>, pitch: Option<&[f32]>) -> Result<Vec<(usize, Dive)>, NotMeasured> {
    for role in [Role::Travel(End::Front), Role::Brake(End::Front)] {
        basis.logged(role)?;
        basis.needs_rate(role, NEEDED_HZ, "dive needs")?;
    }
    let travel = slow(basis, basis.travel_m(End::Front)?)?;
    let pressure = basis.brake_pa(End::Front)?;
    let applications = basis.applications(End::Front)?;
    let mut found = Vec::new();
    let mut off = 0;
    for on in applications {
        let was_off = std::mem::replace(&mut off, on.range.end);
        let dive = clean_window(basis, on, was_off).and_then(|[before, answer]| {
            settled(&travel[before.clone()], UNSETTLED_SHARE * basis.bike.travel_m(End::Front))?;
            let deepest = answer.clone().max_by(|&i, &j| travel[i].total_cmp(&travel[j]))?;
            let rise_m = f64::from(travel[deepest]) - mean(&travel[before.clone()]);
            let pressure_pa = pressure[answer].iter().copied().fold(f32::NAN, f32::max).into();
            let pitch_rad = pitch
                .map(|pitch| f64::from(pitch[deepest]) - mean(&pitch[before]))
                .filter(|pitch| pitch.is_finite());
            let start_s = basis.time_s(on.range.start);
            rise_m.is_finite().then_some(Dive { start_s, pressure_pa, rise_m, pitch_rad })
        });
        found.extend(dive.map(|dive| (on.range.start, dive)));
    }
    Ok(found)
}

/// The time before and the time of the fork's answer, if this application can show it.
fn clean_window(basis: &Basis<'_>, on: &Application, was_off: usize) -> Option<[Range<usize>; 2]> {
    let start = on.range.start;
    let [from, to] = BEFORE_S.map(|before_s| start.checked_sub(basis.samples(before_s)));
    let (before, answer) = (from?..to?, start..start + basis.samples(ANSWER_S) + 1);
    let flies = basis
        .flights
        .as_deref()
        .unwrap_or_default()
        .iter()
        .any(|flight| flight.start < answer.end && flight.end > before.start);
    let lasts = on.range.len() >= basis.samples(SHORTEST_S);
    // The first of a run has none before it.
    let alone = was_off == 0 || was_off <= before.start;
    let whole = answer.end <= basis.len() && !before.is_empty();
    (whole && lasts && alone && !flies && basis.grounded[start]).then_some([before, answer])
}

/// Whether slow travel keeps within `within_m`, and is there at all.
fn settled(travel_m: &[f32], within_m: f64) -> Option<()> {
    let low = travel_m.iter().copied().reduce(f32::min)?;
    let high = travel_m.iter().copied().reduce(f32::max)?;
    let whole = travel_m.iter().all(|t| !t.is_nan());
    (whole && f64::from(high) - f64::from(low) <= within_m).then_some(())
}

fn mean(samples: &[f32]) -> f64 {
    samples.iter().map(|v| f64::from(*v)).sum::<f64>() / samples.len() as f64
}
