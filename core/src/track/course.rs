//! The course: how the track bends, by distance. Kept in the day, so that any run can be laid over it alone.

use serde::{Deserialize, Serialize};

use super::RunDistance;

/// Step of every course, m.
pub const STEP_M: f64 = 0.5;
/// Curvature is the change of heading over this length, m: longer than a line through a corner differs from
/// another, shorter than corners are apart.
pub const CURVATURE_WINDOW_M: f64 = 20.0;
/// Curvature is stored in steps of this, 1/m: a tenth of what two runs differ by.
const STORED_PER_M: f64 = 1e-4;
/// Stands for a curvature that is missing.
const MISSING: i16 = i16::MIN;
/// No track is longer, m.
const LONGEST_M: f64 = 50_000.0;

/// Curvature of a track in plan every [`STEP_M`] along a reference run, from its start.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Course {
    /// In units of 1e-4 1/m, + to the left; -32768 is missing.
    curvature_e4_per_m: Vec<i16>,
}

impl Course {
    /// The course of one run: change of heading, the integral of yaw rate, over 20 m of distance. Missing
    /// all through without a yaw rate, and within 10 m of where it is missing.
    pub fn along(run: &RunDistance, yaw_rate_radps: Option<&[f32]>) -> Self {
        let steps = (run.length_m().min(LONGEST_M) / STEP_M) as usize + 1;
        let Some(yaw_rate) = yaw_rate_radps.filter(|rate| rate.len() == run.grid.len) else {
            return Self { curvature_e4_per_m: vec![MISSING; steps] };
        };
        let period_s = 1.0 / run.grid.rate_hz;
        // Heading and the number of missing samples before each sample.
        let (mut heading, mut missing) = (vec![0.0_f64], vec![0.0_f64]);
        let (mut turned, mut lost) = (0.0, 0.0);
        for pair in yaw_rate.windows(2) {
            let step = f64::from(pair[0] + pair[1]) / 2.0 * period_s;
            turned += if step.is_nan() { 0.0 } else { step };
            lost += f64::from(u8::from(step.is_nan()));
            heading.push(turned);
            missing.push(lost);
        }
        let at = |series: &[f64], distance_m: f64| {
            let sample = run.sample_at(distance_m)?;
            let (a, b) = (series.get(sample as usize)?, series.get(sample.ceil() as usize)?);
            Some(a + (b - a) * sample.fract())
        };
        let last_m = (steps - 1) as f64 * STEP_M;
        let curvature = |k: usize| {
            let here_m = k as f64 * STEP_M;
            let from_m = (here_m - CURVATURE_WINDOW_M / 2.0).max(0.0);
            let to_m = (here_m + CURVATURE_WINDOW_M / 2.0).min(last_m);
            let span = |series: &[f64]| Some(at(series, to_m)? - at(series, from_m)?);
            let whole = span(&missing)? == 0.0 && to_m - from_m >= CURVATURE_WINDOW_M / 2.0;
            whole.then(|| span(&heading)).flatten().map(|turn| turn / (to_m - from_m))
        };
        let stored = |curvature: f64| (curvature / STORED_PER_M).round().clamp(-32767.0, 32767.0) as i16;
        Self { curvature_e4_per_m: (0..steps).map(|k| curvature(k).map_or(MISSING, stored)).collect() }
    }

    /// A course from curvatures at every [`STEP_M`], 1/m, + to the left; NaN is missing.
    pub fn from_curvature(curvature_per_m: &[f64]) -> Self {
        let stored = |&curvature: &f64| {
            let steps = (curvature / STORED_PER_M).round().clamp(-32767.0, 32767.0);
            if steps.is_nan() { MISSING } else { steps as i16 }
        };
        Self { curvature_e4_per_m: curvature_per_m.iter().map(stored).collect() }
    }

    /// Curvatures at every [`STEP_M`], 1/m, + to the left; NaN where missing.
    pub fn curvature_per_m(&self) -> Vec<f64> {
        let value = |&stored: &i16| {
            if stored == MISSING { f64::NAN } else { f64::from(stored) * STORED_PER_M }
        };
        self.curvature_e4_per_m.iter().map(value).collect()
    }

    /// How long it is, m.
    pub fn length_m(&self) -> f64 {
        self.curvature_e4_per_m.len().saturating_sub(1) as f64 * STEP_M
    }

    /// Whether curvature is known over more than half of it.
    pub fn bends(&self) -> bool {
        let known = self.curvature_e4_per_m.iter().filter(|&&stored| stored != MISSING).count();
        2 * known > self.curvature_e4_per_m.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::Grid;

    /// 10 m/s for 40 s, then as the yaw rate says.
    fn run() -> RunDistance {
        let grid = Grid { start_s: 5.0, rate_hz: 100.0, len: 4001 };
        let distance_m = (0..grid.len).map(|k| k as f64 * 0.1).collect();
        RunDistance { grid, distance_m, range: 0..grid.len }
    }

    #[test]
    fn a_circle_has_the_curvature_of_its_radius() {
        let yaw_rate = vec![10.0 / 25.0; 4001];
        let course = Course::along(&run(), Some(&yaw_rate));
        assert_eq!(course.length_m(), 400.0);
        assert!(course.curvature_per_m().iter().all(|k| (k - 0.04).abs() < 1e-4));
        assert!(course.bends());
    }

    #[test]
    fn missing_yaw_rate_is_missing_curvature_within_ten_metres() {
        let mut yaw_rate = vec![0.1; 4001];
        yaw_rate[2000] = f32::NAN;
        let curvature = Course::along(&run(), Some(&yaw_rate)).curvature_per_m();
        assert!(curvature[400].is_nan() && curvature[381].is_nan() && curvature[419].is_nan());
        assert!(curvature[378].is_finite() && curvature[421].is_finite());
        assert!(!Course::along(&run(), None).bends());
    }

    #[test]
    fn a_course_is_kept_as_short_whole_numbers() {
        let course = Course::from_curvature(&[0.0, 0.0123, -0.05, f64::NAN]);
        let text = serde_json::to_string(&course).unwrap();
        assert_eq!(text, r#"{"curvature_e4_per_m":[0,123,-500,-32768]}"#);
        assert_eq!(serde_json::from_str::<Course>(&text).unwrap(), course);
        assert!(Course::default().length_m() == 0.0 && !Course::default().bends());
    }
}
