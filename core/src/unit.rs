//! Units as loggers write them, and their way into SI.

use std::f64::consts::PI;
use std::fmt;

use serde::{Deserialize, Serialize};

/// A kind of quantity; units of one kind convert into each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// m
    Length,
    /// m/s
    Speed,
    /// m/s^2
    Acceleration,
    /// rad
    Angle,
    /// rad/s
    AngularRate,
    /// Pa
    Pressure,
    /// T
    MagneticField,
    /// s
    Time,
    /// 1
    Count,
    /// K
    Temperature,
    /// Anything else: raw volts, counts, ratios.
    Other,
}

/// Standard gravity, m/s^2 (ISO 80000-3).
pub const STANDARD_GRAVITY: f64 = 9.806_65;

macro_rules! units {
    ($($(#[$doc:meta])* $variant:ident, $symbol:literal, $quantity:ident, $scale:expr, $offset:expr, [$($alias:literal),*];)*) => {
        /// A unit of a logged column: `si = raw * scale + offset`.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Unit {
            $($(#[$doc])* #[serde(rename = $symbol)] $variant,)*
        }

        impl Unit {
            /// Every unit, grouped by quantity.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            fn row(self) -> (&'static str, Quantity, f64, f64, &'static [&'static str]) {
                match self {
                    $(Self::$variant => ($symbol, Quantity::$quantity, $scale, $offset, &[$($alias),*]),)*
                }
            }
        }
    };
}

units! {
    /// m
    Metre, "m", Length, 1.0, 0.0, ["metre", "metres", "meter", "meters"];
    /// cm
    Centimetre, "cm", Length, 1e-2, 0.0, [];
    /// mm
    Millimetre, "mm", Length, 1e-3, 0.0, ["millimetre", "millimeter", "millimetres", "millimeters"];
    /// inch
    Inch, "in", Length, 0.0254, 0.0, ["inch", "inches", "\""];
    /// m/s
    MetrePerSecond, "m/s", Speed, 1.0, 0.0, ["mps", "m s-1", "ms-1", "m/sec"];
    /// mm/s
    MillimetrePerSecond, "mm/s", Speed, 1e-3, 0.0, [];
    /// km/h
    KilometrePerHour, "km/h", Speed, 1.0 / 3.6, 0.0, ["kmh", "kph", "kmph"];
    /// mile/h (international mile)
    MilePerHour, "mph", Speed, 0.447_04, 0.0, ["mi/h"];
    /// knot
    Knot, "kn", Speed, 1852.0 / 3600.0, 0.0, ["kt", "kts", "knot", "knots"];
    /// Turns per minute of a wheel; becomes a speed with its circumference.
    TurnPerMinute, "rpm", AngularRate, PI / 30.0, 0.0, ["1/min", "r/min", "u/min", "tr/min", "t/min", "giri/min", "rev/min"];
    /// m/s^2
    MetrePerSecondSquared, "m/s^2", Acceleration, 1.0, 0.0, ["m/s²", "m/s2", "m/s/s", "m/s**2", "m/sec2", "mps2", "m s-2", "ms-2"];
    /// g
    Gravity, "g", Acceleration, STANDARD_GRAVITY, 0.0, ["gee", "g0", "gn", "g's", "gs"];
    /// mg
    MilliGravity, "mg", Acceleration, STANDARD_GRAVITY * 1e-3, 0.0, ["milli-g"];
    /// rad
    Radian, "rad", Angle, 1.0, 0.0, ["radian", "radians"];
    /// deg
    Degree, "deg", Angle, PI / 180.0, 0.0, ["°", "degree", "degrees", "grad"];
    /// rad/s
    RadianPerSecond, "rad/s", AngularRate, 1.0, 0.0, ["radps", "rad s-1"];
    /// deg/s
    DegreePerSecond, "deg/s", AngularRate, PI / 180.0, 0.0, ["°/s", "dps", "degps", "degree/s", "degrees/s", "deg s-1", "deg/sec", "°/sec", "grad/s"];
    /// mdeg/s
    MilliDegreePerSecond, "mdeg/s", AngularRate, PI / 180_000.0, 0.0, ["mdps"];
    /// Pa
    Pascal, "Pa", Pressure, 1.0, 0.0, ["pascal"];
    /// kPa
    Kilopascal, "kPa", Pressure, 1e3, 0.0, [];
    /// MPa
    Megapascal, "MPa", Pressure, 1e6, 0.0, [];
    /// bar
    Bar, "bar", Pressure, 1e5, 0.0, ["bars"];
    /// mbar
    Millibar, "mbar", Pressure, 1e2, 0.0, ["hpa"];
    /// psi (lbf/in^2)
    Psi, "psi", Pressure, 6_894.757_293_168, 0.0, ["lbf/in2", "lb/in2"];
    /// T
    Tesla, "T", MagneticField, 1.0, 0.0, ["tesla"];
    /// mT
    Millitesla, "mT", MagneticField, 1e-3, 0.0, [];
    /// µT
    Microtesla, "uT", MagneticField, 1e-6, 0.0, ["µt", "μt", "microtesla"];
    /// G
    Gauss, "G", MagneticField, 1e-4, 0.0, ["gauss"];
    /// s
    Second, "s", Time, 1.0, 0.0, ["sec", "secs", "second", "seconds"];
    /// ms
    Millisecond, "ms", Time, 1e-3, 0.0, ["msec", "millis", "millisecond", "milliseconds"];
    /// µs
    Microsecond, "us", Time, 1e-6, 0.0, ["µs", "μs", "usec", "micros", "microsecond", "microseconds"];
    /// ns
    Nanosecond, "ns", Time, 1e-9, 0.0, ["nsec", "nanos", "nanosecond", "nanoseconds"];
    /// min
    Minute, "min", Time, 60.0, 0.0, ["minute", "minutes"];
    /// A running count.
    Count, "1", Count, 1.0, 0.0, ["count", "counts", "pulses", "pulse", "ticks", "#"];
    /// deg C
    Celsius, "degC", Temperature, 1.0, 273.15, ["°c", "c", "celsius", "deg c"];
    /// deg F
    Fahrenheit, "degF", Temperature, 5.0 / 9.0, 273.15 - 32.0 * 5.0 / 9.0, ["°f", "f", "fahrenheit", "deg f"];
    /// K
    Kelvin, "K", Temperature, 1.0, 0.0, ["kelvin"];
    /// V
    Volt, "V", Other, 1.0, 0.0, ["volt", "volts"];
    /// mV
    Millivolt, "mV", Other, 1e-3, 0.0, ["millivolt", "millivolts"];
    /// A raw number with no unit.
    Raw, "raw", Other, 1.0, 0.0, ["adc", "lsb", "%", "-"];
}

impl Unit {
    /// The symbol shown on screens and stored in files.
    pub fn symbol(self) -> &'static str {
        self.row().0
    }

    /// The kind of quantity.
    pub fn quantity(self) -> Quantity {
        self.row().1
    }

    /// A raw value in this unit, in SI.
    pub fn to_si(self, raw: f64) -> f64 {
        let (slope, offset) = self.line();
        raw * slope + offset
    }

    /// Slope and offset of the line from raw values to SI.
    pub(crate) fn line(self) -> (f64, f64) {
        let (_, _, slope, offset, _) = self.row();
        (slope, offset)
    }

    /// An SI value in this unit.
    pub fn from_si(self, si: f64) -> f64 {
        let (_, _, scale, offset, _) = self.row();
        (si - offset) / scale
    }

    /// The unit that a piece of text names, if any. Symbols are matched exactly first (`mT` is not
    /// `Mt`, `G` is not `g`), then symbols and other spellings without regard to case.
    pub fn parse(text: &str) -> Option<Self> {
        Self::find(text, |_| true)
    }

    /// The unit that a piece of text names beside a quantity: `[G]` is g for an acceleration and
    /// gauss for a magnetic field. A unit of another quantity is still found, so that the caller
    /// can see that the two do not agree.
    pub fn parse_as(text: &str, quantity: Quantity) -> Option<Self> {
        Self::find(text, |unit| unit.quantity() == quantity).or_else(|| Self::parse(text))
    }

    fn find(text: &str, wanted: impl Fn(Self) -> bool) -> Option<Self> {
        // Look-alikes of the degree sign on various keyboards.
        let text = text.trim().replace(['º', '˚'], "°");
        let units = || Self::ALL.iter().copied().filter(|&unit| wanted(unit));
        units().find(|unit| unit.symbol() == text).or_else(|| {
            let lower = text.to_lowercase();
            units().find(|unit| {
                let (symbol, .., aliases) = unit.row();
                symbol.to_lowercase() == lower || aliases.contains(&lower.as_str())
            })
        })
    }

    /// The units that may be chosen for a quantity, with raw numbers for a two-point calibration.
    pub fn choices(quantity: Quantity) -> impl Iterator<Item = Self> {
        // A wheel's speed may be logged as a rate of turning.
        let also = if quantity == Quantity::Speed { Quantity::AngularRate } else { Quantity::Other };
        Self::ALL
            .iter()
            .copied()
            .filter(move |unit| [quantity, also, Quantity::Other].contains(&unit.quantity()))
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_reads_back_and_converts_both_ways() {
        for &unit in Unit::ALL {
            assert_eq!(Unit::parse(unit.symbol()), Some(unit));
            assert!((unit.from_si(unit.to_si(3.7)) - 3.7).abs() < 1e-12, "{unit}");
        }
    }

    /// NIST SP 811, appendix B.
    #[test]
    fn handbook_factors() {
        assert!((Unit::Psi.to_si(1.0) - 6_894.757).abs() < 1e-3);
        assert!((Unit::MilePerHour.to_si(1.0) - 0.447_04).abs() < 1e-12);
        assert!((Unit::Fahrenheit.to_si(212.0) - 373.15).abs() < 1e-9);
        assert_eq!(Unit::parse("mT"), Some(Unit::Millitesla));
        assert_eq!(Unit::parse("G"), Some(Unit::Gauss));
        assert_eq!(Unit::parse("G/s"), None);
        assert_eq!(Unit::parse("µT"), Some(Unit::Microtesla));
    }

    #[test]
    fn a_quantity_decides_between_like_spellings() {
        assert_eq!(Unit::parse_as("G", Quantity::Acceleration), Some(Unit::Gravity));
        assert_eq!(Unit::parse_as("G", Quantity::MagneticField), Some(Unit::Gauss));
        assert_eq!(Unit::parse_as("º/s", Quantity::AngularRate), Some(Unit::DegreePerSecond));
        assert_eq!(Unit::parse_as("bar", Quantity::Length), Some(Unit::Bar));
        assert_eq!(Unit::parse_as("furlong", Quantity::Length), None);
    }
}
