//! Two runs laid over each other along the track.

use evenkeel_core::ride::{Trace, Traces};
use evenkeel_core::track::{
    ByDistance, Course, Passage, READ_STEP_M, RunDistance, RunTrack, STEP_M, time_lost,
};
use evenkeel_core::{Bike, Day, Log, Measured, NotMeasured, Profile, RunSheet};

use super::protocol::{LaidOver, LaidSection};

/// So many runs are kept as they were laid: a day's, about.
pub const KEPT: usize = 8;

/// What a run's place on a course depends on.
#[derive(Clone, PartialEq)]
pub struct Subject {
    bike: Bike,
    profiles: Vec<Profile>,
    logs: Vec<Log>,
    passages: Vec<Passage>,
    /// None is the run's own.
    course: Option<Course>,
    wanted: Vec<Trace>,
}

impl Subject {
    pub fn of(day: &Day, sheet: &RunSheet, course: Option<&Course>, wanted: &[Trace]) -> Self {
        Self {
            bike: day.bike.clone(),
            profiles: day.profiles.clone(),
            logs: sheet.logs.clone(),
            passages: sheet.passages.clone(),
            course: course.cloned(),
            wanted: wanted.to_vec(),
        }
    }
}

/// One run on a course.
pub struct LaidRun {
    pub subject: Subject,
    track: RunTrack,
    /// How it bends itself.
    pub own: Course,
    read: ByDistance,
}

impl LaidRun {
    /// # Errors
    /// Without a distance, or where the run cannot be laid over the course.
    pub fn of(traces: &Traces, subject: Subject) -> Result<Self, NotMeasured> {
        let distance = RunDistance::of(traces)?;
        let own = Course::along(&distance, traces.get(Trace::YawRate));
        let track = match &subject.course {
            Some(course) => RunTrack::lay(distance, &own, course, &subject.passages)?,
            None => RunTrack::reference(distance, &own),
        };
        let read = ByDistance::of(traces, &track, &subject.wanted);
        Ok(Self { subject, track, own, read })
    }

    /// When the first place is passed, s.
    fn start_s(&self) -> f64 {
        self.read.time_s.iter().copied().find(|time_s| time_s.is_finite()).unwrap_or_default()
    }
}

/// Run b beside run a; the buffers that go with it.
pub fn over(day: &Day, a: &LaidRun, b: &LaidRun) -> Result<(LaidOver, Vec<Vec<f32>>), NotMeasured> {
    let lost = time_lost(&a.track, &b.track, &day.sections)?;
    let runs = [a, b];
    let sections = day.sections.iter().zip(lost.sections).map(|(section, (_, lost_s))| LaidSection {
        section: section.clone(),
        times_s: runs.map(|run| run.track.section_time(section).unwrap_or_else(Measured::not)),
        lost_s,
    });
    let start_s = runs.map(LaidRun::start_s);
    let answer = LaidOver {
        step_m: READ_STEP_M,
        lost_step_m: STEP_M,
        start_s,
        from_s: lost.from_s,
        methods: runs.map(|run| run.track.alignment.method.clone()),
        sections: sections.collect(),
        traces: runs.map(|run| run.read.traces.iter().map(|(trace, _)| *trace).collect()),
    };
    let short = |values: &[f64], less: f64| -> Vec<f32> {
        values.iter().map(|value| (value - less) as f32).collect()
    };
    let mut buffers = vec![short(&lost.running_s, 0.0), short(&lost.half_width_s, 0.0)];
    buffers.extend(runs.iter().zip(start_s).map(|(run, start_s)| short(&run.read.time_s, start_s)));
    buffers.extend(runs.iter().flat_map(|run| &run.read.traces).map(|(_, samples)| samples.clone()));
    Ok((answer, buffers))
}
