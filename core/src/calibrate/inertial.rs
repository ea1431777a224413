//! The six channels of one inertial unit.

use crate::NotMeasured;

/// Beyond the range of any part fitted to a bike (200 g, 4000 deg/s): a broken number.
const ACCEL_MAX_MPS2: f32 = 2000.0;
const GYRO_MAX_RADPS: f32 = 75.0;

/// One inertial unit on a uniform grid. NaN is a missing sample.
#[derive(Clone, Copy, Debug)]
pub struct Inertial<'a> {
    /// Specific force along x, y, z, m/s^2: +9.81 on the axis that points up at rest.
    pub accel_mps2: [&'a [f32]; 3],
    /// Rate of turn about x, y, z, rad/s, right-hand.
    pub gyro_radps: [&'a [f32]; 3],
    /// Samples per second, Hz.
    pub rate_hz: f64,
}

impl Inertial<'_> {
    /// Number of samples in each channel.
    pub fn len(&self) -> usize {
        self.accel_mps2[0].len()
    }

    /// No samples at all.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Specific force at one sample, m/s^2.
    pub(crate) fn accel_at(&self, i: usize) -> [f64; 3] {
        self.accel_mps2.map(|axis| f64::from(axis[i]))
    }

    /// Rate of turn at one sample, rad/s.
    pub(crate) fn gyro_at(&self, i: usize) -> [f64; 3] {
        self.gyro_radps.map(|axis| f64::from(axis[i]))
    }

    /// All six channels have a value at this sample, and one that a sensor can give.
    pub(crate) fn is_whole_at(&self, i: usize) -> bool {
        self.accel_mps2.iter().all(|axis| axis[i].abs() <= ACCEL_MAX_MPS2)
            && self.gyro_radps.iter().all(|axis| axis[i].abs() <= GYRO_MAX_RADPS)
    }

    /// Says why these channels cannot be used together, if so.
    pub(crate) fn check(&self) -> Result<(), NotMeasured> {
        if self.is_empty() {
            return Err(NotMeasured::because("the inertial unit logged no samples"));
        }
        if self.accel_mps2.iter().chain(&self.gyro_radps).any(|axis| axis.len() != self.len()) {
            return Err(NotMeasured::because("the inertial unit's six channels differ in length"));
        }
        if !(self.rate_hz.is_finite() && self.rate_hz > 0.0) {
            return Err(NotMeasured::because("the inertial unit's sample rate is not known"));
        }
        Ok(())
    }
}
