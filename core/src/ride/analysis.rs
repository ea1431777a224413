//! One run, from its files to traces and read-out.

use std::ops::{ControlFlow, Range};
use std::sync::Arc;

use super::basis::{Basis, Unfit, force_mps2};
use super::contact::falling;
use super::doubts::{ends_swapped, is_dead, of_samples, of_travel, stuck, unfit};
use super::lock_up::WheelSlips;
use super::rolling::rolling;
use super::section::SectionReader;
use super::speed::{FreeSpeed, Wheels, forward_accel_mps2};
use super::wheel_doubts::doubt_wheels;
use super::wheel_slip::slip;
use super::{Attitude, Doubt, SpeedSource, Trace, Traces, chord_pitch_rad, heave_m};
use crate::align::{Aligned, Clock, Part};
use crate::bike::Bike;
use crate::calibrate::{Calibrated, Inertial, Unusable, calibrate};
use crate::channel::Profile;
use crate::day::{Day, Log, RunSheet};
use crate::measured::NotMeasured;
use crate::readout::{ChannelReadout, RunReadout, SourceReadout};
use crate::role::{Axis, End, Place, Role};
use crate::signal::{SavitzkyGolay, Sos};
use crate::source::Source;

/// Ride height is travel below this, Hz.
const RIDE_HEIGHT_BAND_HZ: f64 = 0.5;

/// The share of mean specific force that must lie on the frame's z axis: half-way to the next axis.
const UPWARD_SHARE: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// What one run gives: its time series and its read-out.
#[derive(Clone, Debug)]
pub struct Ride {
    /// Time series on one grid; `None` if no file has a usable channel.
    pub traces: Option<Traces>,
    /// Where bike speed came from.
    pub speed_source: Result<SpeedSource, NotMeasured>,
    /// Why there is no attitude, if there is none.
    pub attitude: Result<(), NotMeasured>,
    /// The numbers.
    pub readout: RunReadout,
}

/// A step of the analysis, told before it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Raw numbers to SI.
    Calibrate,
    /// All channels to one clock and grid.
    Align,
    /// Travel, axle speed, pitch against the chord.
    Travel,
    /// Attitude in the world.
    Attitude,
    /// Read-out.
    Read,
}

impl Stage {
    /// Every stage, in order.
    pub const ALL: [Self; 5] = [Self::Calibrate, Self::Align, Self::Travel, Self::Attitude, Self::Read];
}

/// The analysis was called off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;

/// A stretch of the run to be read under its own name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionRange {
    /// Name of the section.
    pub name: String,
    /// Its samples on the run's grid.
    pub range: Range<usize>,
    /// Nobody should brake here.
    pub no_braking: bool,
}

/// Analyses one run; `sections` says, once the traces are there, which stretches are read besides the whole.
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
    mut checkpoint: impl AsyncFnMut(Stage) -> ControlFlow<()>,
    sections: impl FnOnce(&Traces) -> Vec<SectionRange>,
) -> Result<Ride, Cancelled> {
    let mut reached = async |stage| match checkpoint(stage).await {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(Cancelled),
    };

    reached(Stage::Calibrate).await?;
    let mut files = File::all(day, run, sources);
    let mut readout = RunReadout {
        name: run.name.clone(),
        sources: files.iter().map(File::source_readout).collect(),
        channels: files.iter().flat_map(File::channel_readouts).collect(),
        sections: Vec::new(),
        track: None,
        findings: Vec::new(),
    };

    reached(Stage::Align).await?;
    let Some(aligned) = align(&mut files) else {
        let nothing = NotMeasured::because("no file of this run has a channel that can be used");
        return Ok(Ride {
            traces: None,
            speed_source: Err(nothing.clone()),
            attitude: Err(nothing),
            readout,
        });
    };
    mark_used(&mut readout.channels, &files, &aligned);
    let mut traces = Traces::new(aligned);

    reached(Stage::Travel).await?;
    add_travel(&mut traces, &day.bike);
    let dead = unfit(&readout.channels);
    let force_mps2 = force_mps2(&traces, &dead);
    let wheels = Wheels::read(&traces, &dead, force_mps2.as_deref());
    doubt_wheels(&mut readout.channels, &traces, &wheels, &dead);
    let unfit_wheels = unfit(&readout.channels);
    let free = Wheels::read(&traces, &unfit_wheels, force_mps2.as_deref()).free_speed();

    reached(Stage::Attitude).await?;
    // Speed is carried across lock-ups by what attitude makes of acceleration: it has to do without it there.
    let measured_mps = free.as_ref().ok().map(FreeSpeed::measured_mps);
    let attitude = add_attitude(&mut traces, &unfit_wheels, measured_mps.as_deref());
    let slips = add_speed(&mut traces, &free, &unfit_wheels, force_mps2.as_deref());
    let speed_source = free.map(|free| free.source);

    reached(Stage::Read).await?;
    let rolls = rolling(&traces, &unfit_wheels);
    doubt_travel(&mut readout.channels, &traces, &day.bike, force_mps2.as_deref(), &rolls);
    let unfit = unfit(&readout.channels);
    let basis = Basis::new(&traces, &day.bike, &unfit, force_mps2.as_deref());
    let reader = SectionReader::new(&basis, &attitude, &slips);
    readout.sections.push(reader.whole_run());
    readout.sections.extend(sections(&traces).into_iter().map(|section| reader.read(section)));
    Ok(Ride { traces: Some(traces), speed_source, attitude: attitude.map(|_| ()), readout })
}

/// The logged channels of a run on its grid, as [`analyse`] takes them; `None` if no file has a usable channel.
pub fn align_run(day: &Day, run: &RunSheet, sources: &[Arc<Source>]) -> Option<Aligned> {
    align(&mut File::all(day, run, sources))
}

/// Takes the files' channels.
fn align(files: &mut [File<'_>]) -> Option<Aligned> {
    let alive = |channel: &Calibrated| !is_dead(channel.role, &channel.samples, channel.rate_hz);
    Aligned::of_living(files.iter_mut().map(File::take_part).collect(), alive)
}

/// One file of the run on its way through the rooms.
struct File<'a> {
    source: &'a Source,
    profile: Profile,
    channels: Vec<Calibrated>,
    unusable: Vec<Unusable>,
    clock: Clock,
}

impl<'a> File<'a> {
    fn all(day: &Day, run: &RunSheet, sources: &'a [Arc<Source>]) -> Vec<Self> {
        let file = |log: &Log| {
            let source = sources.iter().find(|source| source.name == log.file)?;
            let profile = day.profile_for(source);
            let (channels, unusable) = calibrate(source, &profile, &day.bike);
            Some(Self { source, profile, channels, unusable, clock: log.clock })
        };
        run.logs.iter().filter_map(file).collect()
    }

    fn take_part(&mut self) -> Part<'a> {
        Part { source: self.source, channels: std::mem::take(&mut self.channels), clock: self.clock }
    }

    fn source_readout(&self) -> SourceReadout {
        SourceReadout { name: self.source.name.clone(), report: self.source.report.clone() }
    }

    fn channel_readouts(&self) -> impl Iterator<Item = ChannelReadout> {
        self.profile.channels.iter().enumerate().map(|(column, channel)| {
            let used = self.channels.iter().find(|used| used.column == column);
            let unusable = self.unusable.iter().find(|unusable| unusable.column == column);
            ChannelReadout {
                source: self.source.name.clone(),
                header: channel.header.clone(),
                role: channel.role,
                unit: channel.unit,
                rate_hz: used.map(|used| used.rate_hz),
                used: false,
                problem: unusable.map(|unusable| unusable.problem.clone()),
                flags: used
                    .map(|used| of_samples(used.role, &used.samples, used.rate_hz))
                    .unwrap_or_default(),
            }
        })
    }
}

/// Marks the channels that were put on the grid; `channels` are those of the files, in their order.
fn mark_used(channels: &mut [ChannelReadout], files: &[File<'_>], aligned: &Aligned) {
    let columns =
        files.iter().flat_map(|file| (0..file.profile.channels.len()).map(move |column| (file, column)));
    for (channel, (file, column)) in channels.iter_mut().zip(columns) {
        channel.used = aligned
            .get(channel.role.as_read())
            .is_some_and(|on_grid| on_grid.source == file.source.name && on_grid.column == column);
    }
}

/// Adds what travel alone can say.
fn add_travel(traces: &mut Traces, bike: &Bike) {
    let rate_hz = traces.grid().rate_hz;
    for end in [End::Front, End::Rear] {
        let Some(travel) = traces.get(Trace::travel(end)) else { continue };
        let speed = SavitzkyGolay::new(rate_hz).derivative_stretches(travel);
        let height =
            Sos::low_pass(4, RIDE_HEIGHT_BAND_HZ, rate_hz).map(|filter| filter.zero_phase_stretches(travel));
        traces.push(Trace::AxleSpeed(end), speed);
        if let Ok(height) = height {
            traces.push(Trace::RideHeight(end), height);
        }
    }
    if let (Some(front), Some(rear)) =
        (traces.get(Trace::travel(End::Front)), traces.get(Trace::travel(End::Rear)))
    {
        let both = |of: fn(&Bike, f64, f64) -> f64| {
            front.iter().zip(rear).map(|(f, r)| of(bike, f64::from(*f), f64::from(*r)) as f32).collect()
        };
        let (pitch, heave) = (both(chord_pitch_rad), both(heave_m));
        traces.push(Trace::ChordPitch, pitch);
        traces.push(Trace::Heave, heave);
    }
}

/// Adds the bike's speed, carried across where no wheel ran free, and slip against it.
fn add_speed(
    traces: &mut Traces,
    free: &Result<FreeSpeed, NotMeasured>,
    unfit: &Unfit,
    force_mps2: Option<&[f32]>,
) -> WheelSlips {
    const ENDS: [End; 2] = [End::Front, End::Rear];
    let free = match free {
        Ok(free) => free,
        Err(reason) => return WheelSlips::not(reason),
    };
    let grid = traces.grid();
    let bike_mps = free.carried_mps(forward_accel_mps2(traces).as_deref());
    let wheels = Wheels::read(traces, unfit, force_mps2);
    let slip = ENDS.map(|end| slip(&wheels, end, &bike_mps, grid.rate_hz));
    let borrowed = slip.each_ref().map(|slip| slip.as_deref().map_err(Clone::clone));
    let slips = WheelSlips::find(&wheels, borrowed, &bike_mps, grid.start_s, grid.rate_hz);
    traces.push(Trace::Speed, free.with_gps(&bike_mps));
    for (end, slip) in ENDS.into_iter().zip(slip) {
        if let Ok(slip) = slip {
            traces.push(Trace::Slip(end), slip);
        }
    }
    slips
}

/// Adds how the bike lay in the world; says whether speed took its own acceleration out.
fn add_attitude(traces: &mut Traces, unfit: &Unfit, speed_mps: Option<&[f32]>) -> Result<bool, NotMeasured> {
    let triad = |role: fn(Place, Axis) -> Role, what: &str| {
        if let Some(reason) = Axis::ALL.iter().find_map(|&axis| unfit.get(role(Place::Frame, axis))) {
            return Err(reason.clone());
        }
        traces
            .logged()
            .triad(|axis| role(Place::Frame, axis))
            .ok_or_else(|| NotMeasured::because(format!("attitude needs {what} of the frame on three axes")))
    };
    let inertial = Inertial {
        accel_mps2: triad(Role::Accel, "acceleration")?,
        gyro_radps: triad(Role::Gyro, "turn rates")?,
        rate_hz: traces.grid().rate_hz,
    };
    points_up(&inertial)?;
    let attitude = Attitude::find(&inertial, speed_mps)?;
    traces.push(Trace::Pitch, attitude.pitch_rad);
    traces.push(Trace::Roll, attitude.roll_rad);
    traces.push(Trace::Yaw, attitude.yaw_rad);
    traces.push(Trace::YawRate, attitude.yaw_rate_radps);
    Ok(attitude.speed_used)
}

/// Whether the unit lies as its mount says: over a run specific force points up on the average.
fn points_up(inertial: &Inertial<'_>) -> Result<(), NotMeasured> {
    let whole = || (0..inertial.len()).filter(|&i| inertial.is_whole_at(i));
    let sum = whole().map(|i| inertial.accel_at(i)).fold([0.0; 3], |sum, a| [0, 1, 2].map(|k| sum[k] + a[k]));
    let size = sum.iter().map(|c| c * c).sum::<f64>().sqrt();
    if sum[2] > size * UPWARD_SHARE {
        return Ok(());
    }
    Err(NotMeasured::because(
        "the frame unit's z axis does not point up; say in Check how it lies, or have it found",
    ))
}

/// Adds the doubts that only the whole run can raise to the flags of the travel channels.
fn doubt_travel(
    channels: &mut [ChannelReadout],
    traces: &Traces,
    bike: &Bike,
    force_mps2: Option<&[f32]>,
    rolling: &[bool],
) {
    let rate_hz = traces.grid().rate_hz;
    let flights = force_mps2.map(|force| falling(force, rate_hz)).unwrap_or_default();
    let mut add = |end: End, doubts: Vec<Doubt>| {
        let measures = |channel: &ChannelReadout| channel.used && channel.role.as_read() == Role::Travel(end);
        // What never changes is wrong in every way, and said to be so once.
        let dead = |channel: &ChannelReadout| channel.flags.contains(&Doubt::Constant);
        if let Some(channel) = channels.iter_mut().find(|channel| measures(channel) && !dead(channel)) {
            channel.flags.extend(doubts);
        }
    };
    for end in [End::Front, End::Rear] {
        if let Some(travel) = traces.logged().get(Role::Travel(end)) {
            let noise_m = travel.resolution.noise_sd.unwrap_or_default();
            let stuck = stuck(&travel.samples, rolling, rate_hz).map(|stuck| vec![stuck]);
            add(
                end,
                stuck.unwrap_or_else(|| {
                    of_travel(&travel.samples, noise_m, bike.travel_m(end), &flights, rate_hz)
                }),
            );
        }
    }
    if let (Some(front), Some(rear), Some(speed)) = (
        traces.get(Trace::AxleSpeed(End::Front)),
        traces.get(Trace::AxleSpeed(End::Rear)),
        traces.get(Trace::Speed),
    ) && ends_swapped(front, rear, speed, bike.wheelbase_m, rate_hz)
    {
        add(End::Front, vec![Doubt::EndsSwapped]);
        add(End::Rear, vec![Doubt::EndsSwapped]);
    }
}
