//! The invented demo day at Harrowdean Bank.
//!
//! A physical model, not drawn curves: a bike in its pitch plane ([`plane`]) with springs and dampers
//! ([`suspension`], [`bike`]), wheels that spin on tyres that slip ([`wheel`]), brakes ([`brake`]) and a rider on it
//! ([`rider`]) rolls down a track ([`track`]) over rough ground ([`ground`]), shoved about by its cross slopes
//! ([`sideways`]), at the speed that slope, drag and the rider's hands allow ([`pace`], [`habit`], [`push`]). [`ride`]
//! moves it through time and keeps the [`truth`]; [`attitude`] adds what happens in space; [`sensor`] and [`logger`]
//! turn it into text; [`day`] strings six such runs into a story, and [`written`] is what its owner has of it.
//!
//! As a test of an analysis: [`fault`] puts known faults into runs and loggers, [`variation`] makes other bikes, riders
//! and tracks, apart by purpose, [`bench`] bounces a bike whose damping ratio is known, and [`archive`] rides earlier
//! days of one setup.
//!
//! ```
//! let plan = &evenkeel_demo_data::day::plans()[0];
//! let mut run = plan.run();
//! run.bike.shock.friction_n *= 2.0; // whatever is to be different
//! run.until_s = 1.0;
//! assert!(run.ride().front_travel_m[0] > 0.02);
//! ```
#![warn(missing_docs)]

pub mod archive;
pub mod attitude;
pub mod bench;
pub mod bike;
pub mod brake;
pub mod camera;
pub mod day;
pub mod fault;
pub mod ground;
pub mod habit;
pub mod logger;
pub mod pace;
pub mod plane;
pub mod push;
pub mod random;
pub mod ride;
pub mod rider;
pub mod sensor;
pub mod sideways;
pub mod suspension;
pub mod track;
pub mod truth;
pub mod variation;
pub mod wheel;
pub mod written;
