//! What the bike did: from aligned channels to traces and their read-out.

mod analysis;
mod attitude;
mod axle_speed;
mod basis;
mod brakes;
mod contact;
mod dive;
mod doubts;
mod hands;
mod hits;
mod level;
mod motion_smoother;
mod mounting;
mod push;
mod rider;
mod rolling;
mod section;
mod speed;
mod strapdown;
mod trace;
mod travel;
mod vibration;

pub use analysis::{Cancelled, Ride, SectionRange, Stage, analyse};
pub use attitude::Attitude;
pub use axle_speed::AxleSpeedReadout;
pub use brakes::{
    ApplicationReadout, BrakeReadout, BrakesReadout, DragReadout, ResidualReadout, ZeroReadout, usual_peak_pa,
};
pub use dive::{Dive, DiveReadout};
pub use doubts::Doubt;
pub use level::{PitchAgreement, chord_pitch_rad, heave_m, pitch_agreement};
pub use mounting::find_mount;
pub use push::Push;
pub use rider::RiderReadout;
pub use speed::{SpeedSource, distance_m};
pub use trace::{Trace, Traces};
pub use travel::TravelReadout;
pub use vibration::{
    HAND_ARM_ACTION_MPS2, HAND_ARM_BAND_HZ, HAND_ARM_LIMIT_MPS2, SHOCKS_CREST_FACTOR, Vibration,
    VibrationInput, VibrationReadout, WHOLE_BODY_BAND_HZ,
};

/// Order of the filters that take bumps out (Butterworth, zero-phase).
const BAND_ORDER: usize = 4;
