//! How fast the bike goes, from the best sensor there is.

use serde::{Deserialize, Serialize};

use crate::align::Aligned;
use crate::measured::NotMeasured;
use crate::role::{End, Role};
use crate::signal::Sos;

/// Faster changes of speed than this are pulses and bumps, not the bike, Hz.
const SPEED_BAND_HZ: f64 = 4.0;

/// Where the bike's speed comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedSource {
    /// The front wheel.
    FrontWheel,
    /// The rear wheel; wrong while it slides.
    RearWheel,
    /// GPS.
    Gps,
}

/// Speed of the bike on the run's grid, m/s, NaN where missing, smoothed below 4 Hz without delay.
///
/// The front wheel before the rear, which brakes and bumps stop more often; GPS last, since it is slow.
///
/// # Errors
/// No channel tells the speed.
pub fn bike_speed(logged: &Aligned) -> Result<(Vec<f32>, SpeedSource), NotMeasured> {
    let sources = [
        (Role::WheelSpeed(End::Front), SpeedSource::FrontWheel),
        (Role::WheelSpeed(End::Rear), SpeedSource::RearWheel),
        (Role::GroundSpeed, SpeedSource::Gps),
    ];
    let (samples, source) = sources
        .into_iter()
        .find_map(|(role, source)| Some((&logged.get(role)?.samples, source)))
        .ok_or_else(|| NotMeasured::because("no wheel speed and no GPS speed is logged"))?;
    let rate_hz = logged.grid.rate_hz;
    let smooth = match Sos::low_pass(2, SPEED_BAND_HZ, rate_hz) {
        Ok(filter) => filter.zero_phase_stretches(samples),
        // A grid too slow for the band has nothing to smooth.
        Err(_) => samples.clone(),
    };
    // Smoothing may swing below zero where the wheel stops.
    Ok((smooth.into_iter().map(|v| if v < 0.0 { 0.0 } else { v }).collect(), source))
}

/// Distance from the start of the grid, m: the integral of speed; nothing is added where it is missing.
pub fn distance_m(speed_mps: &[f32], rate_hz: f64) -> Vec<f64> {
    speed_mps
        .iter()
        .scan(0.0, |sum, &v| {
            *sum += if v.is_nan() { 0.0 } else { f64::from(v) / rate_hz };
            Some(*sum)
        })
        .collect()
}
