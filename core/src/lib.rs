//! Analysis of a downhill bike's logged sensors: from a logger's text file to a read-out.
//!
//! Data goes one way through the crate, and the modules stand in that order: [`import`] reads text,
//! [`calibrate`] turns raw numbers into SI, [`align`] brings all channels onto one clock and grid,
//! [`signal`] holds the generic tools, [`ride`] says what the bike did, [`track`] compares runs.
//!
//! ```
//! use std::sync::Arc;
//! use evenkeel_core::ride::{Trace, analyse_now};
//! use evenkeel_core::{Day, End, Log, RunSheet, import};
//!
//! // Ten seconds of a bike bobbing at one hertz between 40 and 60 mm, at both ends.
//! let text: String = (0..2500).fold("time [s],fork travel [mm],rear travel [mm]\n".to_owned(), |text, i| {
//!     let t = f64::from(i) / 250.0;
//!     let travel_mm = 50.0 + 10.0 * (std::f64::consts::TAU * t).sin();
//!     text + &format!("{t:.3},{travel_mm:.3},{travel_mm:.3}\n")
//! });
//! let sources: Vec<_> = import::read("bob.csv", text.as_bytes())?.parts.into_iter().map(Arc::new).collect();
//!
//! // A day says what no log can: the bike, the runs, how each file is read (here: as it looks).
//! let logs = vec![Log { file: "bob.csv".to_owned(), ..Log::default() }];
//! let day = Day { runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
//!
//! let ride = analyse_now(&day, &day.runs[0], &sources);
//! let run = &ride.readout.sections[0];
//! assert!((run.front.travel.ride_height_m.get()? - 0.050).abs() < 1e-4);
//! // What cannot be measured says why.
//! assert_eq!(run.distance_m.get().unwrap_err().0, "no speed is logged");
//!
//! let traces = ride.traces.expect("two channels are enough");
//! assert_eq!(traces.get(Trace::travel(End::Front)).map(<[f32]>::len), Some(2500));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![warn(missing_docs)]

pub mod import;

pub mod calibrate;

pub mod align;

pub mod signal;

pub mod ride;

pub mod track;

mod bike;
mod channel;
mod day;
mod measured;
mod readout;
mod role;
mod rotation;
mod source;
mod unit;

pub use bike::{Bike, Wheel};
pub use channel::{Calibration, Channel, Curve, Profile};
pub use day::{Day, Log, RunSheet, Video};
pub use measured::{Measured, NotMeasured};
pub use readout::{
    AttitudeReadout, ChannelReadout, EndReadout, Flight, LevelReadout, Readout, RunReadout, SectionReadout,
    SourceReadout,
};
pub use role::{Axis, End, Place, Role, UnknownRole};
pub use source::{Column, Report, Source};
pub use unit::{Quantity, STANDARD_GRAVITY, Unit};
