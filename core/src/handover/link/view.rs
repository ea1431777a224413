//! Where to look, for somebody who has the log.

use serde::{Deserialize, Serialize};

use crate::align::Anchor;
use crate::day::MarkedMoment;
use crate::handover::{Remarks, RunName};
use crate::track::Section;

/// Where to look in a day, with what was typed that helps to see the same; no sample is in it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct View {
    /// Tells the day from any other.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// What the day is called.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub day: String,
    /// The place of the page.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub place: String,
    /// The run in view.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run: Option<RunName>,
    /// The section in view.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub section: Option<String>,
    /// The cursor, on the day's clock, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cursor_s: Option<f64>,
    /// The stretch in view, start and end on the day's clock, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range_s: Option<[f64; 2]>,
    /// The day's sections.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<Section>,
    /// Moments seen both on the run's video and in its log.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub anchors: Vec<Anchor>,
    /// Moments marked in the run.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarkedMoment>,
    /// What was said of the day.
    #[serde(skip_serializing_if = "Remarks::is_empty")]
    pub remarks: Remarks,
}
