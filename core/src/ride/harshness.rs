//! How much of the ground reaches the frame.

use std::ops::Range;

use super::basis::Basis;
use crate::measured::{Measured, NotMeasured};
use crate::role::{Axis, End, Place, Role};

/// What hands and feet feel as harsh, Hz.
const BAND_HZ: [f64; 2] = [5.0, 25.0];

/// Harshness: what the frame feels for what the axles do.
pub struct Harshness(Result<Vec<f32>, NotMeasured>);

impl Harshness {
    /// Prepares a run.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self(basis.in_band(Role::Accel(Place::Frame, Axis::Z), BAND_HZ))
    }

    /// RMS of the frame's vertical acceleration, 5-25 Hz, over RMS of one end's axle speed, while rolling on
    /// the ground in a section, 1/s: more where the suspension passes on more of what its wheel does. One
    /// frame stands over both axles, so each end's figure feels the other end too.
    pub fn per_s(&self, basis: &Basis<'_>, end: End, section: &Range<usize>) -> Measured {
        match self.ratio(basis, end, section) {
            Ok((ratio, n)) => Measured::value(ratio).with_n(n),
            Err(reason) => Measured::not(reason),
        }
    }

    fn ratio(
        &self,
        basis: &Basis<'_>,
        end: End,
        section: &Range<usize>,
    ) -> Result<(f64, usize), NotMeasured> {
        let frame = self.0.as_ref().map_err(Clone::clone)?;
        let axle = basis.axle_speed_mps(end)?;
        let judged = |&i: &usize| basis.grounded[i] && !frame[i].is_nan() && !axle[i].is_nan();
        let (n, frame, axle) = section.clone().filter(judged).fold((0, 0.0, 0.0), |(n, f, a), i| {
            (n + 1, f + f64::from(frame[i]).powi(2), a + f64::from(axle[i]).powi(2))
        });
        if axle > 0.0 {
            Ok(((frame / axle).sqrt(), n))
        } else {
            Err(NotMeasured::because("the bike never rolls on the ground here while both are logged"))
        }
    }
}
