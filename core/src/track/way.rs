//! The way of one run without its samples: enough to draw it, and to find places and sections on it.

use serde::{Deserialize, Serialize};

use super::{Course, Gate, Mark, Passage, Path, RunDistance, RunTrack, dead_reckoned, gps_path};
use crate::align::Grid;
use crate::measured::NotMeasured;
use crate::ride::{Trace, Traces};

/// A GPS that knows less than this share of a run draws no track where dead reckoning can.
const GPS_SHARE: f64 = 0.5;
/// Points of a drawn way are no closer than this along it, m, or in time, s.
const CLOSEST: [f64; 2] = [0.5, 0.2];

/// Where one run went.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Way {
    /// Places in the plane: GPS, else dead reckoning.
    pub path: Result<Path, NotMeasured>,
    /// Distance from the start.
    pub distance: Result<RunDistance, NotMeasured>,
    grid: Grid,
    /// How the run bends; of no use without a distance.
    own: Course,
}

/// One point of a way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WayPoint {
    /// On the run's clock, s.
    pub time_s: f64,
    /// Metres east and north, NaN where missing.
    pub east_north_m: [f64; 2],
    /// Along the run, m; NaN where it is not known.
    pub distance_m: f64,
}

impl Way {
    /// The way of a run.
    pub fn of(traces: &Traces) -> Self {
        let gps = gps_path(traces);
        let path = match (gps, dead_reckoned(traces)) {
            (Ok(gps), reckoned) if reckoned.is_err() || known_share(&gps) >= GPS_SHARE => Ok(gps),
            (_, Ok(reckoned)) => Ok(reckoned),
            (gps, Err(reckoned)) => {
                gps.map_err(|gps| NotMeasured::because(format!("{}, and {}", gps.0, reckoned.0)))
            }
        };
        let distance = RunDistance::of(traces);
        let own = distance.as_ref().map_or_else(
            |_| Course::default(),
            |distance| Course::along(distance, traces.get(Trace::YawRate)),
        );
        Self { path, distance, grid: traces.grid(), own }
    }

    /// How the run bends: the course that is made in it.
    pub fn own_course(&self) -> &Course {
        &self.own
    }

    /// The run laid over a course.
    ///
    /// # Errors
    /// Without a distance, or where the run cannot be laid over the course.
    pub fn lay(&self, course: &Course, passages: &[Passage]) -> Result<RunTrack, NotMeasured> {
        RunTrack::lay(self.distance.clone()?, &self.own, course, passages)
    }

    /// The run as the one in which the course is made.
    ///
    /// # Errors
    /// Without a distance.
    pub fn as_reference(&self) -> Result<RunTrack, NotMeasured> {
        Ok(RunTrack::reference(self.distance.clone()?, &self.own))
    }

    /// The moment at which the run first passes a gate at a place on the earth.
    ///
    /// # Errors
    /// Without a GPS, or where the run does not come through.
    pub fn through_gate(&self, angles_rad: [f64; 2], half_width_m: f64) -> Result<Mark, NotMeasured> {
        let path = self.path.as_ref().map_err(Clone::clone)?;
        let [latitude_rad, longitude_rad] = angles_rad;
        let crossings_s = Gate::at(latitude_rad, longitude_rad, half_width_m, path)?.crossings_s(path)?;
        let first = crossings_s.first().copied().map(Mark::LogS);
        first.ok_or_else(|| NotMeasured::because("the run does not come through the gate"))
    }

    /// The way from start to finish in about as many points as asked for at most, the first and the last included:
    /// close where the bike is fast, never far apart in time, so that what lies between two of them is a line.
    pub fn points(&self, most: usize) -> Vec<WayPoint> {
        let distance = self.distance.as_ref().ok();
        let range = distance.map_or(0..self.grid.len, |distance| distance.range.clone());
        let point = |k: usize| {
            let at = |samples: fn(&Path) -> &[f32]| {
                let path = self.path.as_ref().ok()?;
                samples(path).get(k).map(|metres| f64::from(*metres))
            };
            WayPoint {
                time_s: self.grid.time_s(k),
                east_north_m: [at(|path| &path.east_m), at(|path| &path.north_m)]
                    .map(|m| m.unwrap_or(f64::NAN)),
                distance_m: distance.and_then(|d| d.distance_m.get(k).copied()).unwrap_or(f64::NAN),
            }
        };
        let last = range.end.saturating_sub(1);
        let half = (most.max(4) / 2) as f64 - 1.0;
        let length_m = distance.map_or(0.0, RunDistance::length_m);
        let step_m = CLOSEST[0].max(length_m / half);
        let step_s = CLOSEST[1].max(range.len() as f64 / self.grid.rate_hz / half);
        let mut points: Vec<WayPoint> = Vec::new();
        for k in range {
            let here = point(k);
            let due = points.last().is_none_or(|before| {
                k == last
                    || here.time_s - before.time_s >= step_s
                    || here.distance_m - before.distance_m >= step_m
            });
            if due {
                points.push(here);
            }
        }
        points
    }
}

fn known_share(path: &Path) -> f64 {
    let known = path.east_m.iter().zip(&path.north_m).filter(|(e, n)| e.is_finite() && n.is_finite()).count();
    known as f64 / path.grid.len.max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::PathSource;

    /// 100 s at 200 Hz: 5 m/s north for 40 s, standing for 20 s, 10 m/s on.
    fn way() -> Way {
        let grid = Grid { start_s: 30.0, rate_hz: 200.0, len: 20_001 };
        let at_m = |k: usize| {
            let t = k as f64 / 200.0;
            5.0 * t.min(40.0) + 10.0 * (t - 60.0).max(0.0)
        };
        let distance_m: Vec<f64> = (0..grid.len).map(at_m).collect();
        let distance = RunDistance { grid, distance_m, range: 0..grid.len };
        let own = Course::along(&distance, Some(&vec![0.0; grid.len]));
        let path = Path {
            source: PathSource::Gps,
            plane: None,
            grid,
            east_m: vec![0.0; grid.len],
            north_m: (0..grid.len).map(|k| at_m(k) as f32).collect(),
        };
        Way { path: Ok(path), distance: Ok(distance), grid, own }
    }

    #[test]
    fn between_two_points_the_way_is_a_line() {
        let way = way();
        for most in [200, 1000, 4000] {
            let points = way.points(most);
            assert!(points.len() <= most, "{} points", points.len());
            assert_eq!((points[0].time_s, points[points.len() - 1].time_s), (30.0, 130.0));
            for (k, true_m) in way.distance.as_ref().unwrap().distance_m.iter().enumerate().step_by(37) {
                let t = 30.0 + k as f64 / 200.0;
                let after = points.partition_point(|p| p.time_s <= t).clamp(1, points.len() - 1);
                let (a, b) = (points[after - 1], points[after]);
                let share = (t - a.time_s) / (b.time_s - a.time_s);
                let drawn_m = a.distance_m + share * (b.distance_m - a.distance_m);
                // Half of the longest step in time, at the change of speed.
                assert!((drawn_m - true_m).abs() < 2.5 * 200.0 / most as f64, "{most} points, {t} s");
            }
        }
    }

    #[test]
    fn a_run_without_a_distance_is_drawn_by_time() {
        let way = Way { distance: Err(NotMeasured::because("no speed")), own: Course::default(), ..way() };
        let points = way.points(500);
        assert!((200..=500).contains(&points.len()), "{}", points.len());
        assert!(points.iter().all(|point| point.distance_m.is_nan() && point.east_north_m[1].is_finite()));
        assert_eq!(way.as_reference().unwrap_err().0, "no speed");
    }

    #[test]
    fn a_run_is_the_reference_of_its_own_course() {
        let way = way();
        let run = way.as_reference().unwrap();
        let place_m = run.place_m(Mark::LogS(50.0), None).unwrap();
        assert!((place_m - 100.0).abs() < 1e-9);
        // Metres are the course's; the last half metre of the run is its end.
        assert_eq!(run.place_m(Mark::DistanceM(600.3), None), Ok(600.0));
        assert!(run.place_m(Mark::DistanceM(601.0), None).unwrap_err().0.contains("outside"));
        assert!(run.place_m(Mark::DistanceM(f64::NAN), None).is_err());
    }
}
