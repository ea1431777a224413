//! A run read along the course, so that two runs can be laid over each other by where they were.

use super::RunTrack;
use crate::ride::{Trace, Traces};

/// Step of traces read along the course, m: at 10 m/s a hundredth of a second.
pub const READ_STEP_M: f64 = 0.1;

/// One run at every [`READ_STEP_M`] of the course, from its start to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct ByDistance {
    /// When each place is passed first, s on the run's clock; NaN where the run does not pass.
    pub time_s: Vec<f64>,
    /// The traces that the run has of those asked for; NaN where missing.
    pub traces: Vec<(Trace, Vec<f32>)>,
}

impl ByDistance {
    /// Reads traces of a run along the course.
    ///
    /// A value is the mean of the samples between half a step before the place and half a step after it; where the
    /// bike is so slow that less than a sample lies there, what lies on the line between its neighbours.
    pub fn of(traces: &Traces, run: &RunTrack, wanted: &[Trace]) -> Self {
        let grid = traces.grid();
        let steps = (run.course_length_m() / READ_STEP_M).round() as usize + 1;
        let sample_at = |course_m: f64| {
            let run_m = run.alignment.distance_m(course_m);
            run_m.and_then(|run_m| run.distance.sample_at(run_m)).unwrap_or(f64::NAN)
        };
        let places: Vec<f64> = (0..steps).map(|k| sample_at(k as f64 * READ_STEP_M)).collect();
        let edges: Vec<[f64; 2]> = (0..steps)
            .map(|k| {
                // Beyond the first and the last place that is known there is no half step.
                let edge = |steps: f64, inner: f64| {
                    let sample = sample_at((k as f64 + steps) * READ_STEP_M);
                    if sample.is_nan() { inner } else { sample }
                };
                [edge(-0.5, places[k]), edge(0.5, places[k])]
            })
            .collect();
        let read = |samples: &[f32]| -> Vec<f32> {
            places.iter().zip(&edges).map(|(&place, &edges)| value(samples, place, edges)).collect()
        };
        let found = wanted.iter().filter_map(|&trace| Some((trace, read(traces.get(trace)?))));
        Self {
            time_s: places.iter().map(|sample| grid.start_s + sample / grid.rate_hz).collect(),
            traces: found.collect(),
        }
    }
}

/// The samples between two edges in one value, or what lies on the line at a place.
fn value(samples: &[f32], place: f64, [from, to]: [f64; 2]) -> f32 {
    if place.is_nan() {
        return f32::NAN;
    }
    let inside = from.ceil() as usize..(to.floor() as usize + 1).min(samples.len());
    if inside.len() > 1 {
        let known = samples[inside].iter().filter(|sample| sample.is_finite());
        let (sum, n) = known.fold((0.0, 0.0), |(sum, n), sample| (sum + f64::from(*sample), n + 1.0));
        return (sum / n) as f32;
    }
    let at = |index: usize| samples.get(index).copied().unwrap_or(f32::NAN);
    let (before, share) = (at(place as usize), place.fract() as f32);
    if share == 0.0 { before } else { before + share * (at(place as usize + 1) - before) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_samples_are_one_mean_and_few_a_line() {
        let samples = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, f32::NAN, 7.0];
        assert_eq!(value(&samples, 3.0, [1.5, 4.5]), 3.0);
        assert_eq!(value(&samples, 2.25, [2.1, 2.4]), 2.25);
        assert_eq!(value(&samples, 3.0, [2.9, 3.1]), 3.0);
        // What is missing is left out of a mean, and nothing is drawn where all is missing.
        assert_eq!(value(&samples, 5.5, [4.5, 7.2]), 6.0);
        assert!(value(&samples, 5.5, [5.4, 5.6]).is_nan());
        assert!(value(&samples, f64::NAN, [f64::NAN; 2]).is_nan());
        assert_eq!(value(&samples, 7.0, [6.9, 7.0]), 7.0);
        assert!(value(&samples, 9.5, [9.4, 9.6]).is_nan());
    }
}
