//! The rows of traces: which lines share a row, in which unit.

mod choice;
mod menu;
mod note;
mod strips;

use std::borrow::Cow;

use evenkeel_core::ride::Trace;
use evenkeel_core::{Axis, Bike, End, Place, Role, Unit};

use crate::canvas::Ink;
use crate::words::{role_name, shown_unit};

pub use choice::{Placed, RowChoice, RowSet};
pub use menu::RowMenu;
pub use note::ComplaintNote;
pub use strips::{placed_rows, shown_traces, strips};

/// One line of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub trace: Trace,
    /// What tells it from the other lines of its row; empty where it is the only one its title names.
    pub name: &'static str,
    pub ink: Ink,
}

/// One row of traces that share a unit; later lines are drawn over earlier ones.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// By which a choice of rows knows it, in every run.
    pub key: Cow<'static, str>,
    pub title: Cow<'static, str>,
    /// What a positive value means, where that is not plain.
    pub sign: &'static str,
    pub unit: Unit,
    pub lines: Vec<Line>,
    /// Shown until its reader chooses otherwise.
    pub usual: bool,
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

fn accelerations(axis: Axis) -> Vec<Line> {
    let at = |place| Trace::Logged(Role::Accel(place, axis));
    vec![line(at(Place::Bar), "bar", Ink::Bar), line(at(Place::Frame), "frame", Ink::Frame)]
}

/// Every row that joins what belongs together, top to bottom: first the usual ones.
fn catalogue() -> Vec<Row> {
    let row = |key: &'static str, title: &'static str, sign, unit, lines| Row {
        key: key.into(),
        title: title.into(),
        sign,
        unit,
        lines,
        usual: true,
    };
    let usual = [
        row("travel", "Axle travel", "", Unit::Millimetre, ends(Trace::travel)),
        row("axle_speed", "Axle speed", "+ in, − out", Unit::MetrePerSecond, ends(Trace::AxleSpeed)),
        row(
            "pitch",
            "Pitch",
            "+ nose down",
            Unit::Degree,
            vec![line(Trace::Pitch, "horizon", Ink::Frame), line(Trace::ChordPitch, "ground", Ink::Bar)],
        ),
        row("lean", "Lean", "+ right", Unit::Degree, vec![line(Trace::Roll, "lean", Ink::Frame)]),
        row(
            "turn_rate",
            "Turn rate",
            "+ nose down, + left",
            Unit::DegreePerSecond,
            vec![line(Trace::PITCH_RATE, "pitch", Ink::Bar), line(Trace::YawRate, "turn", Ink::Frame)],
        ),
        row("brakes", "Brakes", "", Unit::Bar, ends(|end| Trace::Logged(Role::Brake(end)))),
        row("speed", "Speed", "", Unit::KilometrePerHour, vec![line(Trace::Speed, "bike", Ink::Frame)]),
        row("vertical", "Vertical", "+ up", Unit::Gravity, accelerations(Axis::Z)),
    ];
    let axle = |place| Trace::Logged(Role::Accel(place, Axis::Z));
    let more = [
        row("ride_height", "Ride height", "travel below 0.5 Hz", Unit::Millimetre, ends(Trace::RideHeight)),
        row("heave", "Heave", "+ down", Unit::Millimetre, vec![line(Trace::Heave, "frame", Ink::Frame)]),
        row("sideways", "Sideways", "+ left", Unit::Gravity, accelerations(Axis::Y)),
        row("lengthways", "Lengthways", "+ forward", Unit::Gravity, accelerations(Axis::X)),
        row(
            "axle_vertical",
            "Axles, vertical",
            "+ up",
            Unit::Gravity,
            vec![
                line(axle(Place::FrontAxle), "front", Ink::Front),
                line(axle(Place::RearAxle), "rear", Ink::Rear),
            ],
        ),
        row(
            "wheel_speed",
            "Wheel speed",
            "",
            Unit::KilometrePerHour,
            ends(|end| Trace::Logged(Role::WheelSpeed(end))),
        ),
        row("slip", "Wheel slip", "0 rolls, 1 locked", Unit::Raw, ends(Trace::Slip)),
        row(
            "heading",
            "Direction",
            "+ left, since start",
            Unit::Degree,
            vec![line(Trace::Yaw, "", Ink::Frame)],
        ),
    ];
    usual.into_iter().chain(more.into_iter().map(|row| Row { usual: false, ..row })).collect()
}

/// Logged channels that a row can show; where the bike is on the map is the track's to draw.
fn channels(has: impl Fn(Trace) -> bool) -> impl Iterator<Item = Role> {
    Role::all()
        .filter(move |role| !matches!(role, Role::Latitude | Role::Longitude) && has(Trace::Logged(*role)))
}

/// A logged channel in a row of its own.
fn single(role: Role) -> Row {
    let ink = match role {
        Role::Travel(End::Front) | Role::Brake(End::Front) | Role::WheelSpeed(End::Front) => Ink::Front,
        Role::Travel(End::Rear) | Role::Brake(End::Rear) | Role::WheelSpeed(End::Rear) => Ink::Rear,
        Role::Accel(Place::FrontAxle, _) => Ink::Front,
        Role::Accel(Place::RearAxle, _) => Ink::Rear,
        Role::Accel(Place::Bar, _) | Role::Gyro(Place::Bar, _) | Role::Magnet(Place::Bar, _) => Ink::Bar,
        _ => Ink::Frame,
    };
    Row {
        key: role.to_string().into(),
        title: role_name(role).into(),
        sign: "",
        unit: shown_unit(role, Unit::Raw),
        lines: vec![line(Trace::Logged(role), "", ink)],
        usual: false,
    }
}

/// The rows of a run that has these traces: what belongs together joined, then one for each logged
/// channel that none of these shows.
pub fn joined_rows(has: impl Fn(Trace) -> bool) -> Vec<Row> {
    let mut rows = catalogue();
    rows.retain(|row| row.lines.iter().any(|line| has(line.trace)));
    let shown = |role| rows.iter().flat_map(|row| &row.lines).any(|line| line.trace == Trace::Logged(role));
    let others: Vec<Row> = channels(&has).filter(|role| !shown(*role)).map(single).collect();
    rows.extend(others);
    rows
}

/// Every logged channel of a run in a row of its own.
pub fn single_rows(has: impl Fn(Trace) -> bool) -> Vec<Row> {
    channels(has).map(single).collect()
}

impl Row {
    /// The range of values a row spans over the whole run, in its unit; fixed where the bike fixes it.
    pub fn range<'a>(&self, bike: &Bike, samples: impl Fn(Trace) -> Option<&'a [f32]>) -> [f64; 2] {
        let travel = |end| self.lines.iter().any(|line| line.trace == Trace::travel(end));
        let full_m = End::BOTH.into_iter().filter(|end| travel(*end)).map(|end| bike.travel_m(end));
        if let Some(full_m) = full_m.reduce(f64::max) {
            return [0.0, self.unit.from_si(full_m)];
        }
        let all =
            self.lines.iter().filter_map(|line| samples(line.trace)).flatten().filter(|v| v.is_finite());
        // Nought is in the picture, but for what has none of its own.
        let has_nought = ![Unit::Celsius, Unit::Metre].contains(&self.unit);
        let first = has_nought.then_some([0.0_f32; 2]);
        let range = all.fold(first, |range, &v| {
            let [low, high] = range.unwrap_or([v; 2]);
            Some([low.min(v), high.max(v)])
        });
        let [low, high] = range.unwrap_or_default().map(|v| self.unit.from_si(f64::from(v)));
        if high > low { [low, high] } else { [low, low + 1.0] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::complaints::Complaint;

    #[test]
    fn every_logged_channel_has_a_row_and_no_key_stands_for_two() {
        let logged = |trace| matches!(trace, Trace::Logged(role) if role != Role::Unused);
        for rows in [joined_rows(logged), single_rows(logged)] {
            for role in
                Role::all().filter(|role| !matches!(role, Role::Unused | Role::Latitude | Role::Longitude))
            {
                let with = |row: &&Row| row.lines.iter().any(|line| line.trace == Trace::Logged(role));
                assert_eq!(rows.iter().filter(with).count(), 1, "{role}");
            }
            for (i, row) in rows.iter().enumerate() {
                assert!(rows[..i].iter().all(|other| other.key != row.key), "{}", row.key);
            }
        }
    }

    #[test]
    fn every_row_that_a_complaint_wants_exists() {
        let rows = catalogue();
        for key in Complaint::ALL.into_iter().flat_map(Complaint::rows) {
            assert!(rows.iter().any(|row| row.key == *key), "{key}");
        }
    }

    #[test]
    fn a_run_has_only_rows_it_can_fill() {
        assert!(joined_rows(|_| false).is_empty());
        let rows = joined_rows(|trace| trace == Trace::Logged(Role::Temperature));
        assert_eq!(rows.iter().map(|row| row.title.as_ref()).collect::<Vec<_>>(), ["Temperature"]);
    }
}
