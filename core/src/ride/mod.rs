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
mod lock_up;
mod motion_smoother;
mod mounting;
mod rolling;
mod section;
mod speed;
mod strapdown;
mod trace;
mod travel;
mod wheel;
mod wheel_doubts;
mod wheel_slip;

pub use analysis::{Cancelled, Ride, Stage, analyse, analyse_now};
pub use attitude::Attitude;
pub use axle_speed::AxleSpeedReadout;
pub use doubts::Doubt;
pub use level::{PitchAgreement, chord_pitch_rad, heave_m, pitch_agreement};
pub use lock_up::{SlipEpisode, SlipKind, WheelReadout};
pub use mounting::find_mount;
pub use speed::SpeedSource;
pub use trace::{Trace, Traces};

pub use travel::TravelReadout;

pub(crate) use brakes::applications;
pub(crate) use doubts::unfit;
