//! What the analysis says: the same on the screen, in `readout` and in a day file.
//!
//! Keys are snake_case with the SI unit in the name. A quantity is an object of `value`, with `n` and
//! `interval` where there is one, or `null` and a `reason` where it is not measured.

use serde::{Deserialize, Serialize};

use crate::findings::Finding;
use crate::grouped::grouped;
use crate::measured::Measured;
use crate::ride::{
    AxleSpeedReadout, BenchBounceReadout, BrakesReadout, ContactReadout, Corner, DiveReadout, Doubt,
    EvennessReadout, HitPairsReadout, LateralReadout, PackingReadout, ReboundReadout, RecoveryReadout,
    RiderReadout, SpectraReadout, TravelReadout, VibrationReadout, WheelReadout,
};
use crate::role::Role;
use crate::source::Report;
use crate::track::TrackReadout;
use crate::unit::Unit;

/// The read-out of some runs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Readout {
    /// One per run, in the day's order.
    pub runs: Vec<RunReadout>,
}

/// The read-out of one run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunReadout {
    /// Name of the run.
    pub name: String,
    /// Its files.
    pub sources: Vec<SourceReadout>,
    /// Every column of every file.
    pub channels: Vec<ChannelReadout>,
    /// Its sections; the whole run is the one named `run`.
    pub sections: Vec<SectionReadout>,
    /// How the sections of the day were found in it, and their times; `None` if the day has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub track: Option<TrackReadout>,
    /// What they mean, the most important first.
    #[serde(default)]
    pub findings: Vec<Finding>,
}

grouped! {
    /// What reading one file found.
    pub struct SourceReadout {
        /// File name.
        pub name: String,
    }
    groups {
        /// Rows, rate, gaps, warnings.
        pub report: Report,
    }
}

/// One column of a file, and what is doubtful about it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChannelReadout {
    /// File name.
    pub source: String,
    /// Header in the file.
    pub header: String,
    /// What it is taken for.
    pub role: Role,
    /// The unit it was logged in.
    pub unit: Unit,
    /// Its own rate, Hz, where it has samples.
    pub rate_hz: Option<f64>,
    /// Whether the analysis reads it: of two files that log the same it reads one.
    #[serde(default)]
    pub used: bool,
    /// Why it cannot be used, if it cannot.
    pub problem: Option<String>,
    /// Doubts about the sensor.
    pub flags: Vec<Doubt>,
}

/// One section of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionReadout {
    /// Name of the section.
    pub name: String,
    /// Its start on the run's clock, s.
    pub start_s: f64,
    /// Its end on the run's clock, s.
    pub end_s: f64,
    /// How long it took, s.
    pub time_s: f64,
    /// How far it went, m.
    pub distance_m: Measured,
    /// Fork and front axle.
    pub front: EndReadout,
    /// Shock and rear axle.
    pub rear: EndReadout,
    /// Slides and lock-ups of the front wheel.
    pub front_wheel: WheelReadout,
    /// Slides and lock-ups of the rear wheel.
    pub rear_wheel: WheelReadout,
    /// Whether the bike stays level.
    pub level: LevelReadout,
    /// Both brakes.
    pub brakes: BrakesReadout,
    /// How far the fork dives under the front brake.
    pub dive: DiveReadout,
    /// What the rider's arms do.
    pub rider: RiderReadout,
    /// Whether it shakes sideways.
    pub lateral: LateralReadout,
    /// How it lay in the world.
    pub attitude: AttitudeReadout,
    /// Flights: both wheels off the ground.
    pub airborne: Measured<Vec<Flight>>,
    /// What the rider has to take.
    pub vibration: VibrationReadout,
    /// At which frequencies axles, frame and bar move.
    pub spectra: SpectraReadout,
}

grouped! {
    /// One end over one section.
    pub struct EndReadout {
        /// Sag: median travel of the longest second or more in which this end stood still before the bike
        /// rolled, m. It is sag only if the rider was aboard.
        pub sag_m: Measured,
        /// The same as a share of full travel.
        pub sag_share: Measured,
        /// RMS of the axle's vertical acceleration about its mean while rolling, m/s^2.
        pub axle_accel_rms_mps2: Measured,
        /// 99th percentile of its magnitude about the mean while rolling, m/s^2.
        pub axle_accel_p99_mps2: Measured,
        /// Frame's vertical acceleration, 5-25 Hz, for this end's axle speed, both RMS on the ground, 1/s.
        pub harshness_per_s: Measured,
    }
    groups {
        /// Moments without load.
        pub contact: ContactReadout,
        /// Travel.
        pub travel: TravelReadout,
        /// Axle speed.
        pub axle_speed: AxleSpeedReadout,
        /// How long it takes to come back from a hit.
        pub recovery: RecoveryReadout,
        /// How fast it comes back.
        pub rebound: ReboundReadout,
        /// Whether it sinks in a train of hits.
        pub packing: PackingReadout,
        /// Damping from a bench bounce.
        pub bench_bounce: BenchBounceReadout,
    }
}

grouped! {
    /// Whether the bike stays level over one section.
    pub struct LevelReadout {
        /// RMS of pitch against the ground chord about its mean, while rolling on the ground, rad.
        pub pitch_chord_rms_rad: Measured,
        /// Pitch against the ground chord with both ends at their ride height, rad, + nose down.
        pub pitch_at_ride_height_rad: Measured,
        /// Front ride height less rear ride height, each as a share of its travel.
        pub ride_height_offset_share: Measured,
        /// RMS heave about its mean, while rolling on the ground, m.
        pub heave_rms_m: Measured,
        /// RMS frame pitch rate, 0.5-12 Hz, rad/s.
        pub pitch_rate_rms_radps: Measured,
        /// Largest nose-down pitch rate within 0.3 s after the rear starts back from a hit of 30 mm or more,
        /// rad/s: median.
        pub kick_p50_radps: Measured,
        /// The same: 95th percentile.
        pub kick_p95_radps: Measured,
        /// Frame pitch rate over rate of pitch against the chord in a bench bounce: 1 where gyro, travel
        /// sensors and geometry agree.
        pub bench_pitch_gain: Measured,
        /// Coherence of the two in a bench bounce.
        pub bench_pitch_coherence: Measured,
    }
    groups {
        /// Both ends on the same ground.
        pub evenness: EvennessReadout,
        /// Both ends on the same bumps.
        pub hit_pairs: HitPairsReadout,
    }
}

/// Attitude over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AttitudeReadout {
    /// Lean of largest magnitude, rad, + right.
    pub lean_max_rad: Measured,
    /// Corners that begin in the section, in order.
    pub corners: Measured<Vec<Corner>>,
    /// RMS pitch of the frame against the horizon about its mean, rad.
    pub pitch_rms_rad: Measured,
    /// Whether speed took the bike's own acceleration out.
    pub speed_used: bool,
}

/// One flight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flight {
    /// Take-off on the run's clock, s.
    pub start_s: f64,
    /// Landing on the run's clock, s.
    pub end_s: f64,
}
