//! A number with its evidence, or the reason why there is none.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Why a quantity is not measured, in a sentence fit for the screen
/// ("front travel is logged at 100 Hz; peak speeds need 200 Hz").
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct NotMeasured(pub String);

impl NotMeasured {
    /// A reason.
    pub fn because(reason: impl Into<String>) -> Self {
        Self(reason.into())
    }
}

impl fmt::Display for NotMeasured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not measured: {}", self.0)
    }
}

impl std::error::Error for NotMeasured {}

/// A quantity with its evidence, or with the reason why it is not measured.
///
/// In JSON: `{"value": 0.052, "n": 31, "interval": [0.049, 0.055]}`, where `n` and `interval` stand
/// only where there is one, or `{"value": null, "reason": "..."}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured<T = f64> {
    value: Option<T>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    reason: Option<NotMeasured>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    n: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none", default = "Option::default")]
    interval: Option<[T; 2]>,
}

impl<T> Measured<T> {
    /// A plain value.
    pub fn value(value: T) -> Self {
        Self { value: Some(value), reason: None, n: None, interval: None }
    }

    /// Not measured, and why.
    pub fn not(reason: NotMeasured) -> Self {
        Self { value: None, reason: Some(reason), n: None, interval: None }
    }

    /// Adds how many events or samples the value rests on.
    pub fn with_n(self, n: usize) -> Self {
        Self { n: Some(n), ..self }
    }

    /// Adds the 95 % interval.
    pub fn with_interval(self, interval: [T; 2]) -> Self {
        Self { interval: Some(interval), ..self }
    }

    /// The value, or the reason for its absence.
    pub fn get(&self) -> Result<&T, NotMeasured> {
        self.value.as_ref().ok_or_else(|| {
            self.reason.clone().unwrap_or_else(|| NotMeasured::because("the file gives no reason"))
        })
    }

    /// How many events or samples the value rests on.
    pub fn n(&self) -> Option<usize> {
        self.n
    }

    /// The 95 % interval.
    pub fn interval(&self) -> Option<&[T; 2]> {
        self.interval.as_ref()
    }
}

impl<T> From<Result<T, NotMeasured>> for Measured<T> {
    fn from(result: Result<T, NotMeasured>) -> Self {
        result.map_or_else(Self::not, Self::value)
    }
}
