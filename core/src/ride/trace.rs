//! The time series of a run, by name.

use serde::{Deserialize, Serialize};

use crate::align::{Aligned, Grid};
use crate::role::{Axis, End, Place, Role};

/// One time series of a run, in SI, on the run's grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Trace {
    /// A calibrated channel as it is.
    Logged(Role),
    /// Axle speed, m/s, + compression.
    AxleSpeed(End),
    /// Travel below 0.5 Hz: the ride height as it drifts, m.
    RideHeight(End),
    /// Bike speed, m/s.
    Speed,
    /// Slip of a wheel, 1 - its speed / bike speed: 0 rolling, 1 locked. Missing where it is not measured.
    Slip(End),
    /// Pitch against the ground chord, rad, + nose down.
    ChordPitch,
    /// Heave, m, + down.
    Heave,
    /// Pitch against the horizon, rad, + nose down.
    Pitch,
    /// Lean, rad, + right.
    Roll,
    /// Heading since the start, rad, + left.
    Yaw,
    /// Turn rate about the earth's vertical, rad/s, + left.
    YawRate,
}

impl Trace {
    /// Travel of one end.
    pub const fn travel(end: End) -> Self {
        Self::Logged(Role::Travel(end))
    }

    /// Frame pitch rate, which the gyro's y axis is, + nose down.
    pub const PITCH_RATE: Self = Self::Logged(Role::Gyro(Place::Frame, Axis::Y));
}

/// All time series of a run on one grid; a missing sample is NaN.
#[derive(Clone, Debug, PartialEq)]
pub struct Traces {
    logged: Aligned,
    derived: Vec<(Trace, Vec<f32>)>,
}

impl Traces {
    pub(super) fn new(logged: Aligned) -> Self {
        Self { logged, derived: Vec::new() }
    }

    pub(super) fn push(&mut self, trace: Trace, samples: Vec<f32>) {
        debug_assert_eq!(samples.len(), self.grid().len);
        self.derived.push((trace, samples));
    }

    /// The grid that all share.
    pub fn grid(&self) -> Grid {
        self.logged.grid
    }

    /// The logged channels.
    pub fn logged(&self) -> &Aligned {
        &self.logged
    }

    /// The samples of a trace, if the run has it.
    pub fn get(&self, trace: Trace) -> Option<&[f32]> {
        match trace {
            Trace::Logged(role) => self.logged.get(role).map(|channel| channel.samples.as_slice()),
            _ => {
                self.derived.iter().find(|(known, _)| *known == trace).map(|(_, samples)| samples.as_slice())
            }
        }
    }

    /// Every trace: first the logged ones, then what was derived from them.
    pub fn iter(&self) -> impl Iterator<Item = (Trace, &[f32])> {
        let logged =
            self.logged.iter().map(|(role, channel)| (Trace::Logged(role), channel.samples.as_slice()));
        logged.chain(self.derived())
    }

    /// What was derived from the logged channels.
    pub fn derived(&self) -> impl Iterator<Item = (Trace, &[f32])> {
        self.derived.iter().map(|(trace, samples)| (*trace, samples.as_slice()))
    }
}
