//! What the bike did: from aligned channels to traces and their read-out.

mod analysis;
mod attitude;
mod axle_speed;
mod basis;
mod brakes;
mod contact;
mod doubts;
mod hits;
mod level;
mod motion_smoother;
mod mounting;
mod rolling;
mod section;
mod speed;
mod strapdown;
mod trace;
mod travel;
mod vibration;

pub use analysis::{Cancelled, Ride, SectionRange, Stage, analyse, analyse_now, analyse_sections};
pub use attitude::Attitude;
pub use axle_speed::AxleSpeedReadout;
pub use doubts::Doubt;
pub use level::{PitchAgreement, chord_pitch_rad, heave_m, pitch_agreement};
pub use mounting::find_mount;
pub use speed::{SpeedSource, distance_m};
pub use trace::{Trace, Traces};
pub use travel::TravelReadout;
pub use vibration::{
    HAND_ARM_ACTION_MPS2, HAND_ARM_BAND_HZ, HAND_ARM_LIMIT_MPS2, SHOCKS_CREST_FACTOR, Vibration,
    VibrationInput, VibrationReadout, WHOLE_BODY_BAND_HZ,
};
