//! One run along the track: its distance, when it passes each place of the course, its sections.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::{Alignment, AlignmentMethod, Course, Mark, Passage, STEP_M, Section, align};
use crate::align::{Grid, Mapping};
use crate::measured::{Measured, NotMeasured};
use crate::ride::{SectionRange, Trace, Traces, distance_m};
use crate::signal::percentile;

/// Faster than this the bike rolls, m/s (as in the rest of the read-out).
const ROLLING_MPS: f32 = 1.0;
/// Slower than this it stands, m/s: what noise of a slow sensor leaves of nothing.
const STANDING_MPS: f32 = 0.25;
/// A distance may be missing where speed is for at most this share of the run.
const MISSING_SHARE: f64 = 0.05;

/// Distance of one run, counted from where it starts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunDistance {
    /// The grid of the run.
    pub grid: Grid,
    /// Distance at each sample, m, never falling: the integral of bike speed from the start.
    pub distance_m: Vec<f64>,
    /// From the last moment at which the bike stood before it first rolled, to the last at which it rolled.
    pub range: Range<usize>,
}

impl RunDistance {
    /// Distance from a run's speed.
    ///
    /// # Errors
    /// Without a speed, where it is missing for more than a twentieth of the run, or where nothing rolls.
    pub fn of(traces: &Traces) -> Result<Self, NotMeasured> {
        let grid = traces.grid();
        let speed = traces.get(Trace::Speed).ok_or_else(|| {
            NotMeasured::because("no speed is logged, so places of the track cannot be found")
        })?;
        let never = || NotMeasured::because("the bike never rolls in this run");
        let first = speed.iter().position(|v| *v > ROLLING_MPS).ok_or_else(never)?;
        let last = speed.iter().rposition(|v| *v > ROLLING_MPS).ok_or_else(never)?;
        // Missing counts as standing: what was before is not known.
        let start = speed[..first].iter().rposition(|v| v.is_nan() || *v <= STANDING_MPS).unwrap_or(0);
        let missing = speed[start..=last].iter().filter(|v| v.is_nan()).count();
        if missing as f64 > MISSING_SHARE * (last + 1 - start) as f64 {
            return Err(NotMeasured::because(
                "speed is missing for more than a twentieth of the run, so distance is not known",
            ));
        }
        let mut distance_m = distance_m(speed, grid.rate_hz);
        let zero_m = distance_m[start];
        distance_m.iter_mut().for_each(|distance| *distance -= zero_m);
        Ok(Self { grid, distance_m, range: start..last + 1 })
    }

    /// How far the run goes, m.
    pub fn length_m(&self) -> f64 {
        self.distance_m[self.range.end - 1]
    }

    /// When the bike leaves its start, s on the run's clock.
    pub fn leaves_s(&self) -> f64 {
        self.grid.time_s(self.range.start)
    }

    /// Sample, with its fraction, at which a distance is passed first; `None` beyond the run.
    pub fn sample_at(&self, distance_m: f64) -> Option<f64> {
        if distance_m <= 0.0 {
            return (distance_m > -STEP_M).then_some(self.range.start as f64);
        }
        let inside = &self.distance_m[self.range.clone()];
        let after = inside.partition_point(|&d| d < distance_m);
        let (next, before) = (inside.get(after)?, inside.get(after.checked_sub(1)?)?);
        let share = if next > before { (distance_m - before) / (next - before) } else { 0.0 };
        Some((self.range.start + after - 1) as f64 + share)
    }

    /// Time on the run's clock at which a distance is passed first, s.
    pub fn time_at_s(&self, distance_m: f64) -> Option<f64> {
        self.sample_at(distance_m).map(|sample| self.grid.start_s + sample / self.grid.rate_hz)
    }

    /// Distance at a time on the run's clock, m; `None` outside of the grid.
    pub fn at_time_m(&self, time_s: f64) -> Option<f64> {
        let place = (time_s - self.grid.start_s) * self.grid.rate_hz;
        if place.is_nan() || place < 0.0 {
            return None;
        }
        let (a, b) = (self.distance_m.get(place as usize)?, self.distance_m.get(place.ceil() as usize)?);
        Some(a + (b - a) * place.fract())
    }
}

/// One run laid over the course.
#[derive(Clone, Debug, PartialEq)]
pub struct RunTrack {
    /// Its own distance.
    pub distance: RunDistance,
    /// Where it is on the course.
    pub alignment: Alignment,
}

/// How long a section took.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionTime {
    /// Name of the section.
    pub name: String,
    /// Time from its start to its end, s, with the interval that the alignment leaves.
    pub time_s: Measured,
}

/// Where a section lies in a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// When the run passes its start, s on the run's clock.
    pub start_s: f64,
    /// When it passes its end, s.
    pub end_s: f64,
    /// Half-width of the 95 % interval of the less certain of the two places, m.
    pub uncertainty_m: Option<f64>,
    /// Time from one to the other, s, with the interval that the alignment leaves.
    pub time_s: Measured,
}

/// Where the sections of a run come from, and their times.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrackReadout {
    /// How the run was laid over the course.
    pub method: Measured<AlignmentMethod>,
    /// RMS of what is left between the curvatures, 1/m.
    pub residual_per_m: Measured,
    /// Half-width of the 95 % interval of a place that 95 % of places keep, m.
    pub uncertainty_p95_m: Measured,
    /// In the day's order.
    pub sections: Vec<SectionTime>,
}

impl RunTrack {
    /// Finds a run on the course.
    ///
    /// # Errors
    /// Without a distance, or where the run cannot be laid over the course.
    pub fn find(traces: &Traces, course: &Course, passages: &[Passage]) -> Result<Self, NotMeasured> {
        let distance = RunDistance::of(traces)?;
        let own = Course::along(&distance, traces.get(Trace::YawRate));
        Self::lay(distance, &own, course, passages)
    }

    /// Lays a run that bends as `own` says over the course. A run that bends to the last digit as the course
    /// is the one in which the course was made.
    ///
    /// # Errors
    /// Where the run cannot be laid over the course.
    pub fn lay(
        distance: RunDistance,
        own: &Course,
        course: &Course,
        passages: &[Passage],
    ) -> Result<Self, NotMeasured> {
        if passages.is_empty() && own == course && own.bends() {
            return Ok(Self::reference(distance, course));
        }
        let alignment = align(course, own, &Passage::anchors(passages, &distance)?)?;
        Ok(Self { distance, alignment })
    }

    /// The run in which the course is made.
    pub fn reference(distance: RunDistance, course: &Course) -> Self {
        Self { distance, alignment: Alignment::of_reference(course) }
    }

    /// How long the course is, m.
    pub fn course_length_m(&self) -> f64 {
        self.alignment.distances_m().len().saturating_sub(1) as f64 * STEP_M
    }

    /// The place of the course that a mark in this run means, m. Metres are counted along the course.
    ///
    /// # Errors
    /// Outside of the run or of the course; a video time without a match of video and log.
    pub fn place_m(&self, mark: Mark, video: Option<&Mapping>) -> Result<f64, NotMeasured> {
        let length_m = self.course_length_m();
        let place_m = match mark {
            Mark::DistanceM(place_m) => {
                // The run in which the course was made may go on for less than a step.
                (0.0..=length_m + STEP_M).contains(&place_m).then(|| place_m.min(length_m))
            }
            Mark::LogS(_) | Mark::VideoS(_) => {
                self.alignment.course_m(mark.distance_m(&self.distance, video)?)
            }
        };
        place_m.ok_or_else(|| NotMeasured::because("the mark lies outside of the track of the reference run"))
    }

    /// Where a section lies in this run.
    ///
    /// # Errors
    /// Where the run does not reach its start or its end.
    pub fn stretch(&self, section: &Section) -> Result<Stretch, NotMeasured> {
        let uncertainty_m =
            [section.start_m, section.end_m].map(|place_m| self.alignment.uncertainty_m(place_m));
        Ok(Stretch {
            start_s: self.time_at_s(section.start_m)?,
            end_s: self.time_at_s(section.end_m)?,
            uncertainty_m: uncertainty_m.into_iter().reduce(f64::max).filter(|metres| metres.is_finite()),
            time_s: self.section_time(section)?,
        })
    }

    /// Time on the run's clock at which a place of the course is passed, s.
    ///
    /// # Errors
    /// Where the run does not reach it.
    pub fn time_at_s(&self, course_m: f64) -> Result<f64, NotMeasured> {
        let distance_m = self.alignment.distance_m(course_m);
        distance_m.and_then(|distance_m| self.distance.time_at_s(distance_m)).ok_or_else(|| {
            NotMeasured::because(format!("the run does not pass the place at {course_m:.0} m"))
        })
    }

    /// Half-width of the 95 % interval of that time, s: that of the place over the speed there.
    pub fn time_interval_s(&self, course_m: f64) -> Option<f64> {
        /// Speed around a place is that over so many m.
        const AROUND_M: f64 = 4.0;
        let here_m = self.alignment.distance_m(course_m)?;
        let (a, b) = ((here_m - AROUND_M).max(0.0), (here_m + AROUND_M).min(self.distance.length_m()));
        let took_s = self.distance.time_at_s(b)? - self.distance.time_at_s(a)?;
        (b > a).then(|| self.alignment.uncertainty_m(course_m) * took_s / (b - a))
    }

    /// The samples of a section.
    ///
    /// # Errors
    /// Where the run does not reach its start or its end.
    pub fn range(&self, section: &Section) -> Result<Range<usize>, NotMeasured> {
        let grid = self.distance.grid;
        let sample = |course_m| {
            self.time_at_s(course_m).map(|time_s| ((time_s - grid.start_s) * grid.rate_hz).round() as usize)
        };
        let (start, end) = (sample(section.start_m)?, sample(section.end_m)?.min(grid.len));
        if start < end {
            Ok(start..end)
        } else {
            Err(NotMeasured::because("the section is shorter than a sample in this run"))
        }
    }

    /// Time of a section with its interval.
    ///
    /// # Errors
    /// Where the run does not reach its start or its end.
    pub fn section_time(&self, section: &Section) -> Result<Measured, NotMeasured> {
        let time_s = self.time_at_s(section.end_m)? - self.time_at_s(section.start_m)?;
        let half = [section.start_m, section.end_m].map(|place| self.time_interval_s(place));
        let measured = Measured::value(time_s);
        Ok(match half {
            [Some(start), Some(end)] => {
                let half_s = start.hypot(end);
                measured.with_interval([time_s - half_s, time_s + half_s])
            }
            _ => measured,
        })
    }

    /// The samples of every section that the run passes.
    pub fn ranges(&self, sections: &[Section]) -> Vec<SectionRange> {
        let found = sections.iter().filter_map(|section| {
            let range = self.range(section).ok()?;
            Some(SectionRange { name: section.name.clone(), range, no_braking: section.no_braking })
        });
        found.collect()
    }
}

impl TrackReadout {
    /// What is told of a run's way over the course, or why nothing can be.
    pub fn of(found: &Result<RunTrack, NotMeasured>, sections: &[Section]) -> Self {
        let alignment = found.as_ref().map(|found| &found.alignment).map_err(Clone::clone);
        let times = sections.iter().map(|section| {
            let time = found.as_ref().map_err(Clone::clone).and_then(|found| found.section_time(section));
            SectionTime { name: section.name.clone(), time_s: time.unwrap_or_else(Measured::not) }
        });
        Self {
            method: alignment.clone().map(|alignment| alignment.method.clone()).into(),
            residual_per_m: alignment.clone().and_then(Alignment::residual_rms_per_m).into(),
            uncertainty_p95_m: alignment
                .and_then(|alignment| {
                    percentile(alignment.uncertainties_m(), 95.0)
                        .ok_or_else(|| NotMeasured::because("no place of the course is passed"))
                })
                .into(),
            sections: times.collect(),
        }
    }
}
