//! What the page and its workers say to each other, as bytes: values in the order of their types' fields.
//!
//! The bytes say nothing of what they are: both sides are of one version and know. So the code that reads them is a
//! fraction of what JSON's would be, every number comes through to the last bit, and nothing is ever kept in this form.
//! The compact formats on the registry write every field, so they cannot read what leaves out empty ones
//! (`skip_serializing_if`), as most of a day does; with JSON the page was 290 kB larger, gzipped.
//!
//! | what | bytes |
//! | --- | --- |
//! | whole number | 8, little-endian; `u8` and `bool` 1 |
//! | number | 4 or 8, little-endian |
//! | text, list, map | how many, as a whole number, and each |
//! | option | 1 byte, and what is in it |
//! | struct | of each field 1 byte, which is 0 where it is left out, and the field |
//! | enum | the number of the variant, as a whole number, and what is in it |
//!
//! A type that is written otherwise for people asks `is_human_readable`. Types that must see what they read
//! (`untagged`, `flatten`) cannot come this way.

mod reader;
mod writer;

use std::fmt::{self, Display};

use serde::de::{DeserializeOwned, Expected, Unexpected};
use serde::{Serialize, de, ser};

/// The bytes of a value.
///
/// # Errors
/// If the type refuses.
pub fn to_bytes<T: Serialize + ?Sized>(value: &T) -> Result<Vec<u8>, Mismatch> {
    let mut writer = writer::Writer::default();
    value.serialize(&mut writer)?;
    Ok(writer.bytes)
}

/// Whether every number of a value is one: JSON would lose the others.
pub fn is_finite<T: Serialize + ?Sized>(value: &T) -> bool {
    let mut writer = writer::Writer::default();
    value.serialize(&mut writer).is_ok() && !writer.not_finite
}

/// The value of some bytes.
///
/// # Errors
/// Bytes of another type, too few or too many.
pub fn from_bytes<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Mismatch> {
    let mut reader = reader::Reader { rest: bytes };
    let value = T::deserialize(&mut reader)?;
    if reader.rest.is_empty() { Ok(value) } else { Err(Mismatch) }
}

/// The two sides are not of one version.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mismatch;

impl Display for Mismatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("it is not of this version of the program; reload the page")
    }
}

impl std::error::Error for Mismatch {}

impl ser::Error for Mismatch {
    fn custom<T: Display>(_: T) -> Self {
        Self
    }
}

// Of one sentence for all none need be made.
impl de::Error for Mismatch {
    fn custom<T: Display>(_: T) -> Self {
        Self
    }

    fn invalid_type(_: Unexpected<'_>, _: &dyn Expected) -> Self {
        Self
    }

    fn invalid_value(_: Unexpected<'_>, _: &dyn Expected) -> Self {
        Self
    }

    fn invalid_length(_: usize, _: &dyn Expected) -> Self {
        Self
    }

    fn unknown_variant(_: &str, _: &'static [&'static str]) -> Self {
        Self
    }

    fn unknown_field(_: &str, _: &'static [&'static str]) -> Self {
        Self
    }

    fn missing_field(_: &'static str) -> Self {
        Self
    }

    fn duplicate_field(_: &'static str) -> Self {
        Self
    }
}

#[cfg(test)]
mod tests;
