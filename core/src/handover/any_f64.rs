//! Numbers in JSON that may be infinite or none: as text then, since JSON has no such numbers.

use serde::{Deserialize, Deserializer, Serializer};

#[derive(Deserialize)]
#[serde(untagged)]
enum Written {
    Number(f64),
    Word(String),
}

pub fn serialize<S: Serializer>(number: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if number.is_finite() || !serializer.is_human_readable() {
        serializer.serialize_f64(*number)
    } else {
        serializer.collect_str(number)
    }
}

pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    if !deserializer.is_human_readable() {
        return f64::deserialize(deserializer);
    }
    match Written::deserialize(deserializer)? {
        Written::Number(number) => Ok(number),
        Written::Word(word) => word.parse().map_err(serde::de::Error::custom),
    }
}
