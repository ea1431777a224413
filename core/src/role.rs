//! What a sensor measures, and on which part of the bike.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::unit::Quantity;

/// One end of the bike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// Fork and front wheel.
    Front,
    /// Shock, swingarm and rear wheel.
    Rear,
}

/// Where an inertial sensor is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The sprung frame.
    Frame,
    /// Handlebar or steering head.
    Bar,
    /// Front axle or lower legs.
    FrontAxle,
    /// Rear axle or swingarm end.
    RearAxle,
}

/// An axis after mounting has been taken out: ISO 8855, x forward, y left, z up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Axis {
    /// Forward.
    X,
    /// Left.
    Y,
    /// Up.
    Z,
}

/// What a column measures.
///
/// Its text form (`front_travel`, `frame_gyro_z`, ...) is what day files and the read-out use;
/// [`Role::all`] lists every one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Role {
    /// Kept, but not used.
    Unused,
    /// Axle travel of one end, 0 at full extension, + compression.
    Travel(End),
    /// Stroke of the rear shock; becomes rear axle travel by the linkage table.
    ShockStroke,
    /// Brake pressure at one end.
    Brake(End),
    /// Wheel speed at one end, as a speed or as a rate of turning.
    WheelSpeed(End),
    /// Running count of wheel pulses at one end.
    WheelPulses(End),
    /// Specific force on one sensor axis; +1 g on z at rest.
    Accel(Place, Axis),
    /// Turn rate about one sensor axis.
    Gyro(Place, Axis),
    /// Magnetic field along one sensor axis (carried, not used).
    Magnet(Place, Axis),
    /// GPS latitude.
    Latitude,
    /// GPS longitude.
    Longitude,
    /// GPS height.
    Height,
    /// GPS speed over ground.
    GroundSpeed,
    /// GPS course over ground.
    Course,
    /// Temperature.
    Temperature,
}

impl Role {
    /// Every role, in the order in which a list should offer them.
    pub fn all() -> impl Iterator<Item = Self> {
        use Place::{Bar, Frame, FrontAxle, RearAxle};
        let per_end = |role: fn(End) -> Self| End::BOTH.into_iter().map(role);
        let per_axis = |role: fn(Place, Axis) -> Self, places: &'static [Place]| {
            places.iter().flat_map(move |&place| Axis::ALL.into_iter().map(move |axis| role(place, axis)))
        };
        const ALL_PLACES: &[Place] = &[Frame, Bar, FrontAxle, RearAxle];
        std::iter::once(Self::Unused)
            .chain(per_end(Self::Travel))
            .chain([Self::ShockStroke])
            .chain(per_end(Self::Brake))
            .chain(per_end(Self::WheelSpeed))
            .chain(per_end(Self::WheelPulses))
            .chain(per_axis(Self::Accel, ALL_PLACES))
            .chain(per_axis(Self::Gyro, &[Frame, Bar]))
            .chain(per_axis(Self::Magnet, &[Frame, Bar]))
            .chain([
                Self::Latitude,
                Self::Longitude,
                Self::Height,
                Self::GroundSpeed,
                Self::Course,
                Self::Temperature,
            ])
    }

    /// Whether a satellite receiver measures it.
    pub fn is_gps(self) -> bool {
        matches!(self, Self::Latitude | Self::Longitude | Self::Height | Self::GroundSpeed | Self::Course)
    }

    /// What its samples are once they are calibrated: a shock's stroke becomes rear travel, pulses a speed.
    pub fn as_read(self) -> Self {
        match self {
            Self::ShockStroke => Self::Travel(End::Rear),
            Self::WheelPulses(end) => Self::WheelSpeed(end),
            role => role,
        }
    }

    /// The kind of quantity, which decides the units that may be chosen.
    pub fn quantity(self) -> Quantity {
        match self {
            Self::Unused => Quantity::Other,
            Self::Travel(_) | Self::ShockStroke | Self::Height => Quantity::Length,
            Self::Brake(_) => Quantity::Pressure,
            Self::WheelSpeed(_) | Self::GroundSpeed => Quantity::Speed,
            Self::WheelPulses(_) => Quantity::Count,
            Self::Accel(..) => Quantity::Acceleration,
            Self::Gyro(..) => Quantity::AngularRate,
            Self::Magnet(..) => Quantity::MagneticField,
            Self::Latitude | Self::Longitude | Self::Course => Quantity::Angle,
            Self::Temperature => Quantity::Temperature,
        }
    }
}

impl Role {
    /// The role in the trade's words, as they stand within a sentence.
    pub fn words(self) -> String {
        match self {
            Self::Unused => "an unused column".to_owned(),
            Self::Travel(end) => format!("{} axle travel", end.name()),
            Self::ShockStroke => "shock stroke".to_owned(),
            Self::Brake(end) => format!("{} brake pressure", end.name()),
            Self::WheelSpeed(end) => format!("{} wheel speed", end.name()),
            Self::WheelPulses(end) => format!("{} wheel pulses", end.name()),
            Self::Accel(place, axis) => format!("{} acceleration {}", place.words(), axis.name()),
            Self::Gyro(place, axis) => format!("{} turn rate {}", place.words(), axis.name()),
            Self::Magnet(place, axis) => format!("{} magnetic field {}", place.words(), axis.name()),
            Self::Latitude => "latitude".to_owned(),
            Self::Longitude => "longitude".to_owned(),
            Self::Height => "height".to_owned(),
            Self::GroundSpeed => "GPS speed".to_owned(),
            Self::Course => "GPS course".to_owned(),
            Self::Temperature => "temperature".to_owned(),
        }
    }
}

impl End {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Front, Self::Rear];

    /// In the trade's words, as it stands within a sentence.
    pub fn name(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Rear => "rear",
        }
    }
}

impl Place {
    fn name(self) -> &'static str {
        match self {
            Self::Frame => "frame",
            Self::Bar => "bar",
            Self::FrontAxle => "front_axle",
            Self::RearAxle => "rear_axle",
        }
    }
}

impl Place {
    /// In the trade's words, as they stand within a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Frame => "frame",
            Self::Bar => "bar",
            Self::FrontAxle => "front axle",
            Self::RearAxle => "rear axle",
        }
    }
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// 0, 1, 2 for x, y, z.
    pub fn index(self) -> usize {
        self as usize
    }

    fn name(self) -> &'static str {
        ["x", "y", "z"][self.index()]
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Unused => f.write_str("unused"),
            Self::Travel(end) => write!(f, "{}_travel", end.name()),
            Self::ShockStroke => f.write_str("shock_stroke"),
            Self::Brake(end) => write!(f, "{}_brake", end.name()),
            Self::WheelSpeed(end) => write!(f, "{}_wheel_speed", end.name()),
            Self::WheelPulses(end) => write!(f, "{}_wheel_pulses", end.name()),
            Self::Accel(place, axis) => write!(f, "{}_accel_{}", place.name(), axis.name()),
            Self::Gyro(place, axis) => write!(f, "{}_gyro_{}", place.name(), axis.name()),
            Self::Magnet(place, axis) => write!(f, "{}_magnet_{}", place.name(), axis.name()),
            Self::Latitude => f.write_str("latitude"),
            Self::Longitude => f.write_str("longitude"),
            Self::Height => f.write_str("height"),
            Self::GroundSpeed => f.write_str("ground_speed"),
            Self::Course => f.write_str("course"),
            Self::Temperature => f.write_str("temperature"),
        }
    }
}

impl From<Role> for String {
    fn from(role: Role) -> Self {
        role.to_string()
    }
}

impl TryFrom<String> for Role {
    type Error = UnknownRole;

    fn try_from(text: String) -> Result<Self, UnknownRole> {
        text.parse()
    }
}

impl FromStr for Role {
    type Err = UnknownRole;

    fn from_str(text: &str) -> Result<Self, UnknownRole> {
        Self::all().find(|role| role.to_string() == text).ok_or_else(|| UnknownRole(text.to_owned()))
    }
}

/// A role name that [`Role`] does not know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownRole(pub String);

impl fmt::Display for UnknownRole {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "unknown channel role \"{}\"", self.0)
    }
}

impl std::error::Error for UnknownRole {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_role_reads_back_from_its_own_name() {
        for role in Role::all() {
            assert_eq!(role.to_string().parse(), Ok(role));
        }
    }
}
