//! Every limit of the findings, in one table.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Measure;

/// Where a limit comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// A rule of the trade, without a source.
    CommonPractice,
    /// Found on a simulated bike, on runs that were kept for setting limits. Those that are used without an earlier run
    /// were tried on bikes with other springs, damper laws, masses, tyres and frames as well.
    Model,
    /// A sober guess that no source stands behind.
    OwnDefault,
}

impl Origin {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::CommonPractice => "common practice",
            Self::Model => "simulated bike",
            Self::OwnDefault => "our own default",
        }
    }
}

macro_rules! limits {
    ($($variant:ident, $key:literal, $measure:ident, $value:expr, $origin:ident, $name:literal, $sentence:literal;)*) => {
        /// A row of the table.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Limit {
            $(#[doc = $sentence] #[serde(rename = $key)] $variant,)*
        }

        impl Limit {
            /// Every row, in the order of the findings.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            fn row(self) -> (&'static str, Measure, f64, Origin, &'static str, &'static str) {
                match self {
                    $(Self::$variant => ($key, Measure::$measure, $value, Origin::$origin, $name, $sentence),)*
                }
            }
        }
    };
}

limits! {
    LockedTime, "locked_time", Time, 0.25, Model,
        "a lock-up that counts: slip of 80 % or more, for",
        "Bumps lift a braked wheel and stop it for moments; what stays locked longer than this is the brake's doing.";
    Locks, "locks", Count, 4.0, Model,
        "lock-ups in a run, from",
        "A single lock-up is no fault of bike or rider; so many in one run are a pattern.";
    NoBraking, "no_braking", Time, 0.2, OwnDefault,
        "braking in a no-brake section, from",
        "Shorter than this a finger has touched the lever; longer is braking.";
    HeldLength, "held_length", Time, 2.0, OwnDefault,
        "one pull that may be a held lever, from",
        "Braking is short and hard; a lever held for seconds drags.";
    HeldShare, "held_share", Share, 0.4, OwnDefault,
        "mean pressure of a held lever, of the usual peak, up to",
        "A long pull that stays well below how hard this brake is usually pulled is a drag, not braking.";
    Dragged, "dragged", Time, 2.5, OwnDefault,
        "dragging in a run, from",
        "Less than this in a whole run costs little; more heats the brake and loads the suspension.";
    DriftAgainstUsual, "drift_against_usual", LengthPerMinute, 2.0e-3, Model,
        "ride height sinks faster than usual, from",
        "Section by section against the earlier runs: what the ground does is then the same, what is left is the bike.";
    FrontDriftAlone, "front_drift_alone", LengthPerMinute, 3.4e-3, Model,
        "front ride height sinks through the run, without an earlier run, from",
        "Without an earlier run the track's own ups and downs are part of it: the limit is wide enough for bikes of other builds too, and passes over slow leaks.";
    RearDriftAlone, "rear_drift_alone", LengthPerMinute, 2.3e-3, Model,
        "rear ride height sinks through the run, without an earlier run, from",
        "Without an earlier run the track's own ups and downs are part of it: the limit is wide enough for bikes of other builds too, and passes over slow leaks.";
    ReboundFaster, "rebound_faster", Ratio, 1.20, Model,
        "rebound rate over the usual, from",
        "How fast an end comes back for how deep it was, against the earlier runs on the same track.";
    ReboundSlower, "rebound_slower", Ratio, 0.73, Model,
        "rebound rate over the usual, up to",
        "How fast an end comes back for how deep it was, against the earlier runs on the same track.";
    FrontSpeedRatioSlow, "front_speed_ratio_slow", Ratio, 0.6, Model,
        "front speed back over speed in, without an earlier run, up to",
        "It hangs less on springs and masses than the rebound rate, but on compression damping too: a second sign has to agree.";
    FrontOvershootSlow, "front_overshoot_slow", Share, 0.055, Model,
        "front overshoot past ride height without an earlier run, of travel, up to",
        "An end with much rebound damping creeps back to where it stands; alone it says nothing.";
    RearSpeedRatioSlow, "rear_speed_ratio_slow", Ratio, 0.445, Model,
        "rear speed back over speed in, without an earlier run, up to",
        "It hangs less on springs and masses than the rebound rate, but on compression damping too: a second sign has to agree.";
    RearOvershootSlow, "rear_overshoot_slow", Share, 0.035, Model,
        "rear overshoot past ride height without an earlier run, of travel, up to",
        "An end with much rebound damping creeps back to where it stands; alone it says nothing.";
    NotRecovered, "not_recovered", Share, 0.25, OwnDefault,
        "hits met by the next one, without an earlier run, from",
        "An end that is still down when the next hit comes has less and less travel left; it also hangs on how close the hits are.";
    EarlyTopOuts, "early_top_outs", Share, 0.02, Model,
        "hits after which the end tops out at once, from",
        "An end that flies back to full extension right after one hit in fifty throws the wheel off the ground. Some bikes in order do so too: only with shake does it count alone.";
    DeeperThanUsual, "deeper_than_usual", Share, 0.03, Model,
        "ride height deeper than usual, of travel, from",
        "Against the earlier runs on the same track, while rolling.";
    FrontSagMost, "front_sag_most", Share, 0.235, Model,
        "front sag, up to",
        "With the rider aboard a fork of a downhill bike usually stands 15 to 20 % into its travel; the room above that is the model's.";
    RearSagMost, "rear_sag_most", Share, 0.33, CommonPractice,
        "rear sag, up to",
        "With the rider aboard the rear of a downhill bike usually stands 28 to 33 % into its travel.";
    BottomOuts, "bottom_outs", Count, 8.0, OwnDefault,
        "bottom-outs in a run, from",
        "Reaching the end of travel on the biggest hit or two is what travel is for; often is too soft.";
    TravelUsed, "travel_used", Share, 0.65, OwnDefault,
        "deepest travel of a whole run, up to",
        "Travel that a whole downhill run never uses is not there.";
    HitRatioOff, "hit_ratio_off", Ratio, 0.15, CommonPractice,
        "rear over front on the same bumps, off by",
        "Both ends should make about the same of the same bump; the whole interval has to lie outside.";
    HitRatioAlone, "hit_ratio_alone", Ratio, 0.35, Model,
        "rear over front on the same bumps without an earlier run, off 1 by",
        "Bikes in order differ here, so without an earlier run only a difference counts that none of other builds showed.";
    BigHit, "big_hit", Length, 0.14, OwnDefault,
        "a big bump: both ends' strokes, from",
        "150 mm at the front and 200 mm at the rear on one big bump is an imbalance and is called one.";
    BigHitRatio, "big_hit_ratio", Ratio, 1.3, CommonPractice,
        "one end's stroke over the other's on a big bump, from",
        "150 mm at the front and 200 mm at the rear on one big bump is an imbalance and is called one.";
    DiveShare, "dive_share", Share, 0.4, OwnDefault,
        "dive under the front brake, of travel, from",
        "A fork that gives away so much of its travel to the brake alone has little left for the bump.";
    DiveOverUsual, "dive_over_usual", Ratio, 1.3, OwnDefault,
        "dive over the usual, from",
        "For the same pressure, against the earlier runs.";
    Shake, "shake", Acceleration, 1.5, OwnDefault,
        "sideways shake, median, from",
        "How much the frame shakes sideways while upright; it grows with speed and with the ground.";
    ShakeOverUsual, "shake_over_usual", Ratio, 1.35, OwnDefault,
        "sideways shake over the usual, from",
        "At like speed on the same track, against the earlier runs.";
}

impl Limit {
    /// What it goes by in a day file.
    pub fn key(self) -> &'static str {
        self.row().0
    }

    /// In what unit it stands.
    pub fn measure(self) -> Measure {
        self.row().1
    }

    /// The value that it has where the owner has set none.
    pub fn default_value(self) -> f64 {
        self.row().2
    }

    /// Where that comes from.
    pub fn origin(self) -> Origin {
        self.row().3
    }

    /// What it is, in a few words, as they stand before the number.
    pub fn name(self) -> &'static str {
        self.row().4
    }

    /// Why there is such a limit.
    pub fn sentence(self) -> &'static str {
        self.row().5
    }
}

/// The table as its owner has set it, by key: what is not in here has its default, and what is in here though no row
/// has its key is kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Limits(BTreeMap<String, f64>);

impl Limits {
    /// The value of a row.
    pub fn get(&self, limit: Limit) -> f64 {
        self.0.get(limit.key()).copied().filter(|value| value.is_finite()).unwrap_or(limit.default_value())
    }

    /// Sets a row; `None`, or its default, takes the owner's value away.
    pub fn set(&mut self, limit: Limit, value: Option<f64>) {
        match value.filter(|value| value.is_finite() && *value != limit.default_value()) {
            Some(value) => drop(self.0.insert(limit.key().to_owned(), value)),
            None => drop(self.0.remove(limit.key())),
        }
    }

    /// Whether the owner has set a row.
    pub fn is_set(&self, limit: Limit) -> bool {
        self.0.contains_key(limit.key())
    }

    /// Whether every row has its default.
    pub fn is_default(&self) -> bool {
        self.0.is_empty()
    }
}
