//! Where one run loses or gains time on another.

use super::{RunTrack, STEP_M, Section};
use crate::measured::{Measured, NotMeasured};

/// Time of run b less that of run a along the course: + where b has lost.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeLost {
    /// Where both runs are first known, m along the course; there the difference is 0.
    pub start_m: f64,
    /// At every 0.5 m of the course, s; NaN where either run does not pass.
    pub running_s: Vec<f64>,
    /// Half-width of its 95 % interval, s: the uncertainty of both places, in m, over the speeds there and at
    /// the start.
    pub half_width_s: Vec<f64>,
    /// Over each section of the day, + where b is slower, with its interval.
    pub sections: Vec<(String, Measured)>,
}

/// Compares two runs laid over the same course: `dt(s) = t_b(s) - t_a(s)`, both from where both are first known.
///
/// # Errors
/// Where they have no place of the course in common.
pub fn time_lost(a: &RunTrack, b: &RunTrack, sections: &[Section]) -> Result<TimeLost, NotMeasured> {
    let steps = a.alignment.distances_m().len().min(b.alignment.distances_m().len());
    let at = |k: usize| {
        let course_m = k as f64 * STEP_M;
        let lost_s = b.time_at_s(course_m).ok()? - a.time_at_s(course_m).ok()?;
        let half_s = a.time_interval_s(course_m)?.hypot(b.time_interval_s(course_m)?);
        Some((lost_s, half_s))
    };
    let known: Vec<Option<(f64, f64)>> = (0..steps).map(at).collect();
    let start = known
        .iter()
        .position(Option::is_some)
        .ok_or_else(|| NotMeasured::because("the two runs have no place of the track in common"))?;
    let (zero_s, zero_half_s) = known[start].unwrap_or_default();
    let running = |place: &Option<(f64, f64)>| place.map_or(f64::NAN, |(lost_s, _)| lost_s - zero_s);
    let half = |place: &Option<(f64, f64)>| place.map_or(f64::NAN, |(_, half_s)| half_s.hypot(zero_half_s));
    let section = |section: &Section| {
        let (of_a, of_b) = (a.section_time(section)?, b.section_time(section)?);
        let lost_s = of_b.get()? - of_a.get()?;
        let half_s = |time: &Measured| time.interval().map(|[low, high]| (high - low) / 2.0);
        let measured = Measured::value(lost_s);
        Ok(match (half_s(&of_a), half_s(&of_b)) {
            (Some(x), Some(y)) => measured.with_interval([lost_s - x.hypot(y), lost_s + x.hypot(y)]),
            _ => measured,
        })
    };
    let told = sections.iter().map(|s| (s.name.clone(), section(s).unwrap_or_else(Measured::not)));
    Ok(TimeLost {
        start_m: start as f64 * STEP_M,
        running_s: known.iter().map(running).collect(),
        half_width_s: known.iter().map(half).collect(),
        sections: told.collect(),
    })
}
