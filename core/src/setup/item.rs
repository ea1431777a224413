//! What a set-up sheet asks for.

use serde::{Deserialize, Serialize};

use super::SheetUnit;
use crate::role::End;

/// What can be set or is measured at one end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Air pressure, or rate of a coil.
    Spring,
    /// Pieces that take room in an air spring.
    VolumeSpacers,
    /// Compression damping at low speed, or all of it.
    SlowCompression,
    /// Compression damping at high speed.
    FastCompression,
    /// Rebound damping at low speed, or all of it.
    Rebound,
    /// Rebound damping at high speed, from deep hits.
    FastRebound,
    /// Tyre pressure.
    TyrePressure,
    /// Travel used with the rider aboard: measured, it follows what is set.
    Sag,
}

/// A line of the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Item {
    /// At one end.
    At(End, Part),
    /// How high the bars are.
    BarHeight,
}

impl Part {
    /// All, in the order of the sheet.
    pub const ALL: [Self; 8] = [
        Self::Spring,
        Self::VolumeSpacers,
        Self::SlowCompression,
        Self::FastCompression,
        Self::Rebound,
        Self::FastRebound,
        Self::TyrePressure,
        Self::Sag,
    ];

    /// In the trade's words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Spring => "spring",
            Self::VolumeSpacers => "volume spacers",
            Self::SlowCompression => "slow compression",
            Self::FastCompression => "fast compression",
            Self::Rebound => "rebound",
            Self::FastRebound => "fast rebound",
            Self::TyrePressure => "tyre pressure",
            Self::Sag => "sag",
        }
    }

    /// What is to be written there, in a sentence.
    pub fn explanation(self) -> &'static str {
        match self {
            Self::Spring => "Air pressure, or the rate of a coil.",
            Self::VolumeSpacers => {
                "Pieces in the air spring: more of them make it firmer deep in the travel."
            }
            Self::SlowCompression => {
                "Clicks from fully closed. Works when the end goes in slowly: braking, pushing, berms. Use this line if there is one compression adjuster."
            }
            Self::FastCompression => {
                "Clicks from fully closed. Works when the end goes in fast: bumps and landings."
            }
            Self::Rebound => {
                "Clicks from fully closed. How fast the end comes back out. Use this line if there is one rebound adjuster."
            }
            Self::FastRebound => {
                "Clicks from fully closed. How fast the end comes back from deep, hard hits."
            }
            Self::TyrePressure => "Cold, by the same gauge each time.",
            Self::Sag => "Share or length of travel used with the rider standing on the bike.",
        }
    }

    /// The units it can be typed in, the usual one first.
    pub fn units(self) -> &'static [SheetUnit] {
        match self {
            Self::Spring => {
                &[SheetUnit::Bar, SheetUnit::Psi, SheetUnit::NewtonPerMillimetre, SheetUnit::PoundPerInch]
            }
            Self::VolumeSpacers => &[SheetUnit::Piece],
            Self::TyrePressure => &[SheetUnit::Bar, SheetUnit::Psi],
            Self::Sag => &[SheetUnit::Percent, SheetUnit::Millimetre],
            _ => &[SheetUnit::Click],
        }
    }
}

impl Item {
    /// All, in the order of the sheet.
    pub fn all() -> impl Iterator<Item = Self> {
        let ends = [End::Front, End::Rear].into_iter();
        ends.flat_map(|end| Part::ALL.map(|part| Self::At(end, part))).chain([Self::BarHeight])
    }

    /// In the trade's words, in lower case.
    pub fn name(self) -> String {
        match self {
            Self::At(End::Front, part) => format!("front {}", part.name()),
            Self::At(End::Rear, part) => format!("rear {}", part.name()),
            Self::BarHeight => "bar height".to_owned(),
        }
    }

    /// The units it can be typed in, the usual one first.
    pub fn units(self) -> &'static [SheetUnit] {
        match self {
            Self::At(_, part) => part.units(),
            Self::BarHeight => &[SheetUnit::Millimetre, SheetUnit::Inch],
        }
    }

    /// What a larger number means on the bike, or a smaller one.
    pub fn meaning(self, larger: bool) -> &'static str {
        let [less, more] = match self {
            Self::At(_, Part::Spring) => ["softer", "firmer"],
            Self::At(_, Part::VolumeSpacers) => ["softer deep in the travel", "firmer deep in the travel"],
            Self::At(_, Part::SlowCompression) => [
                "firmer: goes in more slowly when braked or pushed",
                "lighter: goes in more freely when braked or pushed",
            ],
            Self::At(_, Part::FastCompression) => {
                ["firmer: takes hard hits more stiffly", "lighter: gives way more to hard hits"]
            }
            Self::At(_, Part::Rebound) => ["slower: comes back out later", "faster: comes back out sooner"],
            Self::At(_, Part::FastRebound) => {
                ["slower: comes back later from deep hits", "faster: comes back sooner from deep hits"]
            }
            Self::At(_, Part::TyrePressure) => ["softer tyre", "harder tyre"],
            Self::At(_, Part::Sag) => ["sits higher", "sits lower"],
            Self::BarHeight => {
                ["bars lower, more weight on the front", "bars higher, less weight on the front"]
            }
        };
        if larger { more } else { less }
    }
}
