//! A helmet camera: its own clock, and a person who reads times off the screen.

use crate::sensor::Clock;

/// Frames a second.
pub const FRAME_HZ: f64 = 30_000.0 / 1001.0;

/// How finely a time was typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resolution {
    /// A frame, written in milliseconds.
    Frame,
    /// A tenth of a second.
    Tenth,
    /// A second.
    Second,
}

impl Resolution {
    /// The step in seconds.
    pub fn step_s(self) -> f64 {
        match self {
            Self::Frame => 1.0 / FRAME_HZ,
            Self::Tenth => 0.1,
            Self::Second => 1.0,
        }
    }

    /// What is read off the screen: the last frame that began before it, or the rounded second.
    pub fn typed_s(self, video_s: f64) -> f64 {
        match self {
            Self::Frame => (video_s * FRAME_HZ).floor() / FRAME_HZ,
            Self::Tenth | Self::Second => (video_s / self.step_s()).round() * self.step_s(),
        }
    }

    /// As a person types it.
    pub fn text(self, typed_s: f64) -> String {
        let minutes = (typed_s / 60.0).floor();
        let seconds = typed_s - 60.0 * minutes;
        match self {
            Self::Frame => format!("{minutes:.0}:{seconds:06.3}"),
            Self::Tenth => format!("{minutes:.0}:{seconds:04.1}"),
            Self::Second => format!("{minutes:.0}:{seconds:02.0}"),
        }
    }
}

/// One event seen in the video and found in the log.
#[derive(Clone, Debug)]
pub struct Anchor {
    /// What it is.
    pub event: &'static str,
    /// Time as typed.
    pub video_text: String,
    /// The same in seconds.
    pub video_s: f64,
    /// How finely it was typed.
    pub video_resolution_s: f64,
    /// The suspension logger's clock at the event, as read off the log.
    pub log_s: f64,
    /// How finely that was read.
    pub log_resolution_s: f64,
}

/// Reads an event off video and log.
pub fn anchor(
    event: &'static str,
    true_s: f64,
    camera: &Clock,
    log: &Clock,
    resolution: Resolution,
) -> Anchor {
    const LOG_RESOLUTION_S: f64 = 0.004;
    let video_s = resolution.typed_s(camera.shown_s(true_s));
    Anchor {
        event,
        video_text: resolution.text(video_s),
        video_s: (1000.0 * video_s).round() / 1000.0,
        video_resolution_s: (10_000.0 * resolution.step_s()).round() / 10_000.0,
        log_s: ((log.shown_s(true_s) / LOG_RESOLUTION_S).round() * LOG_RESOLUTION_S * 1000.0).round()
            / 1000.0,
        log_resolution_s: LOG_RESOLUTION_S,
    }
}
