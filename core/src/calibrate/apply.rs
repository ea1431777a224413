//! A source's raw columns, turned into SI channels of the bike by its profile.

use std::cell::OnceCell;

use std::f64::consts::TAU;

use super::{Response, speed_from_pulses};
use crate::bike::{Bike, Wheel};
use crate::channel::{Channel, Profile};
use crate::role::{Axis, End, Place, Role};
use crate::signal::{is_whole, median_step};
use crate::source::{Column, Source};
use crate::unit::Quantity;

/// One channel in SI on its logger's clock, in the bike's axes.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibrated {
    /// What it measures; a shock's stroke has become rear travel, pulses a wheel speed.
    pub role: Role,
    /// Index of its column in the source.
    pub column: usize,
    /// To be added to every sample: a position in `f32` alone would be half a metre off. 0 for all but
    /// latitude and longitude.
    pub origin: f64,
    /// One sample per row, NaN where missing.
    pub samples: Vec<f32>,
    /// 1 / median step of its own samples, Hz.
    pub rate_hz: f64,
    /// Way of a wheel from one pulse to the next, m, where pulses are what its speed was counted from.
    pub pulse_m: Option<f64>,
}

/// A channel that cannot be used, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unusable {
    /// Index of its column in the source.
    pub column: usize,
    /// Why, in a sentence.
    pub problem: String,
}

/// Every used channel of a source in SI.
///
/// Inertial channels are turned by their place's mount, which needs all three axes in one file; an
/// axis alone stays as it is logged.
pub fn calibrate(source: &Source, profile: &Profile, bike: &Bike) -> (Vec<Calibrated>, Vec<Unusable>) {
    let mut used = Vec::new();
    let mut unusable = Vec::new();
    // Channels without a blank row share the file's own.
    let every_row_hz = OnceCell::new();
    for (column, (channel, raw)) in profile.channels.iter().zip(&source.columns).enumerate() {
        if channel.role.quantity() == Quantity::Other {
            continue;
        }
        match one(channel, raw, &source.time_s, bike) {
            Ok((role, origin, samples)) => match rate_hz(&source.time_s, &samples, &every_row_hz) {
                Some(rate_hz) => {
                    let pulse_m = match channel.role {
                        Role::WheelPulses(end) => Some(bike.wheel(end).pulse_m()),
                        _ => None,
                    };
                    used.push(Calibrated { role, column, origin, samples, rate_hz, pulse_m });
                }
                None => unusable.push(Unusable { column, problem: "it holds no numbers".to_owned() }),
            },
            Err(problem) => unusable.push(Unusable { column, problem }),
        }
    }
    // A travel sensor is read before a stroke sensor, a speed before pulses: the first of a role stays.
    for kept in (1..used.len()).rev() {
        if used[..kept].iter().any(|earlier| earlier.role == used[kept].role) {
            let Calibrated { role, column, .. } = used.remove(kept);
            unusable
                .push(Unusable { column, problem: format!("another column of this file is already {role}") });
        }
    }
    for place in [Place::Frame, Place::Bar] {
        turn(&mut used, profile, |axis| Role::Accel(place, axis), place);
        turn(&mut used, profile, |axis| Role::Gyro(place, axis), place);
    }
    (used, unusable)
}

// A function of its own, since a browser makes code fast from one call to the next, not within one.
#[inline(never)]
fn one(
    channel: &Channel,
    raw: &Column,
    time_s: &[f64],
    bike: &Bike,
) -> Result<(Role, f64, Vec<f32>), String> {
    let response = Response::of(channel).map_err(|error| error.to_string())?;
    let si = raw.values.iter().map(|value| response.si(raw.origin + f64::from(*value)));
    Ok(match channel.role {
        Role::ShockStroke => {
            let linkage = bike
                .linkage
                .as_ref()
                .ok_or("shock stroke needs the bike's linkage table to become axle travel")?;
            (Role::Travel(End::Rear), 0.0, si.map(|stroke| linkage.travel_m(stroke) as f32).collect())
        }
        Role::WheelPulses(end) => {
            let count: Vec<f64> = si.collect();
            (Role::WheelSpeed(end), 0.0, speed_from_pulses(time_s, &count, bike.wheel(end)))
        }
        Role::WheelSpeed(end) if channel.unit.quantity() == Quantity::AngularRate => {
            let Wheel { circumference_m, .. } = bike.wheel(end);
            let radius_m = circumference_m / TAU;
            (channel.role, 0.0, si.map(|radps| (radps * radius_m) as f32).collect())
        }
        role @ (Role::Latitude | Role::Longitude) => {
            let origin = response.si(raw.origin);
            (role, origin, si.map(|angle| turn_from(origin, angle) as f32).collect())
        }
        role => (role, 0.0, response.column(raw)),
    })
}

/// How far an angle lies from the origin, rad, the short way round. Receivers write exact zeros as long as
/// they know no position.
fn turn_from(origin: f64, angle: f64) -> f64 {
    // As near as the difference, kept in `f32`, says it.
    if angle.abs() < f64::from(f32::EPSILON) * origin.abs() {
        return f64::NAN;
    }
    let turn = angle - origin;
    turn - TAU * (turn / TAU).round()
}

/// 1 / median step between samples that are there, Hz; `every_row_hz` keeps that of a channel without blanks.
fn rate_hz(time_s: &[f64], samples: &[f32], every_row_hz: &OnceCell<Option<f64>>) -> Option<f64> {
    let hz = |stamps: &[f64]| median_step(stamps).map(|step_s| 1.0 / step_s);
    if is_whole(samples) {
        return *every_row_hz.get_or_init(|| hz(time_s));
    }
    let present: Vec<f64> =
        time_s.iter().zip(samples).filter(|(_, v)| !v.is_nan()).map(|(t, _)| *t).collect();
    hz(&present)
}

/// Turns a triad of one place from the sensor's axes to the bike's.
fn turn(used: &mut [Calibrated], profile: &Profile, role: impl Fn(Axis) -> Role, place: Place) {
    let index = |axis| used.iter().position(|channel| channel.role == role(axis));
    let (Some(x), Some(y), Some(z)) = (index(Axis::X), index(Axis::Y), index(Axis::Z)) else { return };
    let mut axes = [x, y, z].map(|i| std::mem::take(&mut used[i].samples));
    profile.mount(place).turn(axes.each_mut().map(Vec::as_mut_slice));
    [x, y, z].into_iter().zip(axes).for_each(|(i, axis)| used[i].samples = axis);
    // A turned axis is there where all three are.
    let slowest_hz = [x, y, z].iter().map(|&i| used[i].rate_hz).fold(f64::INFINITY, f64::min);
    [x, y, z].into_iter().for_each(|i| used[i].rate_hz = slowest_hz);
}
