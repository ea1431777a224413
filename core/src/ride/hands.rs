//! How hard the hands load the front.

use std::ops::Range;

use super::BAND_ORDER;
use super::basis::Basis;
use super::dive::SLOW_BAND_HZ;
use crate::measured::NotMeasured;
use crate::role::{Axis, Place, Role};
use crate::signal::{Sos, percentile};

/// Both sensors must be logged this fast, Hz: vibration, folded back below 3 Hz, adds a tenth at 100 Hz and
/// three quarters at 50 Hz (model).
const NEEDED_HZ: f64 = 100.0;

/// Vertical acceleration of the bar less that of the frame, below 3 Hz, m/s^2, by sample.
///
/// # Errors
/// Without both, or where one is logged too slowly.
pub fn bar_against_frame_mps2(basis: &Basis<'_>) -> Result<Vec<f32>, NotMeasured> {
    let [bar, frame] = [Place::Bar, Place::Frame].map(|place| {
        let role = Role::Accel(place, Axis::Z);
        let samples = basis.logged(role)?;
        basis.needs_rate(role, NEEDED_HZ, "the load of the hands needs")?;
        Ok(samples)
    });
    let difference: Vec<f32> = bar?.iter().zip(frame?).map(|(bar, frame)| bar - frame).collect();
    Sos::low_pass(BAND_ORDER, SLOW_BAND_HZ, basis.rate_hz())
        .map(|filter| filter.zero_phase_stretches(&difference))
        .map_err(|_| NotMeasured::because("acceleration is logged too slowly for the load of the hands"))
}

/// RMS and 95th percentile of the magnitude over a stretch while the bike rolls, both about the mean, in
/// which the sensors' own errors and the lie of the bar are; and of how many samples.
pub fn hand_load_mps2(
    difference_mps2: &[f32],
    rolling: &[bool],
    range: &Range<usize>,
) -> Result<([f64; 2], usize), NotMeasured> {
    let here: Vec<f64> = range
        .clone()
        .filter(|&i| rolling[i] && !difference_mps2[i].is_nan())
        .map(|i| f64::from(difference_mps2[i]))
        .collect();
    let mean = here.iter().sum::<f64>() / here.len() as f64;
    let size: Vec<f64> = here.iter().map(|a| (a - mean).abs()).collect();
    let rms = (size.iter().map(|a| a * a).sum::<f64>() / size.len() as f64).sqrt();
    let p95 = percentile(&size, 95.0)
        .ok_or_else(|| NotMeasured::because("the bike never rolls here while both sensors are logged"))?;
    Ok(([rms, p95], size.len()))
}
