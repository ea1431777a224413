//! Where one run loses or gains time on another.

use super::{RunTrack, STEP_M, Section};
use crate::measured::{Measured, NotMeasured};

/// A run that is first known this near to its own start, m, left from there: both leave one gate.
const SAME_GATE_M: f64 = 2.0;

/// Time of run b less that of run a along the course: + where b has lost.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeLost {
    /// Where both runs are first known, m along the course.
    pub start_m: f64,
    /// The moments from which time is counted, s on the clocks of a and b: when each leaves the gate, where both do;
    /// else when each passes `start_m`.
    pub from_s: [f64; 2],
    /// At every 0.5 m of the course, s; NaN where either run does not pass.
    pub running_s: Vec<f64>,
    /// Half-width of its 95 % interval, s: the uncertainty of both places, in m, over the speeds there, and at the
    /// start where that is a place. No place can have been passed before its run left the gate.
    pub half_width_s: Vec<f64>,
    /// Over each section of the day, + where b is slower, with its interval.
    pub sections: Vec<(String, Measured)>,
}

/// Compares two runs laid over the same course: `dt(s) = t_b(s) - t_a(s)`, both from the moment at which they leave the
/// gate, else from where both are first known.
///
/// # Errors
/// Where they have no place of the course in common.
pub fn time_lost(a: &RunTrack, b: &RunTrack, sections: &[Section]) -> Result<TimeLost, NotMeasured> {
    let steps = a.alignment.distances_m().len().min(b.alignment.distances_m().len());
    let at = |k: usize| {
        let course_m = k as f64 * STEP_M;
        let times_s = [a.time_at_s(course_m).ok()?, b.time_at_s(course_m).ok()?];
        Some((times_s, [a.time_interval_s(course_m)?, b.time_interval_s(course_m)?]))
    };
    let known: Vec<Option<([f64; 2], [f64; 2])>> = (0..steps).map(at).collect();
    let start = known
        .iter()
        .position(Option::is_some)
        .ok_or_else(|| NotMeasured::because("the two runs have no place of the track in common"))?;
    let start_m = start as f64 * STEP_M;
    let (passed_s, passed_half_s) = known[start].unwrap_or_default();
    let runs = [a, b];
    let from_gate = runs
        .iter()
        .all(|run| run.alignment.distance_m(start_m).is_some_and(|run_m| run_m.abs() <= SAME_GATE_M));
    let from_s = if from_gate { runs.map(|run| run.distance.leaves_s()) } else { passed_s };
    let running = |place: &Option<([f64; 2], [f64; 2])>| {
        place.map_or(f64::NAN, |([a_s, b_s], _)| (b_s - from_s[1]) - (a_s - from_s[0]))
    };
    let half = |place: &Option<([f64; 2], [f64; 2])>| {
        let Some((times_s, [half_a_s, half_b_s])) = *place else { return f64::NAN };
        if from_gate {
            half_a_s.min(times_s[0] - from_s[0]).hypot(half_b_s.min(times_s[1] - from_s[1]))
        } else {
            half_a_s.hypot(half_b_s).hypot(passed_half_s[0]).hypot(passed_half_s[1])
        }
    };
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
        start_m,
        from_s,
        running_s: known.iter().map(running).collect(),
        half_width_s: known.iter().map(half).collect(),
        sections: told.collect(),
    })
}
