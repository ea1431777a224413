//! How an inertial unit lies on the bike.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::rotation::{Rotation, Vector};

/// The way from an inertial unit's own axes to the bike's (ISO 8855: x forward, y left, z up).
///
/// One of the 24 ways to lay a box square on another, and then, optionally, a small levelling turn
/// about the bike's x and y axes for a unit that does not lie quite square.
///
/// In text, and so in files: which of the unit's axes points forward, left and up, then the
/// levelling turn in degrees: `+x +y +z`, `-y +x +z level +1.25 -0.4`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Mount {
    /// For the bike's x, y, z: which of the unit's axes, and whether against it.
    order: [SignedAxis; 3],
    /// Levelling turn about the bike's x and y, in whole millionths of a degree so that text keeps it.
    level_deg: [f64; 2],
    /// Both together; row = bike axis, column = unit axis.
    matrix: [Vector; 3],
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct SignedAxis {
    index: usize,
    negative: bool,
}

impl SignedAxis {
    fn direction(self) -> Vector {
        let mut direction = [0.0; 3];
        direction[self.index] = if self.negative { -1.0 } else { 1.0 };
        direction
    }
}

impl Default for Mount {
    /// The unit's axes are the bike's: `+x +y +z`.
    fn default() -> Self {
        let [x, y, z] = [0, 1, 2].map(|index| SignedAxis { index, negative: false });
        Self::new([x, y, z], [0.0; 2])
    }
}

impl Mount {
    /// The 24 square ways to lie, `+x +y +z` first. None of them mirrors.
    pub fn all() -> impl Iterator<Item = Self> {
        let directions = || (0..6).map(|d| SignedAxis { index: d / 2, negative: d % 2 == 1 });
        directions().flat_map(move |x| {
            directions().filter_map(move |y| {
                let [forward, left] = [x, y].map(SignedAxis::direction);
                let up = crate::rotation::cross(forward, left);
                let index = up.iter().position(|&c| c != 0.0)?;
                let z = SignedAxis { index, negative: up[index] < 0.0 };
                Some(Self::new([x, y, z], [0.0; 2]))
            })
        })
    }

    /// The same way to lie with another levelling turn: about the bike's x axis and about its
    /// y axis (the components of one turn, right-hand), rad, kept to a millionth of a degree.
    pub fn levelled(self, about_x_rad: f64, about_y_rad: f64) -> Self {
        let level_deg = [about_x_rad, about_y_rad].map(|rad| (rad.to_degrees() * 1e6).round() / 1e6);
        Self::new(self.order, level_deg)
    }

    /// The levelling turn about the bike's x and y axes, rad; zero if there is none.
    pub fn level_rad(&self) -> [f64; 2] {
        self.level_deg.map(f64::to_radians)
    }

    /// A vector in the unit's axes, in the bike's axes (any unit of measure).
    pub fn apply(&self, sensor: [f64; 3]) -> [f64; 3] {
        self.matrix.map(|row| crate::rotation::dot(row, sensor))
    }

    /// Three channels of one length, turned from the unit's axes to the bike's. A sample missing on one axis is
    /// missing on all.
    // A function of its own, since a browser makes code fast from one call to the next, not within one.
    #[inline(never)]
    pub fn turn(&self, [x, y, z]: [&mut [f32]; 3]) {
        for ((x, y), z) in x.iter_mut().zip(y).zip(z) {
            let bike = self.apply([*x, *y, *z].map(f64::from));
            [*x, *y, *z] = bike.map(|value| value as f32);
        }
    }

    fn new(order: [SignedAxis; 3], level_deg: [f64; 2]) -> Self {
        let square = order.map(SignedAxis::direction);
        let [x, y] = level_deg.map(f64::to_radians);
        let level = Rotation::from_vector([x, y, 0.0]);
        // Columns of the matrix: where each of the unit's axes ends up.
        let columns = [0, 1, 2].map(|c| level.apply(square.map(|row| row[c])));
        let matrix = std::array::from_fn(|r| columns.map(|column| column[r]));
        Self { order, level_deg, matrix }
    }
}

impl fmt::Display for Mount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, axis) in self.order.iter().enumerate() {
            let separator = if i == 0 { "" } else { " " };
            let sign = if axis.negative { '-' } else { '+' };
            write!(f, "{separator}{sign}{}", ["x", "y", "z"][axis.index])?;
        }
        let [x, y] = self.level_deg;
        if [x, y] != [0.0; 2] {
            write!(f, " level {x:+} {y:+}")?;
        }
        Ok(())
    }
}

/// A text that is not a [`Mount`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MountTextError(String);

impl fmt::Display for MountTextError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "\"{}\" does not say how an inertial unit lies; write which of its axes point forward, left \
             and up, as in \"+x +y +z\" or \"-y +x +z\"",
            self.0
        )
    }
}

impl std::error::Error for MountTextError {}

impl FromStr for Mount {
    type Err = MountTextError;

    fn from_str(text: &str) -> Result<Self, MountTextError> {
        let error = || MountTextError(text.to_owned());
        let (axes, level) = match text.split_once("level") {
            Some((axes, level)) => (axes, Some(level)),
            None => (text, None),
        };
        let axes = axes.split_whitespace().collect::<Vec<_>>().join(" ");
        let square = Self::all().find(|mount| mount.to_string() == axes).ok_or_else(error)?;
        let Some(level) = level else { return Ok(square) };
        let degrees: Vec<f64> = level
            .split_whitespace()
            .map(|number| number.parse().ok().filter(|degrees: &f64| degrees.abs() <= 45.0))
            .collect::<Option<_>>()
            .ok_or_else(error)?;
        match degrees[..] {
            [x, y] => Ok(square.levelled(x.to_radians(), y.to_radians())),
            _ => Err(error()),
        }
    }
}

impl From<Mount> for String {
    fn from(mount: Mount) -> Self {
        mount.to_string()
    }
}

impl TryFrom<String> for Mount {
    type Error = MountTextError;

    fn try_from(text: String) -> Result<Self, MountTextError> {
        text.parse()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotation::{cross, dot};

    /// The rotation group of the cube has 24 members (any group theory text).
    #[test]
    fn there_are_24_different_square_ways_to_lie_and_none_mirrors() {
        let all: Vec<Mount> = Mount::all().collect();
        assert_eq!(all.len(), 24);
        assert_eq!(all[0], Mount::default());
        for (i, mount) in all.iter().enumerate() {
            assert!(!all[..i].contains(mount), "{mount} twice");
            let [x, y, z] = mount.matrix;
            assert_eq!(dot(cross(x, y), z), 1.0, "{mount} mirrors");
        }
    }

    #[test]
    fn text_says_which_axis_points_forward_left_and_up() {
        let mount: Mount = "-y +x +z".parse().unwrap();
        assert_eq!(mount.apply([1.0, 2.0, 3.0]), [-2.0, 1.0, 3.0]);
        let [mut x, mut y, mut z] = [[1.0, 4.0], [2.0, 5.0], [3.0, f32::NAN]];
        mount.turn([&mut x, &mut y, &mut z]);
        assert_eq!([x[0], y[0], z[0]], [-2.0, 1.0, 3.0]);
        assert!([x, y, z].iter().all(|axis| axis[1].is_nan()));
    }

    #[test]
    fn every_mount_reads_back_from_its_text() {
        for mount in Mount::all().flat_map(|m| [m, m.levelled(1.25_f64.to_radians(), -0.4_f64.to_radians())])
        {
            let json = serde_json::to_string(&mount).unwrap();
            assert_eq!(serde_json::from_str::<Mount>(&json).unwrap(), mount, "{json}");
        }
        let levelled = Mount::default().levelled(1.25_f64.to_radians(), -0.4_f64.to_radians());
        assert_eq!(levelled.to_string(), "+x +y +z level +1.25 -0.4");
    }

    #[test]
    fn other_texts_are_refused_with_advice() {
        for text in ["", "+x +y", "+x +y -z", "+x +x +z", "up", "+x +y +z level 1", "+x +y +z level nan 0"] {
            let error = text.parse::<Mount>().unwrap_err();
            assert!(error.to_string().contains("+x +y +z"), "{text}");
        }
    }

    #[test]
    fn a_levelling_turn_is_right_hand_about_the_bikes_axes() {
        // A unit that leans 2 degrees to the right reads gravity's reaction on its left side.
        let tilt = 2_f64.to_radians();
        let reading = [0.0, tilt.sin(), tilt.cos()];
        let [x, y, z] = Mount::default().levelled(tilt, 0.0).apply(reading);
        assert!(x.abs() < 1e-12 && y.abs() < 1e-12 && (z - 1.0).abs() < 1e-12);
    }
}
