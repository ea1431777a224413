//! Tools of the outside tests: a bridge to Python's reference libraries, a browser, other engines, a video, runs of the
//! demo, simulated rides and their logs, odd days, long logs for the benches, and the numbers of a read-out by name.
#![warn(missing_docs)]

pub mod browser;
pub mod clip;
pub mod demo_run;
pub mod engine;
pub mod logged;
pub mod long_log;
pub mod numbers;
pub mod odd;
pub mod python;
pub mod simulated;
