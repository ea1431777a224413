//! One run laid over the course, by how the track bends.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::course::{CURVATURE_WINDOW_M, Course, STEP_M};
use crate::measured::NotMeasured;
use crate::signal::{WarpCosts, correlate, highest_peak, median, theil_sen, warp};

/// Half-width of the Sakoe-Chiba band, m: what a wheel's slip, its circumference and another line may add up to
/// between marks.
const BAND_M: f64 = 25.0;
/// Away from a mark the two distances may part by this share (tyre pressure, another sensor).
const SCALE_SHARE: f64 = 0.05;
/// A step in one run only costs this: it happens once in `exp(cost)` steps, which lets distances part by about
/// 3 m in 500 m besides their scale (a wheel that slides; model: 4.6 follows slides of 5 m too late, 3 lets the
/// places of good wheels wander by 1 m).
const STEP_COST: f64 = 3.8;
/// Curvature of two runs differs by this before it is known better, 1/m.
const FIRST_RESIDUAL_PER_M: f64 = 0.005;
/// It never differs by less, 1/m: another line and the rider's own steering.
const LEAST_RESIDUAL_PER_M: f64 = 0.001;
/// Curvatures laid over each other that correlate less are not of one track.
const LEAST_CORRELATION: f64 = 0.8;
/// The same before they are laid over each other in detail.
const LEAST_FIRST_CORRELATION: f64 = 0.4;
/// Shortest stretch that both must have, m.
const SHORTEST_M: f64 = 100.0;
/// Distance between marks is rescaled by no more than this.
const LARGEST_SCALE: f64 = 1.25;
/// How far off a place is at best, m, standard deviation: half a step, and lines that differ.
const LEAST_SPREAD_M: f64 = 0.4;
/// Without curvature, distance parts by this share of what lies to the nearest mark ...
const RESCALED_SHARE: f64 = 0.02;
/// ... and the start of a run is known to this, m.
const START_M: f64 = 5.0;
/// Where in a start gate a bike stands, m, half-width.
const GATE_M: f64 = 1.0;
/// Half of a 95 % interval, in standard deviations of a normal distribution.
const HALF_95: f64 = 1.96;

/// A place of the course known in a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Anchor {
    /// Along the course, m.
    pub course_m: f64,
    /// Along the run, m.
    pub run_m: f64,
    /// Half-width of what its time leaves open, m.
    pub half_width_m: f64,
}

/// How a run was laid over the course.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AlignmentMethod {
    /// It is the run in which the course was made.
    Reference,
    /// By curvature.
    Curvature,
    /// By distance alone, stretched evenly between marks, and why.
    Rescaled(String),
}

/// Where a run is on the course: a distance along the run for each step of the course, never falling.
#[derive(Clone, Debug, PartialEq)]
pub struct Alignment {
    /// How it was found.
    pub method: AlignmentMethod,
    /// NaN where the run does not pass.
    run_m: Vec<f64>,
    uncertainty_m: Vec<f64>,
    /// Curvature of the run less that of the course at the same place, 1/m; NaN where either is missing.
    pub residual_per_m: Vec<f64>,
}

impl Alignment {
    /// The run in which the course was made, laid over it: every place is where it is.
    pub fn of_reference(course: &Course) -> Self {
        let steps = steps_of(course);
        Self {
            method: AlignmentMethod::Reference,
            run_m: (0..steps).map(|k| k as f64 * STEP_M).collect(),
            uncertainty_m: vec![0.0; steps],
            residual_per_m: vec![0.0; steps],
        }
    }

    /// Distance along the run of a place of the course, m; `None` where the run does not pass it.
    pub fn distance_m(&self, course_m: f64) -> Option<f64> {
        between(&self.run_m, course_m)
    }

    /// The place of the course that lies at a distance along the run, m: the inverse of
    /// [`distance_m`](Self::distance_m). Where several do, the last at the start of the run, the first at its end,
    /// the middle in between. `None` where the run is not on the course; less than a step beyond it counts as its end.
    pub fn course_m(&self, run_m: f64) -> Option<f64> {
        // What is known lies in one piece.
        let first = self.run_m.iter().position(|place| place.is_finite())?;
        let last = self.run_m.iter().rposition(|place| place.is_finite())?;
        let known = &self.run_m[first..=last];
        let (start_m, end_m) = (known[0], known[last - first]);
        if !(start_m - STEP_M..=end_m + STEP_M).contains(&run_m) {
            return None;
        }
        let run_m = run_m.clamp(start_m, end_m);
        // Places before are passed earlier, places from `after` on later.
        let (from, after) =
            (known.partition_point(|&place| place < run_m), known.partition_point(|&place| place <= run_m));
        let step = if from == after {
            let (before_m, next_m) = (known[from - 1], known[from]);
            (from - 1) as f64 + (run_m - before_m) / (next_m - before_m)
        } else if from == 0 && after < known.len() {
            (after - 1) as f64
        } else if after == known.len() {
            from as f64
        } else {
            (from + after - 1) as f64 / 2.0
        };
        Some((first as f64 + step) * STEP_M)
    }

    /// Half-width of the 95 % interval of that distance, m.
    pub fn uncertainty_m(&self, course_m: f64) -> f64 {
        between(&self.uncertainty_m, course_m).unwrap_or(f64::NAN)
    }

    /// Half-width of the 95 % interval at every step of the course, m; NaN where the run does not pass.
    pub fn uncertainties_m(&self) -> &[f64] {
        &self.uncertainty_m
    }

    /// Distances along the run at every step of the course, m; NaN where the run does not pass.
    pub fn distances_m(&self) -> &[f64] {
        &self.run_m
    }

    /// RMS of what is left between the curvatures, 1/m.
    ///
    /// # Errors
    /// Where curvature was not used.
    pub fn residual_rms_per_m(&self) -> Result<f64, NotMeasured> {
        if let AlignmentMethod::Rescaled(why) = &self.method {
            return Err(NotMeasured::because(why.clone()));
        }
        rms(&self.residual_per_m).ok_or_else(|| NotMeasured::because("no curvature is known in both runs"))
    }
}

/// Lays a run over the course.
///
/// Dynamic time warping of curvature, each the change of heading over 20 m, on a 0.5 m grid in a band of 25 m
/// about the even stretching between anchors (without any: about the shift in which the two correlate best; two runs that thereby leave from standing within
/// 5 m of each other are taken to leave from one gate).
/// Costs are negative log likelihoods: squared difference over that of runs of one track, which alike places of
/// 20 m share, and a penalty for each step that only one of them takes. A first laying tells the scale between
/// the two distances and how far the curvatures differ, the second is the result. The place is the mean over all paths so
/// weighted and its interval their spread, so that it is wide where nothing bends.
///
/// Without a curvature on either side the even stretching between anchors is all there is; without an anchor
/// the start of the run is one.
///
/// # Errors
/// Where the two do not bend alike (unless two anchors or more say where the run is), have too little in
/// common, or the anchors cannot be right.
pub fn align(course: &Course, run: &Course, anchors: &[Anchor]) -> Result<Alignment, NotMeasured> {
    check(course, anchors)?;
    let missing =
        |what: &str| format!("{what} has no yaw rate, so distance is stretched evenly between marks");
    if !course.bends() {
        return Ok(rescaled(course, run, anchors, missing("the reference run")));
    }
    if !run.bends() {
        return Ok(rescaled(course, run, anchors, missing("this run")));
    }
    match by_curvature(course, run, anchors) {
        Ok(alignment) => Ok(alignment),
        Err(reason) if anchors.len() >= 2 => Ok(rescaled(
            course,
            run,
            anchors,
            format!("{}; distance is stretched evenly between marks", reason.0),
        )),
        Err(reason) => Err(reason),
    }
}

fn check(course: &Course, anchors: &[Anchor]) -> Result<(), NotMeasured> {
    if course.length_m() < SHORTEST_M {
        return Err(NotMeasured::because("the reference run is too short to lay another over it"));
    }
    let usable = |a: &Anchor| [a.course_m, a.run_m, a.half_width_m].iter().all(|value| value.is_finite());
    let scale_fits = |pair: &[Anchor]| {
        let open_m = pair[0].half_width_m + pair[1].half_width_m + 1.0;
        let (course_m, run_m) = (pair[1].course_m - pair[0].course_m, pair[1].run_m - pair[0].run_m);
        course_m > 0.0
            && run_m <= course_m * LARGEST_SCALE + open_m
            && run_m * LARGEST_SCALE + open_m >= course_m
    };
    if anchors.iter().all(usable) && anchors.windows(2).all(scale_fits) {
        return Ok(());
    }
    Err(NotMeasured::because("the marks do not agree with the distance between them: correct them"))
}

fn steps_of(course: &Course) -> usize {
    (course.length_m() / STEP_M).round() as usize + 1
}

/// Place along the run by even stretching between anchors, and unstretched outside of them.
fn stretched_m(anchors: &[Anchor], course_m: f64) -> f64 {
    let after = anchors.partition_point(|anchor| anchor.course_m <= course_m);
    match (after.checked_sub(1).and_then(|k| anchors.get(k)), anchors.get(after)) {
        (Some(a), Some(b)) => {
            a.run_m + (course_m - a.course_m) * (b.run_m - a.run_m) / (b.course_m - a.course_m)
        }
        (Some(a), None) | (None, Some(a)) => a.run_m + course_m - a.course_m,
        (None, None) => course_m,
    }
}

fn rescaled(course: &Course, run: &Course, anchors: &[Anchor], why: String) -> Alignment {
    let start = [Anchor { course_m: 0.0, run_m: 0.0, half_width_m: START_M }];
    let anchors = if anchors.is_empty() { &start } else { anchors };
    let steps = steps_of(course);
    let (mut run_m, mut uncertainty_m) = (vec![f64::NAN; steps], vec![f64::NAN; steps]);
    for k in 0..steps {
        let course_m = k as f64 * STEP_M;
        let place_m = stretched_m(anchors, course_m);
        let open_m = |a: &Anchor| a.half_width_m.hypot(RESCALED_SHARE * (course_m - a.course_m));
        let open_m = anchors.iter().map(open_m).fold(f64::INFINITY, f64::min);
        if let Some(place_m) = inside(place_m, open_m, run.length_m()) {
            (run_m[k], uncertainty_m[k]) = (place_m, open_m);
        }
    }
    Alignment {
        method: AlignmentMethod::Rescaled(why),
        run_m,
        uncertainty_m,
        residual_per_m: vec![f64::NAN; steps],
    }
}

fn by_curvature(course: &Course, run: &Course, anchors: &[Anchor]) -> Result<Alignment, NotMeasured> {
    let (rows, own) = (course.curvature_per_m(), run.curvature_per_m());
    let shift_m = match anchors {
        [] => first_shift(&rows, &own)? * STEP_M,
        _ => 0.0,
    };
    let first = Laying::new(&rows, &own, anchors, Line { shift_m, scale: 1.0 }, FIRST_RESIDUAL_PER_M)?;
    let residual_per_m = rms(&first.residual_per_m).unwrap_or(FIRST_RESIDUAL_PER_M);
    let mut line = first.line();
    // Two runs that leave from standing at about one place leave from one gate.
    let gate = [Anchor { course_m: 0.0, run_m: 0.0, half_width_m: GATE_M }];
    let same_gate = anchors.is_empty() && first.run_m.first().is_some_and(|start_m| start_m.abs() <= START_M);
    let anchors = if same_gate { &gate } else { anchors };
    if !anchors.is_empty() {
        // An anchor says where the run lies; what the line adds would move it off.
        line.shift_m = 0.0;
    }
    let found = Laying::new(&rows, &own, anchors, line, residual_per_m.max(LEAST_RESIDUAL_PER_M))?;
    alike_enough(&rows, &found.residual_per_m)?;

    let (mut run_m, mut uncertainty_m) = (vec![f64::NAN; rows.len()], vec![f64::NAN; rows.len()]);
    for (k, (place_m, spread_m)) in found.run_m.iter().zip(&found.spread_m).enumerate() {
        let open_m = HALF_95 * spread_m.hypot(LEAST_SPREAD_M);
        if let Some(place_m) = inside(*place_m, open_m, run.length_m()) {
            (run_m[k], uncertainty_m[k]) = (place_m, open_m);
        }
    }
    let method = AlignmentMethod::Curvature;
    Ok(Alignment { method, run_m, uncertainty_m, residual_per_m: found.residual_per_m })
}

/// Where a run is expected without any anchor: `run = shift + scale course`. Another tyre or sensor makes the
/// scale.
#[derive(Clone, Copy)]
struct Line {
    shift_m: f64,
    scale: f64,
}

/// One run warped over the course.
struct Laying {
    /// Along the run at each step of the course, m, never falling; outside of the run it goes on as before.
    run_m: Vec<f64>,
    spread_m: Vec<f64>,
    residual_per_m: Vec<f64>,
}

impl Laying {
    fn new(
        course: &[f64],
        own: &[f64],
        anchors: &[Anchor],
        line: Line,
        residual_per_m: f64,
    ) -> Result<Self, NotMeasured> {
        // With the scale taken out beforehand only what is uneven costs steps.
        let scaled_step_m = STEP_M * line.scale;
        let scaled_len = ((own.len() - 1) as f64 / line.scale) as usize + 1;
        let scaled: Vec<f64> =
            (0..scaled_len).map(|k| between(own, k as f64 * scaled_step_m).unwrap_or(f64::NAN)).collect();
        let anchors: Vec<Anchor> =
            anchors.iter().map(|a| Anchor { run_m: a.run_m / line.scale, ..*a }).collect();
        let (band, before) = band(course.len(), scaled.len(), &anchors, line.shift_m / scaled_step_m);
        let columns_len = band.last().map_or(0, |range| range.end).max(before + scaled.len());
        let mut columns = vec![f64::NAN; columns_len];
        columns[before..before + scaled.len()].copy_from_slice(&scaled);
        let alike = CURVATURE_WINDOW_M / STEP_M;
        let costs = WarpCosts {
            difference: 0.5 / (alike * residual_per_m * residual_per_m),
            step: STEP_COST,
            missing: 0.5 / alike,
        };
        let found = warp(course, &columns, &band, costs).ok_or_else(|| {
            NotMeasured::because("the marks leave no way to lay this run over the reference")
        })?;
        // A mean may fall by a hair where the spread changes.
        let rising = found.mean.iter().scan(f64::NEG_INFINITY, |highest, &place| {
            *highest = place.max(*highest);
            Some((*highest - before as f64) * scaled_step_m)
        });
        let run_m: Vec<f64> = rising.collect();
        let residual =
            run_m.iter().zip(course).map(|(run_m, course)| between(own, *run_m).unwrap_or(f64::NAN) - course);
        Ok(Self {
            spread_m: found.spread.iter().map(|spread| spread * scaled_step_m).collect(),
            residual_per_m: residual.collect(),
            run_m,
        })
    }

    /// The line that most of the places lie near: robust against slides, and against ends that do not meet.
    fn line(&self) -> Line {
        /// Every so many steps is enough.
        const EVERY: usize = 40;
        let known: Vec<(f64, f64)> = self
            .run_m
            .iter()
            .enumerate()
            .filter(|(k, _)| self.residual_per_m[*k].is_finite())
            .map(|(k, run_m)| (k as f64 * STEP_M, *run_m))
            .step_by(EVERY)
            .collect();
        let (course_m, run_m): (Vec<f64>, Vec<f64>) = known.iter().copied().unzip();
        let most = 1.0 + SCALE_SHARE;
        let scale = theil_sen(&course_m, &run_m).unwrap_or(1.0).clamp(1.0 / most, most);
        let shifts: Vec<f64> = known.iter().map(|(course_m, run_m)| run_m - scale * course_m).collect();
        Line { shift_m: median(&shifts).unwrap_or(0.0), scale }
    }
}

/// A place on the run; one that is only by its uncertainty outside is at the run's end.
fn inside(place_m: f64, open_m: f64, length_m: f64) -> Option<f64> {
    (place_m >= -open_m && place_m <= length_m + open_m).then(|| place_m.clamp(0.0, length_m))
}

/// By how many steps the run's places come later than the course's, where the curvatures correlate best.
fn first_shift(course: &[f64], run: &[f64]) -> Result<f64, NotMeasured> {
    let filled = |values: &[f64]| -> Vec<f64> {
        values.iter().map(|value| if value.is_nan() { 0.0 } else { *value }).collect()
    };
    let (course, run) = (filled(course), filled(run));
    let piece_is_course = course.len() <= run.len();
    let (piece, searched) = if piece_is_course { (&course, &run) } else { (&run, &course) };
    // One may begin or end before the other.
    let margin = piece.len() / 2;
    let mut padded = vec![0.0; searched.len() + 2 * margin];
    padded[margin..margin + searched.len()].copy_from_slice(searched);
    let peak = highest_peak(&correlate(piece, &padded)).filter(|peak| peak.height >= LEAST_FIRST_CORRELATION);
    let peak = peak.ok_or_else(no_likeness)?;
    let shift = peak.position - margin as f64;
    Ok(if piece_is_course { shift } else { -shift })
}

fn no_likeness() -> NotMeasured {
    NotMeasured::because("this run does not bend like the reference run: another track, or a wrong sensor")
}

/// The columns that each row may meet, and how many columns were put before the run's own.
fn band(rows: usize, own: usize, anchors: &[Anchor], shift: f64) -> (Vec<Range<usize>>, usize) {
    let places = (0..rows).map(|row| {
        let course_m = row as f64 * STEP_M;
        let centre = stretched_m(anchors, course_m) / STEP_M + shift;
        let open_m = |a: &Anchor| a.half_width_m + STEP_M + SCALE_SHARE * (course_m - a.course_m).abs();
        let half = anchors.iter().map(open_m).fold(BAND_M, f64::min) / STEP_M;
        [(centre - half).floor() as i64, (centre + half).ceil() as i64 + 1]
    });
    let mut places: Vec<[i64; 2]> = places.collect();
    let mut highest = [i64::MIN; 2];
    for place in &mut places {
        for (bound, highest) in place.iter_mut().zip(&mut highest) {
            *highest = (*bound).max(*highest);
            *bound = *highest;
        }
    }
    let before = places.first().map_or(0, |[start, _]| (-start).max(0)) as usize;
    // Far beyond its end a run has nothing to meet, so that no more columns are needed.
    let last = (own + rows) as i64;
    let column = |place: i64, most: i64| (place.min(most) + before as i64).max(0) as usize;
    (places.iter().map(|[start, end]| column(*start, last - 1)..column(*end, last)).collect(), before)
}

/// Refuses curvatures that, laid over each other, do not show the same bends.
fn alike_enough(course: &[f64], residual: &[f64]) -> Result<(), NotMeasured> {
    let pairs: Vec<(f64, f64)> =
        course.iter().zip(residual).filter(|(_, r)| r.is_finite()).map(|(c, r)| (*c, c + r)).collect();
    if (pairs.len() as f64) < SHORTEST_M / STEP_M {
        return Err(NotMeasured::because(
            "this run and the reference run have too little of the track in common",
        ));
    }
    let n = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let (a, b) = (mean(|p| p.0), mean(|p| p.1));
    let sum = |of: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|(x, y)| of(x - a, y - b)).sum::<f64>();
    let correlation = sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt();
    if correlation >= LEAST_CORRELATION { Ok(()) } else { Err(no_likeness()) }
}

fn rms(values: &[f64]) -> Option<f64> {
    let known = || values.iter().filter(|value| value.is_finite());
    let n = known().count();
    (n > 0).then(|| (known().map(|value| value * value).sum::<f64>() / n as f64).sqrt())
}

/// A value between the steps of a series; `None` outside, or where it is missing.
fn between(series: &[f64], place_m: f64) -> Option<f64> {
    let place = place_m / STEP_M;
    if place.is_nan() || place < 0.0 {
        return None;
    }
    let (a, b) = (series.get(place as usize)?, series.get(place.ceil() as usize)?);
    Some(a + (b - a) * place.fract()).filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid(run_m: &[f64]) -> Alignment {
        Alignment {
            method: AlignmentMethod::Curvature,
            run_m: run_m.to_vec(),
            uncertainty_m: vec![1.0; run_m.len()],
            residual_per_m: vec![0.0; run_m.len()],
        }
    }

    /// Source: by hand, a place every 0.5 m.
    #[test]
    fn a_distance_along_the_run_is_a_place_of_the_course() {
        let nan = f64::NAN;
        let found = laid(&[nan, 0.0, 0.0, 0.4, 1.0, 1.0, 1.0, 2.0, 2.0, nan]);
        let expected = [
            (0.0, 1.0),
            (0.2, 1.25),
            (0.7, 1.75),
            (1.0, 2.5),
            (1.5, 3.25),
            (2.0, 3.5),
            (2.4, 3.5),
            (-0.4, 1.0),
        ];
        for (run_m, course_m) in expected {
            assert!((found.course_m(run_m).unwrap() - course_m).abs() < 1e-12, "{run_m}");
        }
        for outside in [-0.6, 2.6, nan, f64::INFINITY] {
            assert_eq!(found.course_m(outside), None);
        }
        assert_eq!(laid(&[nan, nan]).course_m(0.0), None);
    }

    #[test]
    fn a_place_goes_to_the_run_and_comes_back() {
        let run_m: Vec<f64> = (0..400).map(|k| 0.47 * f64::from(k) + (f64::from(k) * 0.05).sin()).collect();
        let found = laid(&run_m);
        for course_m in [0.0, 3.3, 77.77, 150.0, 199.5] {
            let back_m = found.course_m(found.distance_m(course_m).unwrap()).unwrap();
            assert!((back_m - course_m).abs() < 1e-9, "{course_m} came back as {back_m}");
        }
    }

    #[test]
    fn the_reference_run_is_where_the_course_is() {
        let found = Alignment::of_reference(&Course::from_curvature(&[0.01; 41]));
        assert_eq!((found.distance_m(7.3), found.course_m(7.3)), (Some(7.3), Some(7.3)));
        assert_eq!(found.uncertainty_m(7.3), 0.0);
        // The run goes on for less than a step.
        assert_eq!((found.course_m(20.4), found.course_m(20.6)), (Some(20.0), None));
    }
}
