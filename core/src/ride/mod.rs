//! What the bike did: from aligned channels to traces and their read-out.

mod analysis;
mod attitude;
mod axle_speed;
mod basis;
mod bench_bounce;
mod brakes;
mod bridge;
mod contact;
mod corners;
mod dive;
mod doubts;
mod evenness;
mod free_rebound;
mod hands;
mod harshness;
mod hit_pairs;
mod hits;
mod kick;
mod level;
mod lock_up;
mod motion_smoother;
mod mounting;
mod packing;
mod push;
mod rebound;
mod recovery;
mod rider;
mod rolling;
mod section;
mod shake;
mod spectra;
mod speed;
mod strapdown;
mod trace;
mod travel;
mod vibration;
mod wheel;
mod wheel_doubts;
mod wheel_slip;
mod wheelbase_lag;

pub use analysis::{Cancelled, Ride, SectionRange, Stage, align_run, analyse};
pub use attitude::Attitude;
pub use axle_speed::AxleSpeedReadout;
pub use bench_bounce::BenchBounceReadout;
pub use brakes::{
    ApplicationReadout, BrakeReadout, BrakesReadout, DragReadout, ResidualReadout, ZeroReadout, usual_peak_pa,
};
pub use contact::ContactReadout;
pub use corners::{Corner, CornerEnd};
pub use dive::{Dive, DiveReadout};
pub use doubts::Doubt;
pub use evenness::EvennessReadout;
pub use hit_pairs::{HitPair, HitPairsReadout};
pub use level::{PitchAgreement, chord_pitch_rad, heave_m, pitch_agreement};
pub use lock_up::{SlipEpisode, SlipKind, WheelReadout};
pub use mounting::find_mount;
pub use packing::PackingReadout;
pub use push::Push;
pub use rebound::ReboundReadout;
pub use recovery::{Recovery, RecoveryByStroke, RecoveryReadout};
pub use rider::RiderReadout;
pub use shake::LateralReadout;
pub use spectra::SpectraReadout;
pub use speed::{SpeedSource, distance_m};
pub use trace::{Trace, Traces};

pub use travel::TravelReadout;
pub use vibration::{
    HAND_ARM_ACTION_MPS2, HAND_ARM_BAND_HZ, HAND_ARM_LIMIT_MPS2, SHOCKS_CREST_FACTOR, Vibration,
    VibrationInput, VibrationReadout, WHOLE_BODY_BAND_HZ,
};

/// Order of the filters that take bumps out (Butterworth, zero-phase).
const BAND_ORDER: usize = 4;
pub(crate) use brakes::applications;
pub(crate) use doubts::unfit;
