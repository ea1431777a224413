//! Where the run in view went, as the page draws it.

use evenkeel_core::NotMeasured;
use evenkeel_core::track::{AlignmentMethod, PathSource};

use crate::worker::{PlacedSection, TrackAnswer};

/// The way of one run, in points between which it is a line, and the day's sections on it.
#[derive(Debug, PartialEq)]
pub struct TrackView {
    /// Index of the run.
    pub run: usize,
    /// Where the path comes from.
    pub source: Result<PathSource, NotMeasured>,
    /// How long the run is by its own wheel, m.
    pub length_m: Result<f64, NotMeasured>,
    /// How the run was laid over the day's course, if the day has one.
    pub method: Option<Result<AlignmentMethod, NotMeasured>>,
    /// In the day's order.
    pub sections: Vec<PlacedSection>,
    start_s: f64,
    /// Since `start_s`, s, rising.
    since_s: Vec<f32>,
    /// Metres east and north, NaN where missing.
    east_m: Vec<f32>,
    north_m: Vec<f32>,
    /// Along the track, never falling; NaN where the run is off the course.
    along_m: Vec<f32>,
}

impl TrackView {
    pub fn new(run: usize, answer: TrackAnswer, buffers: Vec<Vec<f32>>) -> Self {
        let TrackAnswer { source, length_m, method, sections, start_s } = answer;
        let [since_s, east_m, north_m, along_m] = buffers.try_into().unwrap_or_default();
        Self { run, source, length_m, method, sections, start_s, since_s, east_m, north_m, along_m }
    }

    /// Distance along the track at a time, m: along the day's course, if it has one.
    pub fn distance_at(&self, t_s: f64) -> Option<f64> {
        self.between(&self.along_m, t_s)
    }

    /// Name of the section passed at a time; of several the shortest.
    pub fn section_at(&self, t_s: f64) -> Option<&str> {
        let passed = self.sections.iter().filter_map(|placed| {
            let stretch = placed.stretch.as_ref().ok()?;
            let inside = (stretch.start_s..stretch.end_s).contains(&t_s);
            inside.then_some((stretch.end_s - stretch.start_s, placed.section.name.as_str()))
        });
        passed.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, name)| name)
    }

    /// Metres east and north at a time; before the start and after the finish those of the start and the finish.
    pub fn east_north_at(&self, t_s: f64) -> Option<[f64; 2]> {
        Some([self.between(&self.east_m, t_s)?, self.between(&self.north_m, t_s)?])
    }

    /// Every point: its time, s, and metres east and north.
    pub fn points(&self) -> impl Iterator<Item = (f64, [f64; 2])> + Clone {
        (0..self.since_s.len()).map(|k| (self.time_s(k), [self.east_m[k], self.north_m[k]].map(f64::from)))
    }

    /// Start and end of what is known of the track, m.
    pub fn span_m(&self) -> Option<[f64; 2]> {
        let mut known = self.along_m.iter().filter(|m| m.is_finite()).map(|m| f64::from(*m));
        let first = known.next()?;
        Some([first, known.next_back().unwrap_or(first)])
    }

    /// When a distance along the track is passed first, s; beyond the ends the ends.
    pub fn time_at(&self, distance_m: f64) -> Option<f64> {
        let first = self.along_m.iter().position(|m| m.is_finite())?;
        let last = self.along_m.iter().rposition(|m| m.is_finite())?;
        let known = &self.along_m[first..=last];
        let after = known.partition_point(|m| f64::from(*m) < distance_m).clamp(1, known.len().max(2) - 1);
        let (Some(a), Some(b)) = (known.get(after - 1), known.get(after)) else {
            return Some(self.time_s(first));
        };
        let (a, b) = (f64::from(*a), f64::from(*b));
        let share = if b > a { ((distance_m - a) / (b - a)).clamp(0.0, 1.0) } else { 0.0 };
        let (before_s, next_s) = (self.time_s(first + after - 1), self.time_s(first + after));
        Some(before_s + share * (next_s - before_s))
    }

    /// The moment at which the path comes nearest to a place, s.
    pub fn nearest_s(&self, [east_m, north_m]: [f64; 2]) -> Option<f64> {
        let points: Vec<(f64, [f64; 2])> = self.points().collect();
        let pieces = points.windows(2).filter_map(|pair| {
            let [(t0, a), (t1, b)] = [pair[0], pair[1]];
            let (way, to) = ([b[0] - a[0], b[1] - a[1]], [east_m - a[0], north_m - a[1]]);
            let length2 = way[0] * way[0] + way[1] * way[1];
            let share = if length2 > 0.0 { (to[0] * way[0] + to[1] * way[1]) / length2 } else { 0.0 };
            let share = share.clamp(0.0, 1.0);
            let off_m = (to[0] - share * way[0]).hypot(to[1] - share * way[1]);
            off_m.is_finite().then_some((off_m, t0 + share * (t1 - t0)))
        });
        pieces.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, t_s)| t_s)
    }

    fn time_s(&self, point: usize) -> f64 {
        self.start_s + f64::from(self.since_s.get(point).copied().unwrap_or_default())
    }

    /// A value at a time between points; that of the first before, that of the last after. `None` where missing.
    fn between(&self, values: &[f32], t_s: f64) -> Option<f64> {
        let since = t_s - self.start_s;
        let after = self.since_s.partition_point(|t| f64::from(*t) <= since);
        let value = |k: usize| values.get(k).map(|v| f64::from(*v)).filter(|v| v.is_finite());
        if after == 0 || after == self.since_s.len() {
            return value(after.saturating_sub(1));
        }
        let (t0, t1) = (f64::from(self.since_s[after - 1]), f64::from(self.since_s[after]));
        let (a, b) = (value(after - 1)?, value(after)?);
        Some(a + (b - a) * (since - t0) / (t1 - t0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenkeel_core::Measured;
    use evenkeel_core::track::{Section, Stretch};

    /// 10 m/s east for 10 s, then 5 m/s north for 10 s; the course begins 20 m after the run.
    fn view() -> TrackView {
        let placed = |name: &str, start_s, end_s| PlacedSection {
            section: Section { name: name.to_owned(), ..Section::default() },
            stretch: Ok(Stretch {
                start_s,
                end_s,
                uncertainty_m: None,
                time_s: Measured::value(end_s - start_s),
            }),
        };
        let missing = PlacedSection {
            section: Section::default(),
            stretch: Err(NotMeasured::because("the run does not pass the place at 900 m")),
        };
        let answer = TrackAnswer {
            source: Ok(PathSource::DeadReckoned),
            length_m: Ok(150.0),
            method: Some(Ok(AlignmentMethod::Curvature)),
            sections: vec![placed("all", 102.0, 120.0), placed("part", 105.0, 110.0), missing],
            start_s: 100.0,
        };
        let since: Vec<f32> = (0..=20).map(|k| k as f32).collect();
        let east = since.iter().map(|t| 10.0 * t.min(10.0)).collect();
        let north = since.iter().map(|t| 5.0 * (t - 10.0).max(0.0)).collect();
        let run_m = |t: f32| 10.0 * t.min(10.0) + 5.0 * (t - 10.0).max(0.0);
        let along = since.iter().map(|t| if *t < 2.0 { f32::NAN } else { run_m(*t) - 20.0 }).collect();
        TrackView::new(0, answer, vec![since, east, north, along])
    }

    #[test]
    fn distance_and_section_at_a_time() {
        let view = view();
        assert_eq!(view.distance_at(104.5), Some(25.0));
        assert_eq!((view.distance_at(100.5), view.distance_at(200.0)), (None, Some(130.0)));
        assert_eq!((view.section_at(104.0), view.section_at(107.0)), (Some("all"), Some("part")));
        assert_eq!((view.section_at(101.0), view.section_at(120.0)), (None, None));
        assert_eq!(view.east_north_at(112.5), Some([100.0, 12.5]));
        assert_eq!(view.east_north_at(20.0), Some([0.0, 0.0]));
    }

    #[test]
    fn a_distance_and_a_place_come_back_as_their_time() {
        let view = view();
        assert_eq!(view.span_m(), Some([0.0, 130.0]));
        for t_s in [102.0, 103.7, 110.0, 119.9] {
            let back_s = view.time_at(view.distance_at(t_s).unwrap()).unwrap();
            assert!((back_s - t_s).abs() < 1e-4, "{t_s} came back as {back_s}");
            let near_s = view.nearest_s(view.east_north_at(t_s).unwrap()).unwrap();
            assert!((near_s - t_s).abs() < 1e-4, "{t_s} is near {near_s}");
        }
        assert_eq!((view.time_at(-5.0), view.time_at(1e9)), (Some(102.0), Some(120.0)));
        assert_eq!(view.nearest_s([120.0, 25.0]), Some(115.0));
    }

    #[test]
    fn a_run_without_a_way_has_no_place() {
        let answer = TrackAnswer {
            source: Err(NotMeasured::because("no speed")),
            length_m: Err(NotMeasured::because("no speed")),
            method: None,
            sections: Vec::new(),
            start_s: 0.0,
        };
        let view = TrackView::new(0, answer, Vec::new());
        assert_eq!((view.distance_at(3.0), view.time_at(3.0), view.span_m()), (None, None, None));
        assert_eq!((view.east_north_at(3.0), view.nearest_s([0.0, 0.0])), (None, None));
    }
}
