//! Several runs of one track: what the same ground tells when it is ridden twice.

mod brake_effect;

pub use brake_effect::{BrakeEffect, BrakedRun, brake_effect};
