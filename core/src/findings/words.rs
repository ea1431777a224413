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
    /// How many of the unit in which riders know it make one in SI, and that unit.
    pub fn shown(self) -> (f64, &'static str) {
        match self {
            Self::Count | Self::Ratio => (1.0, ""),
            Self::Share => (1e2, "%"),
            Self::Length => (1e3, "mm"),
            Self::Time => (1.0, "s"),
            Self::Pressure => (1e-5, "bar"),
            Self::Acceleration => (1.0, "m/s²"),
            Self::PerSecond => (1.0, "per second"),
            Self::LengthPerMinute => (1e3, "mm a minute"),
            Self::LengthPerPressure => (1e8, "mm/bar"),
        }
    }

    /// A number in the unit in which riders know it.
    pub fn words(self, si: f64) -> String {
        let (per_si, unit, digits) = self.worth(si);
        format!("{:.digits$} {unit}", si * per_si).trim_end().to_owned()
    }

    /// From one number to another, the unit said once.
    pub fn span_words(self, [low, high]: [f64; 2]) -> String {
        let (per_si, unit, digits) = self.worth(high);
        format!("{:.digits$} to {:.digits$} {unit}", low * per_si, high * per_si).trim_end().to_owned()
    }

    /// Factor and unit for a number of this size, and the digits that it is worth.
    fn worth(self, si: f64) -> (f64, &'static str, usize) {
        let digits = match self {
            Self::Time if si.abs() < 0.15 => return (1e3, "ms", 0),
            Self::Count | Self::Length => 0,
            Self::Share | Self::Time | Self::PerSecond | Self::LengthPerMinute | Self::LengthPerPressure => 1,
            Self::Ratio | Self::Pressure | Self::Acceleration => 2,
        };
        let (per_si, unit) = self.shown();
        (per_si, unit, digits)
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
