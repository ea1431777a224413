//! Moments of a run that are plain to see, and mostly to hear, on a helmet video: where to match it.

use std::fmt;
use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::measured::Measured;
use crate::readout::{RunReadout, SectionReadout};
use crate::ride::SlipKind;

/// Shorter flights are hops that the rider hardly feels, s (common practice).
const SHORTEST_FLIGHT_S: f64 = 0.25;
/// Smaller strokes are not told apart on a video, m (common practice).
const SMALLEST_STROKE_M: f64 = 0.08;
/// A stroke this soon after touch-down is the landing's, s.
const LANDING_S: f64 = 0.5;
/// Shorter skids are not heard as such, s (common practice).
const SHORTEST_SKID_S: f64 = 0.2;
/// Less lean hardly tilts the picture, rad (25 degrees; common practice).
const LEAST_LEAN_RAD: f64 = 25.0 * std::f64::consts::PI / 180.0;
/// Start and stop are seen where the log has this much standing before and after, s.
const STANDING_S: f64 = 1.0;
/// Two that are nearer are mixed up on the video, s.
const APART_S: f64 = 3.0;
/// Drift shows between this share of the run at its start and the same at its end.
const END_SHARE: f64 = 0.2;

/// A moment to look for on the video.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Landmark {
    /// On the run's clock, s.
    pub time_s: f64,
    /// What is seen.
    pub sight: Sight,
}

/// What is seen, plainest first.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sight {
    /// The wheels touch down after a flight of this length, s.
    Landing {
        /// Time in the air, s.
        flight_s: f64,
    },
    /// The front wheel begins to take a hit.
    Hit {
        /// Stroke of the front axle, m.
        stroke_m: f64,
    },
    /// The rear wheel stops turning.
    Skid {
        /// How long it stays so, s.
        length_s: f64,
    },
    /// The bike starts to roll.
    Start,
    /// The bike leans most in a corner.
    Apex {
        /// Lean, rad, + right.
        lean_rad: f64,
    },
    /// The bike comes to a stand.
    Stop,
}

impl Sight {
    /// How far off a person places it, frame by frame, s (common practice).
    pub fn within_s(self) -> f64 {
        match self {
            Self::Landing { .. } | Self::Hit { .. } => 0.05,
            Self::Skid { .. } => 0.1,
            Self::Start | Self::Apex { .. } | Self::Stop => 0.3,
        }
    }

    /// Large enough to be seen.
    fn is_plain(self) -> bool {
        match self {
            Self::Landing { flight_s } => flight_s >= SHORTEST_FLIGHT_S,
            Self::Hit { stroke_m } => stroke_m >= SMALLEST_STROKE_M,
            Self::Skid { length_s } => length_s >= SHORTEST_SKID_S,
            Self::Apex { lean_rad } => lean_rad.abs() >= LEAST_LEAN_RAD,
            Self::Start | Self::Stop => true,
        }
    }

    /// How plain it is, to rank by: what is placed well first, then what is large for its kind.
    fn plainness(self) -> f64 {
        match self {
            Self::Landing { flight_s } => 3.0 + flight_s.min(2.0) / 2.0,
            Self::Hit { stroke_m } => 2.0 + stroke_m.min(0.3) / 0.3,
            Self::Skid { length_s } => 1.5 + length_s.min(2.0) / 4.0,
            Self::Start => 1.2,
            Self::Apex { lean_rad } => lean_rad.abs().min(1.5) / 1.5,
            Self::Stop => 0.8,
        }
    }
}

/// What to look for, in words.
impl fmt::Display for Sight {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Landing { flight_s } => {
                write!(
                    f,
                    "touch-down after {flight_s:.1} s in the air: the thump, and the picture jolts down"
                )
            }
            Self::Hit { stroke_m } => {
                write!(f, "a hard hit of {:.0} mm at the front: the knock, and the bars jump", stroke_m * 1e3)
            }
            Self::Skid { length_s } => {
                write!(
                    f,
                    "the rear wheel locks for {length_s:.1} s: the tyre's rolling noise stops or turns to a scrape"
                )
            }
            Self::Start => f.write_str("the bike starts to roll: the ground begins to move"),
            Self::Apex { lean_rad } => {
                let way = if lean_rad > 0.0 { "right" } else { "left" };
                write!(
                    f,
                    "most lean in a {way}-hander, {:.0} degrees: the bars are tilted most",
                    lean_rad.abs().to_degrees()
                )
            }
            Self::Stop => f.write_str("the bike comes to a stand: the ground stops moving"),
        }
    }
}

/// The plainest moments of a run, at most `most`, of a log that spans `logged_s`: first the plainest in the
/// first fifth of the run, then in the last, since drift is found between two that are far apart; then the
/// others by how plain they are.
pub fn landmarks(run: &RunReadout, logged_s: Range<f64>, most: usize) -> Vec<Landmark> {
    let Some(whole) = run.sections.first() else { return Vec::new() };
    let mut ranked = all(whole, logged_s);
    ranked.retain(|mark| mark.time_s.is_finite());
    ranked.sort_by(|a, b| b.sight.plainness().total_cmp(&a.sight.plainness()));
    let end_s = END_SHARE * (whole.end_s - whole.start_s);
    let early = ranked.iter().position(|mark| mark.time_s < whole.start_s + end_s);
    let late = ranked.iter().position(|mark| mark.time_s > whole.end_s - end_s);
    let first = early.into_iter().chain(late);
    let order: Vec<usize> =
        first.chain((0..ranked.len()).filter(|i| Some(*i) != early && Some(*i) != late)).collect();
    let mut chosen: Vec<Landmark> = Vec::new();
    for mark in order.into_iter().filter_map(|i| ranked.get(i)) {
        if chosen.len() < most && chosen.iter().all(|other| (other.time_s - mark.time_s).abs() >= APART_S) {
            chosen.push(*mark);
        }
    }
    chosen
}

fn all(whole: &SectionReadout, logged_s: Range<f64>) -> Vec<Landmark> {
    let flights = listed(&whole.airborne);
    let lands = |t_s: f64| flights.iter().any(|flight| (0.0..LANDING_S).contains(&(t_s - flight.end_s)));
    let mark = |time_s, sight| Landmark { time_s, sight };
    let mut marks = Vec::new();
    for flight in flights {
        marks.push(mark(flight.end_s, Sight::Landing { flight_s: flight.end_s - flight.start_s }));
    }
    for hit in listed(&whole.level.hit_pairs.hit_pairs).iter().filter(|hit| !lands(hit.front_s)) {
        marks.push(mark(hit.front_s, Sight::Hit { stroke_m: hit.front_stroke_m }));
    }
    for slip in listed(&whole.rear_wheel.episodes).iter().filter(|slip| slip.kind == SlipKind::LockUp) {
        marks.push(mark(slip.start_s, Sight::Skid { length_s: slip.end_s - slip.start_s }));
    }
    for corner in listed(&whole.attitude.corners) {
        marks.push(mark(corner.apex_s, Sight::Apex { lean_rad: corner.lean_max_rad }));
    }
    if whole.start_s - logged_s.start >= STANDING_S {
        marks.push(mark(whole.start_s, Sight::Start));
    }
    if logged_s.end - whole.end_s >= STANDING_S {
        marks.push(mark(whole.end_s, Sight::Stop));
    }
    marks.retain(|mark| mark.sight.is_plain());
    marks
}

fn listed<T>(measured: &Measured<Vec<T>>) -> &[T] {
    measured.get().map_or(&[], Vec::as_slice)
}
