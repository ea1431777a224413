//! Which channels two loggers share, and what these say about their clocks.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::gps_speed::{Late, gps_lag};
use super::{Clock, Lag, Recording, lag};
use crate::calibrate::{Calibrated, calibrate};
use crate::day::{Day, RunSheet};
use crate::measured::NotMeasured;
use crate::role::{End, Role};
use crate::source::Source;

/// What crystals keep where nothing tells the drift (common practice).
const UNKNOWN_DRIFT_SD: f64 = 50e-6;

/// One logger's clock, found by what it measured along with the run's first logger.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockMatch {
    /// From the logger's clock to the run's.
    pub clock: Clock,
    /// Standard deviation of the drift.
    pub drift_sd: f64,
    /// What both measured.
    pub role: Role,
    /// How many stretches of the run agree on it.
    pub stretches: usize,
    /// Bounds of the offset, s, where it comes from GPS speed, which is late by the receiver's smoothing.
    #[serde(default)]
    pub offset_interval_s: Option<[f64; 2]>,
}

impl fmt::Display for ClockMatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { clock, drift_sd, stretches, .. } = self;
        if let Some([low, high]) = self.offset_interval_s {
            return write!(
                f,
                "matched by GPS speed alone, which comes late: offset {:+.1} s, from {low:+.1} to {high:+.1} s; \
                 correct it by hand where that matters",
                clock.offset_s
            );
        }
        write!(
            f,
            "matched in {stretches} stretches of the run: offset {:+.4} s, drift {:+.1} ± {:.1} ppm",
            clock.offset_s,
            clock.drift * 1e6,
            drift_sd * 1e6
        )
    }
}

/// Finds the clock of one file of a run against that of the run's first file.
///
/// Every quantity that both measured is tried; the one that knows the drift best decides. How the unit
/// lies may not be known yet: an acceleration or turn rate is compared with all three axes of the other,
/// both ways up. GPS speed is used only where there is nothing else, and with the interval that it deserves:
/// a receiver is late by its own smoothing.
///
/// # Errors
/// Where a file is missing, both measured nothing in common, or what they measured does not agree.
pub fn match_clock(
    day: &Day,
    run: &RunSheet,
    sources: &[Arc<Source>],
    file: &str,
) -> Result<ClockMatch, NotMeasured> {
    let find = |name: &str| {
        let source = sources.iter().find(|source| source.name == name);
        source.ok_or_else(|| NotMeasured::because(format!("{name} is not loaded")))
    };
    let first = run.logs.first().ok_or_else(|| NotMeasured::because("the run has no file"))?;
    let (reference, second) = (find(&first.file)?, find(file)?);
    let channels = |source: &Source| calibrate(source, &day.profile_for(source), &day.bike).0;
    let (known, other) = (channels(reference), channels(second));

    let mut best: Option<ClockMatch> = None;
    let mut reason = None;
    for a in &known {
        for b in other.iter().filter(|b| comparable(a.role, b.role)) {
            for &sign in signs(a.role) {
                let samples = signed(b, sign);
                match lag(recording(reference, &a.samples), recording(second, &samples)) {
                    Ok(Lag { drift_sd, .. })
                        if best.as_ref().is_some_and(|best| best.drift_sd <= drift_sd) => {}
                    Ok(Lag { clock, drift_sd, windows }) => {
                        best = Some(ClockMatch {
                            clock,
                            drift_sd,
                            role: a.role,
                            stretches: windows.len(),
                            offset_interval_s: None,
                        });
                    }
                    Err(why) => reason = Some(why),
                }
            }
        }
    }
    if best.is_none()
        && let Some(by_speed) = by_speed((reference, &known), (second, &other))
    {
        match by_speed {
            Ok(found) => best = Some(found),
            Err(why) => reason = reason.or(Some(why)),
        }
    }
    best.map(|found| ClockMatch {
        clock: found.clock.then(&first.clock),
        offset_interval_s: found.offset_interval_s.map(|bounds| bounds.map(|s| first.clock.day_s(s))),
        ..found
    })
    .ok_or_else(|| {
        reason.unwrap_or_else(|| NotMeasured::because("the two loggers measured nothing in common"))
    })
}

/// The clock by bike speed, where one of the two files has it from a receiver; `None` where it is not in both.
fn by_speed(
    (reference, known): (&Source, &[Calibrated]),
    (second, other): (&Source, &[Calibrated]),
) -> Option<Result<ClockMatch, NotMeasured>> {
    let wheels = [Role::WheelSpeed(End::Front), Role::WheelSpeed(End::Rear)];
    let speed = |channels: &'_ [Calibrated]| {
        let roles = wheels.into_iter().chain([Role::GroundSpeed]);
        roles.into_iter().find_map(|role| channels.iter().position(|channel| channel.role == role))
    };
    let (a, b) = (&known[speed(known)?], &other[speed(other)?]);
    let gps = |channel: &Calibrated| channel.role == Role::GroundSpeed;
    let late = Late { reference: gps(a), second: gps(b) };
    if !late.reference && !late.second {
        return None;
    }
    let lag = gps_lag(recording(reference, &a.samples), recording(second, &b.samples), late);
    Some(lag.map(|lag| ClockMatch {
        clock: lag.clock,
        drift_sd: UNKNOWN_DRIFT_SD,
        role: Role::GroundSpeed,
        stretches: 1,
        offset_interval_s: Some(lag.offset_interval_s),
    }))
}

fn comparable(a: Role, b: Role) -> bool {
    match (a, b) {
        (Role::Accel(p, _), Role::Accel(q, _)) | (Role::Gyro(p, _), Role::Gyro(q, _)) => p == q,
        (Role::WheelSpeed(_), Role::WheelSpeed(_)) => true,
        (Role::Travel(a), Role::Travel(b)) | (Role::Brake(a), Role::Brake(b)) => a == b,
        _ => false,
    }
}

/// An axis may be met the other way up.
fn signs(role: Role) -> &'static [f32] {
    if matches!(role, Role::Accel(..) | Role::Gyro(..)) { &[1.0, -1.0] } else { &[1.0] }
}

fn signed(channel: &Calibrated, sign: f32) -> Vec<f32> {
    channel.samples.iter().map(|v| sign * v).collect()
}

fn recording<'a>(source: &'a Source, values: &'a [f32]) -> Recording<'a> {
    Recording { times_s: &source.time_s, values }
}
