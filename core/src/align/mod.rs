//! Clocks: every logger file and every video keeps its own; here they are brought onto the day's.

mod aligned;
mod anchors;
mod clock;
mod frame_rate;
mod frames;
mod gps_speed;
mod grid;
mod lag;
mod line;
pub mod moment;
mod shared;

pub use aligned::{Aligned, AlignedChannel, Part};
pub use anchors::{Anchor, AnchorError, Mapping, fit};
pub use clock::Clock;
pub use frame_rate::FrameRate;
pub use frames::Frames;
pub use grid::Grid;
pub use lag::{Lag, Recording, WindowLag, lag};
pub use moment::{Moment, TimeTextError};
pub use shared::{ClockMatch, match_clock};
