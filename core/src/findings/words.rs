//! Words that several findings share.

use super::{Certainty, Evidence, Measure};
use crate::role::End;

/// Stands beside anything that is turned or pumped.
pub const SUSPENSION_CAUTION: &str = "Stay inside the makers' limits for pressure and clicks, change one thing at a time, write down what it was, and ride slowly first.";
/// Stands beside anything about brakes.
pub const BRAKE_CAUTION: &str = "Work on brakes, and any doubt about them, is for a qualified mechanic; the makers' instructions come first.";
/// Stands beside anything that may be broken.
pub const STRUCTURE_CAUTION: &str =
    "If anything is loose, bent or cracked, do not ride on: let a qualified mechanic look at it.";

/// What an end is called by riders.
pub fn part(end: End) -> &'static str {
    match end {
        End::Front => "fork",
        End::Rear => "rear",
    }
}

/// "once" or a number of times.
pub fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        count => format!("{count} times"),
    }
}

impl Certainty {
    /// In a word or two.
    pub fn words(self) -> &'static str {
        match self {
            Self::Hint => "a hint",
            Self::Likely => "likely",
            Self::Clear => "clear",
        }
    }
}

impl Measure {
    /// A number in the unit in which riders know it.
    pub fn words(self, si: f64) -> String {
        match self {
            Self::Count => format!("{si:.0}"),
            Self::Share => format!("{:.1} %", si * 100.0),
            Self::Ratio => format!("{si:.2}"),
            Self::Length => format!("{:.0} mm", si * 1e3),
            Self::Time if si.abs() < 0.15 => format!("{:.0} ms", si * 1e3),
            Self::Time => format!("{si:.1} s"),
            Self::Pressure => format!("{:.2} bar", si / 1e5),
            Self::Acceleration => format!("{si:.2} m/s^2"),
            Self::PerSecond => format!("{si:.1} per second"),
            Self::LengthPerMinute => format!("{:.1} mm a minute", si * 1e3),
            Self::LengthPerPressure => format!("{:.1} mm/bar", si * 1e8),
        }
    }
}

impl Evidence {
    /// The number, in words.
    pub fn shown(&self) -> String {
        self.measure.words(self.value)
    }
}

/// ", where it usually is ...", or nothing.
pub fn against_usual(evidence: &Evidence) -> String {
    evidence.usual.map_or_else(String::new, |usual| format!(" (usually {})", evidence.measure.words(usual)))
}
