//! The numbers of a read-out by the path of their keys, whatever they are called.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

/// A number, or the reason why it is not measured.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// A value.
    Number(f64),
    /// Not measured, and why.
    Not(String),
}

/// Every quantity below `readout`, by path: `front.ride_height_m`, `front.time_in_tenths.3`.
///
/// # Panics
/// If it cannot be written as JSON.
pub fn numbers(readout: &impl Serialize) -> BTreeMap<String, Found> {
    let json = serde_json::to_value(readout).unwrap_or_else(|error| panic!("{error}"));
    let mut found = BTreeMap::new();
    collect(&json, String::new(), &mut found);
    found
}

fn collect(json: &Value, path: String, found: &mut BTreeMap<String, Found>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match json {
        Value::Number(number) => {
            found.insert(path, Found::Number(number.as_f64().unwrap_or(f64::NAN)));
        }
        Value::Object(fields) => match (fields.get("value"), fields.get("reason")) {
            (Some(Value::Null), reason) => {
                let reason = reason.and_then(Value::as_str).unwrap_or_default();
                found.insert(path, Found::Not(reason.to_owned()));
            }
            (Some(value), _) => collect(value, path, found),
            _ => fields.iter().for_each(|(key, value)| collect(value, below(key), found)),
        },
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(i, item)| collect(item, below(&i.to_string()), found));
        }
        _ => {}
    }
}
