//! How the bike stands at one moment, and the moments of a stretch at which it stands furthest.

use evenkeel_core::End;
use evenkeel_core::ride::Trace;

use crate::ride::span::Span;
use crate::store::RideView;

/// The bike at one moment; what is not measured is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    pub front_m: Option<f64>,
    pub rear_m: Option<f64>,
    pub pitch_rad: Option<f64>,
    pub chord_pitch_rad: Option<f64>,
    pub roll_rad: Option<f64>,
    pub yaw_rad: Option<f64>,
    pub yaw_rate_radps: Option<f64>,
    pub speed_mps: Option<f64>,
}

impl Pose {
    pub fn at(ride: &RideView, t_s: f64) -> Self {
        let at = |trace| ride.at(trace, t_s);
        Self {
            front_m: at(Trace::travel(End::Front)),
            rear_m: at(Trace::travel(End::Rear)),
            pitch_rad: at(Trace::Pitch),
            chord_pitch_rad: at(Trace::ChordPitch),
            roll_rad: at(Trace::Roll),
            yaw_rad: at(Trace::Yaw),
            yaw_rate_radps: at(Trace::YawRate),
            speed_mps: at(Trace::Speed),
        }
    }

    /// The pitch that is drawn: against the horizon, else against the ground.
    pub fn drawn_pitch_rad(self) -> f64 {
        self.pitch_rad.or(self.chord_pitch_rad).unwrap_or_default()
    }
}

/// What the bike does furthest over a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extreme {
    FrontDeepest,
    RearDeepest,
    NoseDown,
    NoseUp,
    LeanLeft,
    LeanRight,
    TurnLeft,
    TurnRight,
}

impl Extreme {
    pub const ALL: [Self; 8] = [
        Self::FrontDeepest,
        Self::RearDeepest,
        Self::NoseDown,
        Self::NoseUp,
        Self::LeanLeft,
        Self::LeanRight,
        Self::TurnLeft,
        Self::TurnRight,
    ];

    pub fn words(self) -> &'static str {
        match self {
            Self::FrontDeepest => "Front deepest",
            Self::RearDeepest => "Rear deepest",
            Self::NoseDown => "Most nose down",
            Self::NoseUp => "Least nose down",
            Self::LeanLeft => "Lean furthest left",
            Self::LeanRight => "Lean furthest right",
            Self::TurnLeft => "Fastest left turn",
            Self::TurnRight => "Fastest right turn",
        }
    }

    /// The trace it is an end of, and whether it is the upper one.
    fn of(self, pitch: Trace) -> (Trace, bool) {
        match self {
            Self::FrontDeepest => (Trace::travel(End::Front), true),
            Self::RearDeepest => (Trace::travel(End::Rear), true),
            Self::NoseDown => (pitch, true),
            Self::NoseUp => (pitch, false),
            Self::LeanLeft => (Trace::Roll, false),
            Self::LeanRight => (Trace::Roll, true),
            Self::TurnLeft => (Trace::YawRate, true),
            Self::TurnRight => (Trace::YawRate, false),
        }
    }
}

/// The pitch whose extremes are looked for: against the horizon, else against the ground.
fn pitch(ride: &RideView) -> Trace {
    if ride.get(Trace::Pitch).is_some() { Trace::Pitch } else { Trace::ChordPitch }
}

/// Every trace that extremes are looked for in.
pub const EXTREME_TRACES: [Trace; 6] = [
    Trace::travel(End::Front),
    Trace::travel(End::Rear),
    Trace::Pitch,
    Trace::ChordPitch,
    Trace::Roll,
    Trace::YawRate,
];

/// An extreme of the stretch: its value, when it is, and how the bike stands then.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ghost {
    pub extreme: Extreme,
    pub value: f64,
    pub time_s: f64,
    pub pose: Pose,
}

/// The extremes of the stretch that is summed up, as far as they are measured.
pub fn ghosts(ride: &RideView, span: Span) -> Vec<Ghost> {
    let ghost = |extreme: Extreme| {
        let (trace, upper) = extreme.of(pitch(ride));
        let stretch = span.get(trace)?;
        let (value, index) =
            if upper { (stretch.max, stretch.max_at) } else { (stretch.min, stretch.min_at) };
        let time_s = ride.start_s + index as f64 / ride.rate_hz;
        let value = f64::from(value);
        // A stretch that never leans to a side has no furthest there.
        let there = match extreme {
            Extreme::LeanLeft | Extreme::TurnRight => value < 0.0,
            Extreme::LeanRight | Extreme::TurnLeft => value > 0.0,
            _ => true,
        };
        there.then(|| Ghost { extreme, value, time_s, pose: Pose::at(ride, time_s) })
    };
    Extreme::ALL.into_iter().filter_map(ghost).collect()
}
