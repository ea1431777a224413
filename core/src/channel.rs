//! What a logged column is taken for: guessed at first, then confirmed by the owner.

use serde::{Deserialize, Serialize};

use crate::calibrate::Mount;
use crate::import::guess_channels;
use crate::role::{Axis, Place, Role};
use crate::source::{Column, Source};
use crate::unit::Unit;

/// What one column of a file is taken for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Channel {
    /// Header in the file.
    pub header: String,
    /// What it measures.
    pub role: Role,
    /// The unit it was logged in.
    pub unit: Unit,
    /// From the logged number to SI.
    #[serde(default)]
    pub calibration: Calibration,
}

/// From a logged number to SI: `si = sign * curve(raw) - zero`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Raw number to SI.
    pub curve: Curve,
    /// The sensor counts the wrong way.
    pub inverted: bool,
    /// What the sensor reads, after curve and sign, where the truth is zero (full extension,
    /// lever free), SI.
    pub zero: f64,
}

/// The shape of a sensor's response.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Curve {
    /// The logged unit says it all.
    #[default]
    Unit,
    /// A straight line through two measured points.
    TwoPoint {
        /// Raw readings.
        raw: [f64; 2],
        /// What they stand for, SI.
        si: [f64; 2],
    },
    /// `si = c0 + c1 raw + c2 raw^2 + ...`
    Polynomial {
        /// Coefficients, lowest power first.
        coefficients: Vec<f64>,
    },
    /// Measured points, joined by a monotone cubic.
    Table {
        /// Raw reading and SI value of each point.
        points: Vec<[f64; 2]>,
    },
}

/// How one kind of file is read: kept from day to day, found again by its headers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// One per column of the file, in its order.
    pub channels: Vec<Channel>,
    /// How the frame's inertial unit lies.
    #[serde(default)]
    pub frame_mount: Mount,
    /// How the bar sensor lies.
    #[serde(default)]
    pub bar_mount: Mount,
}

impl Profile {
    /// What a file's headers suggest, inertial units taken as fitted straight.
    pub fn guess(source: &Source) -> Self {
        let guesses = guess_channels(&source.layout);
        let channels =
            source.layout.data_columns().zip(&source.columns).map(|(column, Column { header, .. })| {
                let (role, unit) = guesses.get(column).copied().unwrap_or((Role::Unused, Unit::Raw));
                Channel { header: header.clone(), role, unit, calibration: Calibration::default() }
            });
        Self { channels: channels.collect(), frame_mount: Mount::default(), bar_mount: Mount::default() }
    }

    /// Whether this profile was made for files with these headers.
    pub fn fits<'a>(&self, headers: impl IntoIterator<Item = &'a str>) -> bool {
        self.channels.iter().map(|channel| channel.header.as_str()).eq(headers)
    }

    /// Whether these files hold an accelerometer's three axes at a place.
    pub fn has_triad(&self, place: Place) -> bool {
        [Axis::X, Axis::Y, Axis::Z]
            .map(|axis| Role::Accel(place, axis))
            .iter()
            .all(|role| self.channels.iter().any(|channel| channel.role == *role))
    }

    /// Says how the inertial unit at a place lies; axle sensors are taken as fitted straight.
    pub fn set_mount(&mut self, place: Place, mount: Mount) {
        match place {
            Place::Frame => self.frame_mount = mount,
            Place::Bar => self.bar_mount = mount,
            Place::FrontAxle | Place::RearAxle => {}
        }
    }

    /// The mount of the inertial unit at a place; axle sensors are taken as fitted straight.
    pub fn mount(&self, place: Place) -> Mount {
        match place {
            Place::Frame => self.frame_mount,
            Place::Bar => self.bar_mount,
            Place::FrontAxle | Place::RearAxle => Mount::default(),
        }
    }
}
