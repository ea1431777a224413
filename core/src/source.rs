//! One file from one logger, as it was read: raw numbers on the logger's own clock.

use serde::{Deserialize, Serialize};

use crate::import::Layout;

/// A column of raw numbers, in the unit the file used. A blank or unreadable cell is NaN.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The header as written, without the unit.
    pub header: String,
    /// The unit as written, empty if the file names none.
    pub unit_text: String,
    /// Added to every value: lets an `f32` column hold angles that need an `f64`
    /// (GPS positions to the millimetre); 0 for all others.
    pub origin: f64,
    /// One value per row of [`Source::time_s`].
    pub values: Vec<f32>,
}

/// One stretch of one file: strictly increasing time stamps on one clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// File name, with the part added where the logger restarted.
    pub name: String,
    /// Time of each row on the logger's own clock, s, strictly increasing. Starts where the
    /// logger's counter does; absolute times start at 0 and keep their origin in
    /// [`epoch_unix_s`](Self::epoch_unix_s).
    pub time_s: Vec<f64>,
    /// Unix time of `time_s == 0`, s, where the file says it.
    pub epoch_unix_s: Option<f64>,
    /// The columns, the time column left out.
    pub columns: Vec<Column>,
    /// How the text was read.
    pub layout: Layout,
    /// What reading found.
    pub report: Report,
}

impl Source {
    /// Header of each column.
    pub fn headers(&self) -> impl Iterator<Item = &str> {
        self.columns.iter().map(|column| column.header.as_str())
    }
}

/// What reading one source found.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Rows kept.
    pub rows: usize,
    /// 1 / median step, Hz.
    pub rate_hz: f64,
    /// Half the width of the middle 90 % of steps, s.
    pub jitter_s: f64,
    /// Steps of more than three median steps.
    pub gaps: usize,
    /// Rows dropped (double or wild time stamps, unreadable).
    pub dropped: usize,
    /// In plain words, each with its line where it has one.
    pub warnings: Vec<String>,
}
