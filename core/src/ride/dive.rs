//! How far the fork dives when the front brake comes on.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::brakes::Application;
use super::{BAND_ORDER, Trace};
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};
use crate::signal::{Bootstrapped, Sos, bootstrap_median, median};

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
/// What bumps alone do is read at moments this far apart, s...
const MOMENTS_S: f64 = 0.25;
/// ...of which there must be this many.
const LEAST_MOMENTS: usize = 20;
/// Of the bootstrap.
const SEED: u64 = 8;

/// One front brake application and the fork's answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dive {
    /// When the brake came on, on the run's clock, s.
    pub start_s: f64,
    /// Highest pressure within 0.6 s of it, Pa.
    pub pressure_pa: f64,
    /// Rise of front travel below 3 Hz within 0.6 s, over its mean before, m; what bumps alone do taken out.
    pub rise_m: f64,
    /// Change of pitch against the ground chord below 3 Hz from before to when the fork is deepest, rad, +
    /// nose down; what bumps alone do taken out; `null` without rear travel.
    pub pitch_rad: Option<f64>,
}

/// Dive over one section.
///
/// It counts applications of 0.2 s and more that begin while the bike rolls on the ground, half a second or
/// more after the last one, with travel settled before: below 3 Hz within a tenth of full travel.
/// Applications with a flight from 0.5 s before to 0.6 s after are left out: landing is no dive.
///
/// The deepest of 0.6 s over rough ground lies deeper than the mean before it, brake or none. So the same is
/// read all through the run where no brake is on, and the median of that is taken from each rise.
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
    /// What bumps alone do, m, which is taken out: median over the whole run where no brake is on.
    pub bump_rise_m: Measured,
    /// Each application that counts.
    pub dives: Measured<Vec<Dive>>,
}

/// The dives of one run.
pub struct Dives {
    found: Result<Found, NotMeasured>,
    pitch: Result<(), NotMeasured>,
    full_m: f64,
}

/// Each dive with the sample at which it begins, and what bumps alone do.
struct Found {
    dives: Vec<(usize, Dive)>,
    bump_rise_m: f64,
    moments: usize,
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
            let here = found.dives.iter().filter(|(start, _)| range.contains(start));
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
            bump_rise_m: self
                .found
                .as_ref()
                .map(|found| Measured::value(found.bump_rise_m).with_n(found.moments))
                .unwrap_or_else(|reason| Measured::not(reason.clone())),
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
        Ok(found) => found.into(),
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

fn dives(basis: &Basis<'_>, pitch: Option<&[f32]>) -> Result<Found, NotMeasured> {
    for role in [Role::Travel(End::Front), Role::Brake(End::Front)] {
        basis.logged(role)?;
        basis.needs_rate(role, NEEDED_HZ, "dive needs")?;
    }
    let travel = slow(basis, basis.travel_m(End::Front)?)?;
    let pressure = basis.brake_pa(End::Front)?;
    let front = basis.applications(End::Front)?;
    let answer = |start: usize, braked: &[Application]| {
        let window = Window::around(basis, start, braked)?;
        Answer::of(&window, &travel, pitch, UNSETTLED_SHARE * basis.bike.travel_m(End::Front))
    };

    let both: Vec<Application> =
        front.iter().chain(basis.applications(End::Rear).unwrap_or_default()).cloned().collect();
    let moments: Vec<Answer> = (0..basis.len())
        .step_by(basis.samples(MOMENTS_S).max(1))
        .filter(|&start| !both.iter().any(|on| meets(&on.range, start..start + basis.samples(ANSWER_S) + 1)))
        .filter_map(|start| answer(start, &both))
        .collect();
    let of_bumps = |of: fn(&Answer) -> f64| median(&moments.iter().map(of).collect::<Vec<_>>());
    let bump_rise_m = match of_bumps(|answer| answer.rise_m) {
        Some(rise_m) if moments.len() >= LEAST_MOMENTS => rise_m,
        _ => {
            return Err(NotMeasured::because(
                "the bike hardly ever rolls without a brake, so what bumps do cannot be taken out of dive",
            ));
        }
    };
    let bump_pitch_rad = of_bumps(|answer| answer.pitch_rad).unwrap_or(0.0);

    let mut dives = Vec::new();
    for (k, on) in front.iter().enumerate() {
        let start = on.range.start;
        if on.range.len() < basis.samples(SHORTEST_S) {
            continue;
        }
        let Some(found) = answer(start, &front[..k]) else { continue };
        let pressed = pressure[start..start + basis.samples(ANSWER_S) + 1].iter().copied();
        let pitch_rad = found.pitch_rad - bump_pitch_rad;
        let dive = Dive {
            start_s: basis.time_s(start),
            pressure_pa: pressed.fold(f32::NAN, f32::max).into(),
            rise_m: found.rise_m - bump_rise_m,
            pitch_rad: pitch_rad.is_finite().then_some(pitch_rad),
        };
        dives.push((start, dive));
    }
    Ok(Found { dives, bump_rise_m, moments: moments.len() })
}

/// The time before a moment and the time of the fork's answer to it.
struct Window {
    before: Range<usize>,
    answer: Range<usize>,
}

impl Window {
    /// If the bike is on the ground throughout and none of `braked` reaches into the time before.
    fn around(basis: &Basis<'_>, start: usize, braked: &[Application]) -> Option<Self> {
        let [from, to] = BEFORE_S.map(|before_s| start.checked_sub(basis.samples(before_s)));
        let (before, answer) = (from?..to?, start..start + basis.samples(ANSWER_S) + 1);
        let whole = answer.end <= basis.len() && !before.is_empty() && basis.grounded[start];
        let flights = basis.flights.as_deref().unwrap_or_default();
        let flies = flights.iter().any(|flight| meets(flight, before.start..answer.end));
        let brakes = braked.iter().any(|on| meets(&on.range, before.start..start));
        (whole && !flies && !brakes).then_some(Self { before, answer })
    }
}

/// What the fork did in a window.
struct Answer {
    rise_m: f64,
    /// NaN where it is not measured.
    pitch_rad: f64,
}

impl Answer {
    /// `None` where travel is missing, or moves by more than `unsettled_m` before.
    fn of(window: &Window, travel_m: &[f32], pitch_rad: Option<&[f32]>, unsettled_m: f64) -> Option<Self> {
        let Window { before, answer } = window;
        settled(&travel_m[before.clone()], unsettled_m)?;
        if travel_m[answer.clone()].iter().any(|t| t.is_nan()) {
            return None;
        }
        let deepest = answer.clone().max_by(|&i, &j| travel_m[i].total_cmp(&travel_m[j]))?;
        let change = |samples: &[f32]| f64::from(samples[deepest]) - mean(&samples[before.clone()]);
        Some(Self { rise_m: change(travel_m), pitch_rad: pitch_rad.map_or(f64::NAN, change) })
    }
}

fn meets(a: &Range<usize>, b: Range<usize>) -> bool {
    a.start < b.end && b.start < a.end
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
