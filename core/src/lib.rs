//! Analysis of a downhill bike's logged sensors: from a logger's text file to a read-out.
//!
//! Data goes one way through the crate, and the modules stand in that order: [`import`] reads text,
//! [`calibrate`] turns raw numbers into SI, [`align`] brings all channels onto one clock and grid,
//! [`signal`] holds the generic tools, [`ride`] says what the bike did, [`track`] where on the track it did
//! it, [`decide`] whether a change made a difference, [`setup`] which change that was, and [`findings`] what is
//! wrong and what to try. [`analyse`] takes one run as far as [`track`]. [`handover`] is what leaves and what comes
//! back: day files, sealed or not, links and remarks.
//!
//! ```
//! use std::sync::Arc;
//! use evenkeel_core::ride::Trace;
//! use evenkeel_core::{Day, End, Log, RunSheet, analyse_now, import};
//!
//! // Half a minute of a bike that rolls at 8 m/s over waves three metres long, the rear a wheelbase behind.
//! let mut text = "time [s],fork travel [mm],rear travel [mm],front wheel speed [m/s],rear brake [bar]\n".to_owned();
//! for i in 0..7500 {
//!     let t = f64::from(i) / 250.0;
//!     let wave = |t: f64| 50.0 + 20.0 * (std::f64::consts::TAU * 8.0 * t / 3.0).sin();
//!     let (speed, brake) = (8.0 + 0.01 * (9.0 * t).sin(), if t % 10.0 < 2.0 { 6.0 } else { 0.0 });
//!     let brake = brake + 0.02 * (70.0 * t).sin();
//!     text += &format!("{t:.3},{:.2},{:.2},{speed:.3},{brake:.3}\n", wave(t), wave(t - 1.25 / 8.0));
//! }
//! let sources: Vec<_> = import::read("waves.csv", text.as_bytes())?.parts.into_iter().map(Arc::new).collect();
//!
//! // A day says what no log can: the bike, the runs, how each file is read (here: as it looks).
//! let logs = vec![Log { file: "waves.csv".to_owned(), ..Log::default() }];
//! let day = Day { runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
//!
//! let ride = analyse_now(&day, &day.runs[0], &sources);
//! let run = &ride.readout.sections[0];
//! assert!((run.front.travel.ride_height_m.get()? - 0.050).abs() < 1e-3);
//! assert!((run.distance_m.get()? - 240.0).abs() < 1.0);
//! // Both ends do the same on the same ground, though not at the same time.
//! assert!((run.level.hit_pairs.hit_ratio.get()? - 1.0 / 63_f64.to_radians().sin()).abs() < 0.02);
//! assert!((run.brakes.rear.area_pa_s.get()? - 3.0 * 2.0 * 6e5).abs() < 0.05 * 36e5);
//! // What cannot be measured says why.
//! assert_eq!(run.lateral.shake_rms_mps2.get().unwrap_err().0, "no frame acceleration y is logged");
//!
//! let traces = ride.traces.expect("four channels are enough");
//! assert_eq!(traces.get(Trace::travel(End::Front)).map(<[f32]>::len), Some(7500));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![warn(missing_docs)]

pub mod import;

pub mod calibrate;

pub mod align;

pub mod signal;

pub mod ride;

pub mod track;

pub mod decide;

pub mod findings;
pub mod setup;

pub mod handover;

mod bike;
mod channel;
mod day;
mod geodesy;
mod grouped;
mod landmark;
mod measured;
mod readout;
mod role;
mod rotation;
mod run;
mod source;
mod unit;

pub use bike::{Bike, ResidualAllowance, Wheel};
pub use channel::{Calibration, Channel, Curve, Profile};
pub use day::{Day, Film, Log, MarkedMoment, RunSheet, Video};
pub use geodesy::LocalPlane;
pub use landmark::{Landmark, Sight, landmarks};
pub use measured::{Measured, NotMeasured};
pub use readout::{
    AttitudeReadout, ChannelReadout, EndReadout, Flight, LevelReadout, Readout, RunReadout, SectionReadout,
    SourceReadout,
};
pub use role::{Axis, End, Place, Role, UnknownRole};
pub use run::{analyse, analyse_now, locate};
pub use source::{Column, Report, Source};
pub use unit::{Quantity, STANDARD_GRAVITY, Unit};
