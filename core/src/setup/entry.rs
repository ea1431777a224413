//! What stands on one line of the sheet: a number in the unit it was typed in, or words.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::unit::Unit;

/// A unit of the set-up sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "&'static str")]
pub enum SheetUnit {
    /// bar
    Bar,
    /// psi (lbf/in^2)
    Psi,
    /// N/mm
    NewtonPerMillimetre,
    /// lbf/in
    PoundPerInch,
    /// Clicks from fully closed.
    Click,
    /// So many of a thing.
    Piece,
    /// Share of full travel.
    Percent,
    /// mm
    Millimetre,
    /// inch
    Inch,
}

/// Pound-force in newtons: 0.45359237 kg (the pound) under standard gravity (NIST SP 811, appendix B).
const POUND_FORCE_N: f64 = 0.453_592_37 * crate::unit::STANDARD_GRAVITY;

impl SheetUnit {
    const ALL: [Self; 9] = [
        Self::Bar,
        Self::Psi,
        Self::NewtonPerMillimetre,
        Self::PoundPerInch,
        Self::Click,
        Self::Piece,
        Self::Percent,
        Self::Millimetre,
        Self::Inch,
    ];

    /// As it is shown, and stored in files.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Bar => "bar",
            Self::Psi => "psi",
            Self::NewtonPerMillimetre => "N/mm",
            Self::PoundPerInch => "lbf/in",
            Self::Click => "clicks",
            Self::Piece => "pieces",
            Self::Percent => "%",
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    /// The unit that a piece of text names, if any.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim().to_lowercase();
        Self::ALL.into_iter().find(|unit| unit.symbol().to_lowercase() == text).or(match text.as_str() {
            "click" => Some(Self::Click),
            "piece" => Some(Self::Piece),
            "lb/in" | "lbs/in" | "lbs" | "lb" => Some(Self::PoundPerInch),
            _ => None,
        })
    }

    /// A value in this unit, in SI: Pa, N/m, m, or a plain number (clicks, pieces, share).
    pub fn to_si(self, value: f64) -> f64 {
        match self {
            Self::Bar => Unit::Bar.to_si(value),
            Self::Psi => Unit::Psi.to_si(value),
            Self::NewtonPerMillimetre => value * 1e3,
            Self::PoundPerInch => value * POUND_FORCE_N / Unit::Inch.to_si(1.0),
            Self::Click | Self::Piece => value,
            Self::Percent => value * 1e-2,
            Self::Millimetre => Unit::Millimetre.to_si(value),
            Self::Inch => Unit::Inch.to_si(value),
        }
    }

    /// Whether numbers in both are of one kind: bar and psi are, bar and N/mm are not.
    pub fn is_like(self, other: Self) -> bool {
        let kind = |unit| match unit {
            Self::Bar | Self::Psi => 0,
            Self::NewtonPerMillimetre | Self::PoundPerInch => 1,
            Self::Click => 2,
            Self::Piece => 3,
            Self::Percent => 4,
            Self::Millimetre | Self::Inch => 5,
        };
        kind(self) == kind(other)
    }
}

impl TryFrom<String> for SheetUnit {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        Self::parse(&text).ok_or_else(|| format!("{text} is no unit of a set-up sheet"))
    }
}

impl From<SheetUnit> for &'static str {
    fn from(unit: SheetUnit) -> Self {
        unit.symbol()
    }
}

impl fmt::Display for SheetUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// A number as it was typed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Typed {
    /// The number.
    pub value: f64,
    /// Its unit, as chosen.
    pub unit: SheetUnit,
}

impl Typed {
    /// In SI; see [`SheetUnit::to_si`].
    pub fn to_si(self) -> f64 {
        self.unit.to_si(self.value)
    }
}

impl fmt::Display for Typed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.unit {
            SheetUnit::Click if self.value == 1.0 => f.write_str("1\u{a0}click"),
            SheetUnit::Piece if self.value == 1.0 => f.write_str("1\u{a0}piece"),
            unit => write!(f, "{}\u{a0}{unit}", self.value),
        }
    }
}

/// What was typed on a line: what is no number is kept as words.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A number with its unit.
    Number(Typed),
    /// Anything else.
    Words(String),
}

// JSON shows by itself which of the two it is.
impl Serialize for Entry {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match (self, serializer.is_human_readable()) {
            (Self::Number(number), true) => number.serialize(serializer),
            (Self::Words(words), true) => words.serialize(serializer),
            (Self::Number(number), false) => Ok::<_, ()>(number).serialize(serializer),
            (Self::Words(words), false) => Err::<(), _>(words).serialize(serializer),
        }
    }
}

impl<'de> Deserialize<'de> for Entry {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Shown {
            Number(Typed),
            Words(String),
        }
        let read = if deserializer.is_human_readable() {
            match Shown::deserialize(deserializer)? {
                Shown::Number(number) => Ok(number),
                Shown::Words(words) => Err(words),
            }
        } else {
            Result::deserialize(deserializer)?
        };
        Ok(read.map_or_else(Self::Words, Self::Number))
    }
}

impl Entry {
    /// Reads what was typed, `None` if that is nothing. A number may bring its own unit (`60 psi`), if that is
    /// one of `choices`; else it is in `unit`. Decimal point or comma.
    pub fn read(text: &str, unit: SheetUnit, choices: &[SheetUnit]) -> Option<Self> {
        let text = text.trim();
        let end = text.find(|c: char| !(c.is_ascii_digit() || "+-.,".contains(c))).unwrap_or(text.len());
        let (number, rest) = text.split_at(end);
        let number = number.replace(',', ".").parse().ok().filter(|number: &f64| number.is_finite());
        let unit = match rest.trim() {
            "" => Some(unit),
            own => SheetUnit::parse(own).filter(|own| choices.contains(own)),
        };
        match (number, unit) {
            _ if text.is_empty() => None,
            (Some(value), Some(unit)) => Some(Self::Number(Typed { value, unit })),
            _ => Some(Self::Words(text.to_owned())),
        }
    }

    /// What stands in the field when it is shown again.
    pub fn typed(&self) -> String {
        match self {
            Self::Number(number) => number.value.to_string(),
            Self::Words(words) => words.clone(),
        }
    }

    /// The number, if it is one.
    pub fn number(&self) -> Option<Typed> {
        match self {
            Self::Number(number) => Some(*number),
            Self::Words(_) => None,
        }
    }
}

impl fmt::Display for Entry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Words(words) => write!(f, "“{words}”"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AIR: [SheetUnit; 2] = [SheetUnit::Bar, SheetUnit::Psi];

    fn number(value: f64, unit: SheetUnit) -> Option<Entry> {
        Some(Entry::Number(Typed { value, unit }))
    }

    #[test]
    fn what_was_typed_is_kept() {
        let read = |text| Entry::read(text, SheetUnit::Bar, &AIR);
        assert_eq!(read(" 4,2 "), number(4.2, SheetUnit::Bar));
        assert_eq!(read("60psi"), number(60.0, SheetUnit::Psi));
        assert_eq!(read("60 PSI"), number(60.0, SheetUnit::Psi));
        assert_eq!(read("  "), None);
        for words in ["soft", "4.2.1", "8 clicks", "-", "1e999", "60 furlongs"] {
            assert_eq!(read(words), Some(Entry::Words(words.to_owned())), "{words}");
        }
        for text in ["4,2", "60 psi", "as it came"] {
            let entry = read(text).unwrap();
            let json = serde_json::to_string(&entry).unwrap();
            assert_eq!(serde_json::from_str::<Entry>(&json).unwrap(), entry);
        }
        assert_eq!(serde_json::to_string(&read("60 psi")).unwrap(), r#"{"value":60.0,"unit":"psi"}"#);
        assert!(serde_json::from_str::<Typed>(r#"{"value":60.0,"unit":"furlong"}"#).is_err());
    }

    /// NIST SP 811, appendix B.8: lbf/in^2 is 6.894757 E+03 Pa, lbf/in 1.751268 E+02 N/m.
    #[test]
    fn handbook_factors() {
        assert!((SheetUnit::Psi.to_si(1.0) - 6_894.757).abs() < 1e-3);
        assert!((SheetUnit::PoundPerInch.to_si(1.0) - 175.1268).abs() < 1e-4);
        assert_eq!(SheetUnit::NewtonPerMillimetre.to_si(60.0), 60e3);
        assert!((SheetUnit::Percent.to_si(30.0) - 0.3).abs() < 1e-12);
        for unit in SheetUnit::ALL {
            assert_eq!(SheetUnit::parse(unit.symbol()), Some(unit));
        }
    }
}
