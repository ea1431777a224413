//! How an inertial unit lies, found from a run.

use std::sync::Arc;

use super::basis::Unfit;
use super::speed::Wheels;
use super::{Trace, Traces, chord_pitch_rad};
use crate::align::{Aligned, Part};
use crate::calibrate::{FoundMount, Inertial, Mount, calibrate, still_stretches};
use crate::day::{Day, Log, RunSheet};
use crate::measured::NotMeasured;
use crate::role::{End, Place, Role};
use crate::signal::median;
use crate::source::Source;

/// Finds how the unit at a place lies, from the longest stretch in which the bike stood still and from
/// how its speed changed.
///
/// The levelling turn is right only if the bike stood on level ground in that stretch; [`Mount::levelled`]
/// takes it off again. What its ends were compressed by then, unlike at front and rear, pitches the frame:
/// where travel is logged at both, that pitch is left to it.
///
/// # Errors
/// Where the run has no such unit, was never still, or does not decide; the reason says what would.
pub fn find_mount(
    day: &Day,
    run: &RunSheet,
    sources: &[Arc<Source>],
    place: Place,
) -> Result<FoundMount, NotMeasured> {
    let part = |log: &Log| {
        let source = sources.iter().find(|source| source.name == log.file)?;
        let mut profile = day.profile_for(source);
        (profile.frame_mount, profile.bar_mount) = (Mount::default(), Mount::default());
        Some(Part { source, channels: calibrate(source, &profile, &day.bike).0, clock: log.clock })
    };
    let parts = run.logs.iter().filter_map(part).collect();
    let traces = Aligned::new(parts)
        .map(Traces::new)
        .ok_or_else(|| NotMeasured::because("the run has no usable channel"))?;
    let aligned = traces.logged();
    let needs = |what: &str| NotMeasured::because(format!("finding the mount needs {what} on three axes"));
    let gyro = |place| aligned.triad(|axis| Role::Gyro(place, axis));
    let inertial = Inertial {
        accel_mps2: aligned.triad(|axis| Role::Accel(place, axis)).ok_or_else(|| needs("acceleration"))?,
        // Turn rates only tell when the bike stood still, which the frame's tell as well.
        gyro_radps: gyro(place).or_else(|| gyro(Place::Frame)).ok_or_else(|| needs("turn rates"))?,
        rate_hz: aligned.grid.rate_hz,
    };
    let still = still_stretches(&inertial)
        .into_iter()
        .max_by_key(std::iter::ExactSizeIterator::len)
        .ok_or_else(|| NotMeasured::because("the bike never stood still for a second"))?;
    let free = Wheels::read(&traces, &Unfit::default(), None).free_speed();
    let speed = free.ok().map(|free| free.measured_mps());
    let mut found = Mount::find(&inertial, still.clone(), speed.as_deref()).map_err(|undecided| {
        let ways = undecided.remaining.len();
        NotMeasured::because(format!("{} ({ways} ways to lie are left)", undecided.reason.0))
    })?;
    let travel_m = |end| median(&traces.get(Trace::travel(end))?[still.clone()]);
    if let (Some(front_m), Some(rear_m)) = (travel_m(End::Front), travel_m(End::Rear)) {
        let [about_x_rad, about_y_rad] = found.mount.level_rad();
        let pitch_rad = chord_pitch_rad(&day.bike, front_m, rear_m);
        found.mount = found.mount.levelled(about_x_rad, about_y_rad - pitch_rad);
    }
    Ok(found)
}
