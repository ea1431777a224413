//! One run through every room: what the bike did, section by section.

use std::ops::ControlFlow;
use std::pin::pin;
use std::sync::Arc;
use std::task::{Context, Poll, Waker};

use crate::day::{Day, RunSheet};
use crate::findings::findings;
use crate::measured::NotMeasured;
use crate::ride::{self, Cancelled, Ride, SectionRange, Stage, Traces};
use crate::source::Source;
use crate::track::{RunTrack, TrackReadout};

/// Analyses one run and reads the sections of the day.
///
/// `sources` are the files of the run, found by the names in its sheet. Before each stage `checkpoint`
/// is awaited, so that a browser's worker can report progress and hear a Cancel in between.
///
/// # Errors
/// [`Cancelled`] when `checkpoint` breaks off. Everything else that is missing or unfit is said in the
/// read-out.
pub async fn analyse(
    day: &Day,
    run: &RunSheet,
    sources: &[Arc<Source>],
    checkpoint: impl AsyncFnMut(Stage) -> ControlFlow<()>,
) -> Result<Ride, Cancelled> {
    let mut track = None;
    let sections = |traces: &Traces| -> Vec<SectionRange> {
        if day.sections.is_empty() {
            return Vec::new();
        }
        let found = locate(day, run, traces);
        track = Some(TrackReadout::of(&found, &day.sections));
        found.map(|found| found.ranges(&day.sections)).unwrap_or_default()
    };
    let mut ride = ride::analyse(day, run, sources, checkpoint, sections).await?;
    ride.readout.track = track;
    ride.readout.findings = findings(&ride.readout, &day.bike, &day.findings);
    Ok(ride)
}

/// Where a run of the day is on the day's course.
///
/// # Errors
/// Without a course, or where the run cannot be laid over it.
pub fn locate(day: &Day, run: &RunSheet, traces: &Traces) -> Result<RunTrack, NotMeasured> {
    let course = day.course.as_ref().ok_or_else(|| {
        NotMeasured::because("the day has no reference run yet: make its sections in one of its runs")
    })?;
    RunTrack::find(traces, course, &run.passages)
}

/// [`analyse`] in one go, for programs that have no need to interrupt it.
pub fn analyse_now(day: &Day, run: &RunSheet, sources: &[Arc<Source>]) -> Ride {
    let never_waits = pin!(analyse(day, run, sources, async |_| ControlFlow::Continue(())));
    match never_waits.poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(Ok(ride)) => ride,
        Poll::Ready(Err(Cancelled)) | Poll::Pending => {
            unreachable!("the checkpoint neither waits nor breaks off")
        }
    }
}
