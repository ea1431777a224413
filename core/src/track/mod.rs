//! The track under the runs: distance, where each run is on it, its sections, and where time is lost.
//!
//! One run, the reference, gives the day its [`Course`]: curvature by distance. Every other run is laid over it
//! ([`Alignment`]), so that a [`Section`] is the same stretch of ground in each.

mod alignment;
mod brake_effect;
mod by_distance;
mod course;
mod gate;
mod passage;
mod reckon;
mod run_track;
mod section;
mod splits;
mod time_lost;
mod way;

pub use alignment::{Alignment, AlignmentMethod, align};
pub use brake_effect::{BrakeEffect, BrakedRun, brake_effect};
pub use by_distance::{ByDistance, READ_STEP_M};
pub use course::{CURVATURE_WINDOW_M, Course, STEP_M};
pub use gate::Gate;
pub use passage::Passage;
pub use reckon::{Path, PathSource, dead_reckoned, gps_path};
pub use run_track::{RunDistance, RunTrack, SectionTime, Stretch, TrackReadout};
pub use section::{Mark, Section};
pub use splits::{Split, SplitPlace, read_splits, sections_from_splits};
pub use time_lost::{TimeLost, time_lost};
pub use way::{Way, WayPoint};
