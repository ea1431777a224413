//! Quantities in the reader's units and words.

use evenkeel_core::{Quantity, Role, Unit};

/// The unit in which a channel is shown: the trade's, or the logged one where its role says nothing.
pub fn shown_unit(role: Role, logged: Unit) -> Unit {
    match role.quantity() {
        Quantity::Length if role == Role::Height => Unit::Metre,
        Quantity::Length => Unit::Millimetre,
        Quantity::Speed => Unit::KilometrePerHour,
        Quantity::Acceleration => Unit::Gravity,
        Quantity::Angle => Unit::Degree,
        Quantity::AngularRate => Unit::DegreePerSecond,
        Quantity::Pressure => Unit::Bar,
        Quantity::MagneticField => Unit::Microtesla,
        Quantity::Temperature => Unit::Celsius,
        Quantity::Count => Unit::Count,
        Quantity::Time | Quantity::Other => logged,
    }
}

/// An SI value as a number in a unit, with the digits that such a sensor is worth.
pub fn number(si: f64, unit: Unit) -> String {
    let value = unit.from_si(si);
    let digits = match unit {
        Unit::Metre | Unit::Count => 0,
        Unit::Millimetre | Unit::KilometrePerHour | Unit::Degree | Unit::DegreePerSecond => 1,
        Unit::MetrePerSecond | Unit::MetrePerSecondSquared | Unit::Gravity | Unit::Bar => 2,
        _ => match value.abs() {
            v if v >= 100.0 => 0,
            v if v >= 1.0 => 2,
            _ => 4,
        },
    };
    fixed(value, digits)
}

/// A number with so many digits; no minus before nothing but zeros.
pub fn fixed(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    if text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// A unit's symbol as it stands behind a number.
pub fn symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::Count => "counts",
        Unit::Raw => "",
        Unit::Degree => "°",
        Unit::DegreePerSecond => "°/s",
        Unit::MetrePerSecondSquared => "m/s²",
        Unit::Microtesla => "µT",
        Unit::Celsius => "°C",
        _ => unit.symbol(),
    }
}

/// A role in the trade's words, as a label.
pub fn role_name(role: Role) -> String {
    if role == Role::Unused {
        return "Not used".to_owned();
    }
    let words = role.words();
    let (first, rest) = words.split_at(1);
    first.to_uppercase() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_follow_the_unit() {
        assert_eq!(number(0.153_26, Unit::Millimetre), "153.3");
        assert_eq!(number(-3.266, Unit::MetrePerSecond), "-3.27");
        assert_eq!(number(-0.000_01, Unit::Millimetre), "0.0");
        assert_eq!(number(0.012_34, Unit::Volt), "0.0123");
        assert_eq!(number(20_853.0, Unit::Count), "20853");
    }
}
