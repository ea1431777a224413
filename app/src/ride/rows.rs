//! The rows of traces: which lines share a row, in which unit.

use evenkeel_core::ride::Trace;
use evenkeel_core::{Axis, Bike, End, Place, Role, Unit};

use crate::canvas::Ink;

/// One line of a row.
pub struct Line {
    pub trace: Trace,
    pub name: &'static str,
    pub ink: Ink,
}

/// One row of traces that share a unit; later lines are drawn over earlier ones.
pub struct Row {
    pub title: &'static str,
    /// What a positive value means, where that is not plain.
    pub sign: &'static str,
    pub unit: Unit,
    pub lines: Vec<Line>,
}

/// A row with the range it is drawn in, in its unit, and its share of the height beside the others'.
pub struct Strip {
    pub row: Row,
    pub range: [f64; 2],
    pub weight: f64,
}

fn line(trace: Trace, name: &'static str, ink: Ink) -> Line {
    Line { trace, name, ink }
}

fn ends(trace: impl Fn(End) -> Trace) -> Vec<Line> {
    vec![line(trace(End::Front), "front", Ink::Front), line(trace(End::Rear), "rear", Ink::Rear)]
}

/// Every row, top to bottom; a run shows those of which it has a line.
pub fn rows() -> Vec<Row> {
    let frame = |axis| Trace::Logged(Role::Accel(Place::Frame, axis));
    let bar = |axis| Trace::Logged(Role::Accel(Place::Bar, axis));
    vec![
        Row { title: "Axle travel", sign: "", unit: Unit::Millimetre, lines: ends(Trace::travel) },
        Row {
            title: "Axle speed",
            sign: "+ in, − out",
            unit: Unit::MetrePerSecond,
            lines: ends(Trace::AxleSpeed),
        },
        Row {
            title: "Pitch",
            sign: "+ nose down",
            unit: Unit::Degree,
            lines: vec![
                line(Trace::Pitch, "horizon", Ink::Frame),
                line(Trace::ChordPitch, "ground", Ink::Bar),
            ],
        },
        Row {
            title: "Lean",
            sign: "+ right",
            unit: Unit::Degree,
            lines: vec![line(Trace::Roll, "lean", Ink::Frame)],
        },
        Row {
            title: "Turn rate",
            sign: "+ nose down, + left",
            unit: Unit::DegreePerSecond,
            lines: vec![line(Trace::PITCH_RATE, "pitch", Ink::Bar), line(Trace::YawRate, "turn", Ink::Frame)],
        },
        Row {
            title: "Brakes",
            sign: "",
            unit: Unit::Bar,
            lines: ends(|end| Trace::Logged(Role::Brake(end))),
        },
        Row {
            title: "Speed",
            sign: "",
            unit: Unit::KilometrePerHour,
            lines: vec![line(Trace::Speed, "bike", Ink::Frame)],
        },
        Row {
            title: "Vertical",
            sign: "+ up",
            unit: Unit::Gravity,
            lines: vec![line(bar(Axis::Z), "bar", Ink::Bar), line(frame(Axis::Z), "frame", Ink::Frame)],
        },
    ]
}

impl Row {
    /// The range of values a row spans over the whole run, in its unit; fixed where the bike fixes it.
    pub fn range<'a>(&self, bike: &Bike, samples: impl Fn(Trace) -> Option<&'a [f32]>) -> [f64; 2] {
        if self.lines.iter().any(|line| line.trace == Trace::travel(End::Front)) {
            return [0.0, self.unit.from_si(bike.front_travel_m.max(bike.rear_travel_m))];
        }
        let all =
            self.lines.iter().filter_map(|line| samples(line.trace)).flatten().filter(|v| v.is_finite());
        let [low, high] = all.fold([0.0_f32; 2], |[low, high], &v| [low.min(v), high.max(v)]);
        let [low, high] = [low, high].map(|v| self.unit.from_si(f64::from(v)));
        if high > low { [low, high] } else { [low, low + 1.0] }
    }
}
