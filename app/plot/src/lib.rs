//! Lines of many samples as pixels: exact extremes at every zoom, no browser in it.
//!
//! ```text
//! Pyramid   minima and maxima of blocks of samples, made once
//! Columns   what the line through the samples covers of each column of pixels
//! Raster    the pixels, and how a line is painted into them
//! ticks     round values and times for the scales
//! ```

mod columns;
mod extremes;
mod line;
mod pyramid;
mod raster;
mod ticks;

pub use columns::Columns;
pub use line::{Dash, Line, Stroke};
pub use pyramid::Pyramid;
pub use raster::{Color, Raster};
pub use ticks::{ticks, time_ticks};
