//! From what the rider says to what can show it: rows of traces, findings, numbers of the sections.

use evenkeel_core::findings::FindingKind as Kind;
use evenkeel_core::{Measured, SectionReadout, Unit};
use serde::{Deserialize, Serialize};

/// A number of a section that is nearest to what a rider means.
#[derive(Clone, Copy)]
pub struct Nearest {
    pub name: &'static str,
    /// None for a share, shown in percent.
    pub unit: Option<Unit>,
    pub of: fn(&SectionReadout) -> &Measured,
}

const fn nearest(name: &'static str, unit: Option<Unit>, of: fn(&SectionReadout) -> &Measured) -> Nearest {
    Nearest { name, unit, of }
}

/// What a rider may say of the bike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Complaint {
    Harsh,
    Dives,
    Kicks,
    PushesWide,
    HangsLow,
    SitsSideways,
    BrakesOdd,
    ArmsTired,
}

/// One complaint: its words, the rows that can show it, what to look for in them.
struct Entry {
    words: &'static str,
    /// Keys of rows, in the order in which they are to be read.
    rows: &'static [&'static str],
    look_for: &'static str,
    /// Findings that bear it out.
    findings: &'static [Kind],
    /// Where along the track it is most: the larger, the more.
    nearest: &'static [Nearest],
    /// What no sensor here decides.
    undecided: Option<&'static str>,
    /// What riders say when they mean this, in lower case; each is met at the start of a word.
    said: &'static [&'static str],
}

impl Complaint {
    pub const ALL: [Self; 8] = [
        Self::Harsh,
        Self::Dives,
        Self::Kicks,
        Self::PushesWide,
        Self::HangsLow,
        Self::SitsSideways,
        Self::BrakesOdd,
        Self::ArmsTired,
    ];

    /// Common practice of the trade, all of it; which row shows what is no more than where to look.
    fn entry(self) -> Entry {
        match self {
            Self::Harsh => Entry {
                words: "harsh in small bumps",
                rows: &["axle_speed", "vertical", "axle_vertical", "travel"],
                look_for: "Look for small bumps that shake frame and bar while travel hardly moves: sharp vertical peaks over short, slow axle strokes.",
                findings: &[Kind::TooFirm, Kind::ReboundTooSlow],
                nearest: const {
                    &[
                        nearest("front harshness", Some(Unit::Raw), |s| &s.front.harshness_per_s),
                        nearest("rear harshness", Some(Unit::Raw), |s| &s.rear.harshness_per_s),
                    ]
                },
                undecided: None,
                said: &["harsh", "small bumps", "stutter", "no grip in the chatter", "beats me up"],
            },
            Self::Dives => Entry {
                words: "dives",
                rows: &["travel", "brakes", "pitch", "ride_height", "speed"],
                look_for: "Look at the moment the front brake comes on: how far front travel and nose-down pitch go with the pressure, and whether they stay there without a bump.",
                findings: &[Kind::Dives, Kind::TooSoft],
                nearest: const { &[nearest("dive, median", Some(Unit::Millimetre), |s| &s.dive.rise_m)] },
                undecided: None,
                said: &["dive", "diving", "nose down", "nosedive"],
            },
            Self::Kicks => Entry {
                words: "kicks",
                rows: &["axle_speed", "travel", "turn_rate", "vertical"],
                look_for: "Look right behind a big rear stroke: rear axle speed far to the minus side, and the pitch rate jumping to nose down with it.",
                findings: &[Kind::ReboundTooFast, Kind::EndsUneven, Kind::UnevenHit],
                nearest: const {
                    &[nearest("kick, 95 %", Some(Unit::DegreePerSecond), |s| &s.level.kick_p95_radps)]
                },
                undecided: None,
                said: &["kick", "bucks", "bucking", "throws me", "over the bars"],
            },
            Self::PushesWide => Entry {
                words: "pushes wide",
                rows: &["lean", "turn_rate", "speed", "sideways", "travel", "brakes"],
                look_for: "Look in the corner for lean and speed without the turn rate that should go with them, and for a front that rides higher than the rear there.",
                findings: &[Kind::EndsUneven, Kind::TooFirm, Kind::TooSoft],
                nearest: const {
                    &[nearest("front less rear ride height, of travel", None, |s| {
                        &s.level.ride_height_offset_share
                    })]
                },
                undecided: Some(
                    "Nothing logged says where the front tyre slides: these rows show what the bike did, the video shows the line.",
                ),
                said: &["wide", "understeer", "washes out", "front slides", "won't turn", "does not turn"],
            },
            Self::HangsLow => Entry {
                words: "hangs low",
                rows: &["travel", "ride_height", "axle_speed", "pitch"],
                look_for: "Look in a train of bumps for an end that does not come back before the next hit, so that its ride height sinks from bump to bump.",
                findings: &[Kind::ReboundTooSlow, Kind::TooSoft, Kind::RideHeightDrifts],
                nearest: const {
                    &[
                        nearest("front not recovered", None, |s| &s.front.recovery.all.not_recovered_share),
                        nearest("rear not recovered", None, |s| &s.rear.recovery.all.not_recovered_share),
                    ]
                },
                undecided: None,
                said: &["low", "packs", "packing", "sinks", "wallow", "sags", "does not come back"],
            },
            Self::SitsSideways => Entry {
                words: "sits sideways",
                rows: &["sideways", "lean", "turn_rate", "travel"],
                look_for: "Look on a straight for sideways acceleration and turn rate that come and go while lean stays small.",
                findings: &[Kind::Shakes, Kind::ReboundTooFast],
                nearest: const {
                    &[nearest("sideways shake", Some(Unit::MetrePerSecondSquared), |s| {
                        &s.lateral.shake_rms_mps2
                    })]
                },
                undecided: Some(
                    "Nothing logged measures the angle between bike and path: shake and turning of the frame are the nearest to it.",
                ),
                said: &["sideways", "steps out", "snakes", "wobble", "nervous"],
            },
            Self::BrakesOdd => Entry {
                words: "brakes feel odd",
                rows: &["brakes", "speed", "wheel_speed", "slip", "travel"],
                look_for: "Look for pressure while the lever should be off, pressure that stays long and light, both brakes at different times, and a wheel that slows far below the bike.",
                findings: &[
                    Kind::BrakeResidual,
                    Kind::BrakeDragged,
                    Kind::RearLocks,
                    Kind::BrakeInNoBrakeSection,
                ],
                nearest: const {
                    &[
                        nearest("front dragged", Some(Unit::Second), |s| &s.brakes.front.drag_s),
                        nearest("rear dragged", Some(Unit::Second), |s| &s.brakes.rear.drag_s),
                    ]
                },
                undecided: None,
                said: &[
                    "brakes feel",
                    "brake feels",
                    "brakes odd",
                    "brakes fade",
                    "lever",
                    "brakes are",
                    "no brakes",
                    "spongy",
                ],
            },
            Self::ArmsTired => Entry {
                words: "arms tired",
                rows: &["vertical", "axle_speed", "travel", "brakes"],
                look_for: "Look at the bar against the frame: long stretches of strong vertical shake at the bar, a fork that works slowly or little there, a brake dragged along.",
                findings: &[Kind::TooFirm, Kind::BrakeDragged, Kind::ReboundTooSlow, Kind::EndsUneven],
                nearest: const {
                    &[nearest("vibration at the hands", Some(Unit::MetrePerSecondSquared), |s| {
                        &s.vibration.hand_arm_rms_mps2
                    })]
                },
                undecided: None,
                said: &["arms", "arm pump", "forearm", "my hands", "hands hurt", "grip is gone"],
            },
        }
    }

    /// As riders say it.
    pub fn words(self) -> &'static str {
        self.entry().words
    }

    /// Keys of the rows that can show it.
    pub fn rows(self) -> &'static [&'static str] {
        self.entry().rows
    }

    /// What to look for in them, in a sentence.
    pub fn look_for(self) -> &'static str {
        self.entry().look_for
    }

    /// Findings that bear it out.
    pub fn findings(self) -> &'static [Kind] {
        self.entry().findings
    }

    /// Numbers of the sections that are nearest to it.
    pub fn nearest(self) -> &'static [Nearest] {
        self.entry().nearest
    }

    /// What cannot be decided from any log of this bike.
    pub fn undecided(self) -> Option<&'static str> {
        self.entry().undecided
    }

    /// Every one, first what the rider's own words plainly name.
    pub fn offered(rider_said: &str) -> Vec<(Self, bool)> {
        let mut offered = Self::ALL.map(|complaint| (complaint, complaint.is_said(rider_said)));
        offered.sort_by_key(|(_, said)| !said);
        offered.into()
    }

    fn is_said(self, rider_said: &str) -> bool {
        let text = rider_said.to_lowercase();
        let starts_word = |at: usize| !text[..at].chars().next_back().is_some_and(char::is_alphanumeric);
        self.entry().said.iter().any(|said| text.match_indices(said).any(|(at, _)| starts_word(at)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sentences invented for the purpose.
    #[test]
    fn what_the_rider_said_is_offered_first() {
        let said = |text| {
            let offered = Complaint::offered(text);
            assert_eq!(offered.len(), Complaint::ALL.len());
            offered.into_iter().filter(|(_, said)| *said).map(|(complaint, _)| complaint).collect::<Vec<_>>()
        };
        assert_eq!(said("Back end feels dead, it gets lower and lower."), [Complaint::HangsLow]);
        assert_eq!(
            said("Beats my hands in the rocks. Steers WIDE in the left."),
            [Complaint::PushesWide, Complaint::ArmsTired]
        );
        assert_eq!(said("It dives into the corner"), [Complaint::Dives]);
        // A word within another is not that word: slow is not low, braking bumps are no brakes that feel odd.
        assert!(said("A bit slow in the braking bumps, that is the bike.").is_empty());
        assert!(said("").is_empty());
    }
}
