//! What a finding is made of.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::limits::Limit;
use crate::ride::Doubt;
use crate::role::{End, Role};

/// What is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// A channel does what no bike does; what depends on it stays silent.
    SensorDoubt,
    /// A wheel locks, and stays locked.
    RearLocks,
    /// Pressure with the lever off, more than the owner allows.
    BrakeResidual,
    /// Braking where nobody should.
    BrakeInNoBrakeSection,
    /// A brake held lightly for long.
    BrakeDragged,
    /// An end sinks through the run.
    RideHeightDrifts,
    /// An end comes back too fast.
    ReboundTooFast,
    /// An end does not come back before the next hit.
    ReboundTooSlow,
    /// An end hangs too deep, or hits its end too often.
    TooSoft,
    /// An end does not use its travel.
    TooFirm,
    /// The ends make different things of the same bumps.
    EndsUneven,
    /// The ends made different things of one big bump.
    UnevenHit,
    /// The fork dives under the brake.
    Dives,
    /// The frame shakes sideways though rebound is in order.
    Shakes,
}

/// As it is written.
impl fmt::Display for FindingKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(f)
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What.
    pub kind: FindingKind,
    /// At which end, if at one.
    pub end: Option<End>,
    /// The section it is in; `run` is the whole run.
    pub section: String,
    /// Moments that show it, the plainest first, for jumping there; none where only the whole section does.
    pub moments: Vec<Moment>,
    /// One sentence that a rider understands.
    pub statement: String,
    /// The numbers behind it, the deciding one first.
    pub evidence: Vec<Evidence>,
    /// How sure, and what that is made of.
    pub confidence: Confidence,
    /// What to do about it.
    pub advice: Advice,
    /// The channel and the doubt, of a sensor doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<DoubtedChannel>,
}

/// A stretch of the run, on its clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// Its start, s.
    pub start_s: f64,
    /// Its end, s.
    pub end_s: f64,
}

/// A channel of a file, and what is doubtful about it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DoubtedChannel {
    /// File name.
    pub source: String,
    /// Header in the file.
    pub header: String,
    /// What it is taken for.
    pub role: Role,
    /// The doubt.
    pub doubt: Doubt,
}

/// What a number of the evidence is, which says in what unit it stands and how it is best shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// How often.
    Count,
    /// Share of a whole, 0..1.
    Share,
    /// One number over another of its kind.
    Ratio,
    /// m
    Length,
    /// s
    Time,
    /// Pa
    Pressure,
    /// m/s^2
    Acceleration,
    /// 1/s
    PerSecond,
    /// m per minute
    LengthPerMinute,
    /// m/Pa
    LengthPerPressure,
}

/// One number behind a finding, SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// What it is, in words.
    pub what: String,
    /// What that means, where the words alone do not say it; for hover or tap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meaning: Option<String>,
    /// In what unit.
    pub measure: Measure,
    /// The number.
    pub value: f64,
    /// Its 95 % interval, where it has one.
    pub interval: Option<[f64; 2]>,
    /// Events or samples it rests on.
    pub n: Option<usize>,
    /// What the owner's earlier runs show.
    pub usual: Option<f64>,
    /// What it was judged by.
    pub limit: Option<Judged>,
}

/// The limit a number was judged by.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The row of the table of limits.
    pub by: Limit,
    /// Where the limit lay for this number, in the number's own unit.
    pub at: f64,
}

/// How sure a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// Something points to it.
    Hint,
    /// Probably.
    Likely,
    /// Beyond doubt, as far as sensors go.
    Clear,
}

/// How sure, and what that is made of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Confidence {
    /// In one word.
    pub level: Certainty,
    /// The deciding number's way from what is usual (or nothing) as a multiple of the limit's; 1 is at the limit.
    pub times_limit: f64,
    /// Whether the whole interval of the deciding number lies beyond the limit; `None` without one.
    pub interval_beyond: Option<bool>,
    /// Events that the deciding number rests on.
    pub events: Option<usize>,
    /// Names of the earlier runs it was compared with; none where there are none.
    pub compared_with: Vec<String>,
    /// What is doubtful about the channels that it was read from.
    pub sensors: Vec<String>,
}

/// What to do, what else it may be, and how the next run tells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// One smallest step, or none.
    pub step: Step,
    /// What else could cause it.
    pub other_causes: Vec<String>,
    /// What the next run should show if it is right.
    pub next_run: String,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// The usual remedy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// The one adjustment that is proposed.
    Adjust(Adjustment),
    /// One of these, not more.
    OneOf(Vec<Adjustment>),
    /// It would be adjusted, but another finding comes first: one change at a time.
    Later(Vec<Adjustment>),
    /// Nothing to adjust: something to look at, to repair, to set.
    Inspect(String),
    /// Nothing to adjust: the rider's doing.
    Ride(String),
}

impl Step {
    /// One step of one adjuster.
    pub fn turn(adjuster: Adjuster, end: End, direction: Direction) -> Self {
        Self::Adjust(Adjustment { adjuster, end, direction })
    }
}

/// What is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Adjuster {
    /// Rebound damping.
    Rebound,
    /// Slow compression damping.
    SlowCompression,
    /// Air pressure, or the coil's rate.
    Spring,
}

/// Which way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// More damping, more pressure.
    More,
    /// Less.
    Less,
}

/// The smallest step of one adjuster.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Adjustment {
    /// What is turned.
    pub adjuster: Adjuster,
    /// At which end.
    pub end: End,
    /// Which way.
    pub direction: Direction,
}

impl Adjustment {
    /// In a mechanic's words. What one step does is learned from the owner's own archive; until then it is one step.
    pub fn words(&self) -> String {
        let end = self.end.name();
        let what = match (self.adjuster, self.direction) {
            (Adjuster::Rebound, Direction::More) => "one step slower rebound (one click in)",
            (Adjuster::Rebound, Direction::Less) => "one step faster rebound (one click out)",
            (Adjuster::SlowCompression, Direction::More) => "one step more slow compression (one click in)",
            (Adjuster::SlowCompression, Direction::Less) => "one step less slow compression (one click out)",
            (Adjuster::Spring, Direction::More) => {
                "a little more air pressure (the smallest step of the pump), or the next firmer coil"
            }
            (Adjuster::Spring, Direction::Less) => {
                "a little less air pressure (the smallest step of the pump), or the next softer coil"
            }
        };
        format!("{end}: {what}")
    }

    /// Whether both turn the same thing to different sides.
    pub fn opposes(&self, other: &Self) -> bool {
        (self.adjuster, self.end) == (other.adjuster, other.end) && self.direction != other.direction
    }
}

impl Step {
    /// The adjustments it would make.
    pub fn adjustments(&self) -> &[Adjustment] {
        match self {
            Self::Adjust(one) => std::slice::from_ref(one),
            Self::OneOf(some) | Self::Later(some) => some,
            Self::Inspect(_) | Self::Ride(_) => &[],
        }
    }

    /// Whether it proposes to turn something now.
    pub fn proposes(&self) -> bool {
        matches!(self, Self::Adjust(_) | Self::OneOf(_))
    }

    /// In words.
    pub fn words(&self) -> String {
        let list = |some: &[Adjustment], joint: &str| {
            some.iter().map(Adjustment::words).collect::<Vec<_>>().join(joint)
        };
        match self {
            Self::Adjust(one) => one.words(),
            Self::OneOf(some) => format!("one of these, not more: {}", list(some, "; or ")),
            Self::Later(some) => format!("later, one change at a time: {}", list(some, "; or ")),
            Self::Inspect(words) | Self::Ride(words) => words.clone(),
        }
    }
}
