//! Two runs laid over each other, as the page draws them: everything by metres along the track.

use std::collections::HashMap;

use evenkeel_core::ride::Trace;

use crate::ride_view::Samples;
use crate::worker::LaidOver;

/// A section that ends beyond this share of the way ends at the finish.
const FINISH_SHARE: f64 = 0.95;

/// Two runs along one track.
pub struct LaidView {
    pub runs: [usize; 2],
    pub over: LaidOver,
    /// Running time of the second run less that of the first, s, and the ends of its interval.
    pub lost: Samples,
    pub interval: [Samples; 2],
    /// When each run passes each place, s since its start.
    times_s: [Vec<f32>; 2],
    traces: HashMap<Trace, [Option<Samples>; 2]>,
    /// Where both runs are known, m: to the finish, if the last section ends there.
    pub known_m: [f64; 2],
}

impl LaidView {
    /// From the worker's answer; `None` where buffers are missing.
    pub fn new(runs: [usize; 2], over: LaidOver, buffers: Vec<Vec<f32>>) -> Option<Self> {
        let mut buffers = buffers.into_iter();
        let (lost, half) = (buffers.next()?, buffers.next()?);
        let times_s = [buffers.next()?, buffers.next()?];
        let mut traces: HashMap<Trace, [Option<Samples>; 2]> = HashMap::new();
        for side in [0, 1] {
            for trace in &over.traces[side] {
                traces.entry(*trace).or_default()[side] = Some(Samples::new(buffers.next()?));
            }
        }
        let end = |sign: f32| lost.iter().zip(&half).map(|(lost, half)| lost + sign * half).collect();
        let interval = [Samples::new(end(-1.0)), Samples::new(end(1.0))];
        let known = |place: Option<usize>| place.map(|place| place as f64 * over.lost_step_m);
        let start_m = known(lost.iter().position(|lost| lost.is_finite()))?;
        let end_m = known(lost.iter().rposition(|lost| lost.is_finite()))?;
        // Behind the finish everyone brakes as they like.
        let finish_m = over.sections.iter().map(|laid| laid.section.end_m);
        let finish_m =
            finish_m.filter(|finish_m| (FINISH_SHARE * end_m..=end_m).contains(finish_m)).reduce(f64::max);
        let known_m = [start_m, finish_m.unwrap_or(end_m)];
        Some(Self { runs, over, lost: Samples::new(lost), interval, times_s, traces, known_m })
    }

    /// Whether one of the runs has a trace.
    pub fn has(&self, trace: Trace) -> bool {
        self.traces.contains_key(&trace)
    }

    /// A trace in one of the runs.
    pub fn trace(&self, trace: Trace, side: usize) -> Option<&Samples> {
        self.traces.get(&trace)?.get(side)?.as_ref()
    }

    /// A trace at a place, SI.
    pub fn value_at(&self, trace: Trace, side: usize, place_m: f64) -> Option<f64> {
        at(self.trace(trace, side)?.values(), self.over.step_m, place_m)
    }

    /// Time lost up to a place and the half-width of its interval, s.
    pub fn lost_at(&self, place_m: f64) -> Option<[f64; 2]> {
        let step_m = self.over.lost_step_m;
        let lost_s = at(self.lost.values(), step_m, place_m)?;
        let high_s = at(self.interval[1].values(), step_m, place_m)?;
        Some([lost_s, high_s - lost_s])
    }

    /// When a run passes a place, s on its clock.
    pub fn time_at(&self, side: usize, place_m: f64) -> Option<f64> {
        at(&self.times_s[side], self.over.step_m, place_m).map(|since_s| self.over.start_s[side] + since_s)
    }

    /// The shortest section at a place.
    pub fn section_at(&self, place_m: f64) -> Option<&str> {
        let sections = self.over.sections.iter().map(|laid| &laid.section);
        let here = sections.filter(|section| (section.start_m..section.end_m).contains(&place_m));
        let length = |section: &&evenkeel_core::track::Section| section.end_m - section.start_m;
        here.min_by(|a, b| length(a).total_cmp(&length(b))).map(|section| section.name.as_str())
    }

    /// The stretch that a section is, m; of none, or of one that neither run passes, all that both pass.
    pub fn stretch_m(&self, section: Option<&str>) -> [f64; 2] {
        let [from_m, to_m] = self.known_m;
        let found = self.over.sections.iter().find(|laid| Some(laid.section.name.as_str()) == section);
        let found = found.map(|laid| [laid.section.start_m.max(from_m), laid.section.end_m.min(to_m)]);
        found.filter(|[start_m, end_m]| start_m < end_m).unwrap_or([from_m, to_m.max(from_m + 1.0)])
    }
}

/// The value on the line at a place.
fn at(values: &[f32], step_m: f64, place_m: f64) -> Option<f64> {
    let place = place_m / step_m;
    if place.is_nan() || place < 0.0 {
        return None;
    }
    let a = f64::from(*values.get(place as usize)?);
    let value = if place.fract() < 1e-6 {
        a
    } else {
        a + place.fract() * (f64::from(*values.get(place as usize + 1)?) - a)
    };
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use evenkeel_core::track::{AlignmentMethod, Section};
    use evenkeel_core::{Measured, NotMeasured};

    use super::*;
    use crate::worker::LaidSection;

    /// The second run loses 0.1 s a metre from 1 m on; nothing is known of the last metre.
    fn view() -> LaidView {
        let nothing = || Measured::not(NotMeasured::because("made"));
        let section = |name: &str, start_m, end_m| LaidSection {
            section: Section { name: name.to_owned(), start_m, end_m, no_braking: false },
            times_s: [nothing(), nothing()],
            lost_s: nothing(),
        };
        let over = LaidOver {
            step_m: 0.5,
            lost_step_m: 1.0,
            start_s: [10.0, 20.0],
            from_s: [10.0, 20.0],
            methods: [AlignmentMethod::Reference, AlignmentMethod::Curvature],
            sections: vec![section("all", 0.0, 9.0), section("start", 0.0, 2.0), section("far", 20.0, 30.0)],
            traces: [vec![Trace::Speed], vec![Trace::Speed, Trace::Roll]],
        };
        let lost = vec![f32::NAN, 0.0, 0.1, 0.2, f32::NAN];
        let times = |pace: f32| (0..9).map(|k| k as f32 * pace).collect::<Vec<f32>>();
        let buffers =
            vec![lost, vec![0.05; 5], times(0.1), times(0.15), vec![8.0; 9], vec![7.0; 9], vec![0.1; 9]];
        LaidView::new([3, 1], over, buffers).unwrap()
    }

    #[test]
    fn everything_is_known_by_its_place() {
        let view = view();
        assert_eq!(view.known_m, [1.0, 3.0]);
        let [lost_s, half_s] = view.lost_at(1.5).unwrap();
        assert!((lost_s - 0.05).abs() < 1e-6 && (half_s - 0.05).abs() < 1e-6);
        assert_eq!((view.lost_at(0.5), view.lost_at(99.0)), (None, None));
        assert!((view.time_at(1, 2.0).unwrap() - 20.6).abs() < 1e-6);
        assert_eq!(view.value_at(Trace::Speed, 1, 1.25), Some(7.0));
        assert_eq!((view.value_at(Trace::Roll, 0, 1.0), view.has(Trace::Pitch)), (None, false));
        assert_eq!((view.section_at(1.0), view.section_at(2.5)), (Some("start"), Some("all")));
    }

    #[test]
    fn a_stretch_lies_where_both_runs_are() {
        let view = view();
        assert_eq!(view.stretch_m(Some("start")), [1.0, 2.0]);
        assert_eq!(view.stretch_m(Some("far")), [1.0, 3.0]);
        assert_eq!(view.stretch_m(None), [1.0, 3.0]);
    }
}
