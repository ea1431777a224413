//! How one file is written: found by looking at its head, shown, and correctable.

use serde::{Deserialize, Serialize};

use super::header::is_index;
use crate::unit::Unit;

/// Character encoding of a text file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Encoding {
    /// UTF-8, with or without byte order mark.
    Utf8,
    /// UTF-16, little-endian.
    Utf16Le,
    /// UTF-16, big-endian.
    Utf16Be,
    /// ISO 8859-1 with the Windows-1252 additions.
    Latin1,
}

/// What kind of file it is, told by its content.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// Rows of cells, one a line.
    #[default]
    DelimitedText,
    /// A GPX 1.1 track.
    Gpx,
    /// NMEA 0183 sentences.
    Nmea,
}

/// Where a row's time comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TimeBase {
    /// A number column: elapsed time, a counter, or Unix time, in this unit.
    Number {
        /// Column index in the file.
        column: usize,
        /// Its unit.
        unit: Unit,
    },
    /// `h:mm:ss.sss`, `m:ss.sss` or ISO 8601 text.
    Clock {
        /// Column index in the file.
        column: usize,
    },
    /// A sample index counted at a known rate.
    Index {
        /// Column index in the file.
        column: usize,
        /// Samples per second, Hz.
        rate_hz: f64,
    },
    /// No time column: rows come at a known rate.
    Rate {
        /// Rows per second, Hz.
        rate_hz: f64,
    },
    /// Nothing in the file says it; a rate must be typed before the file can be used.
    Unknown,
}

impl TimeBase {
    /// Index of the column that holds the time, where there is one.
    pub fn column(self) -> Option<usize> {
        match self {
            Self::Number { column, .. } | Self::Clock { column } | Self::Index { column, .. } => Some(column),
            Self::Rate { .. } | Self::Unknown => None,
        }
    }
}

/// How one file is written. What is said of cells and rows counts for delimited text only: the other
/// formats have theirs by their standard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// What kind of file it is.
    #[serde(default)]
    pub format: Format,
    /// Character encoding.
    pub encoding: Encoding,
    /// Field separator, an ASCII character; a space stands for any run of blanks.
    pub delimiter: char,
    /// Decimal separator, `.` or `,`.
    pub decimal: char,
    /// Lines before the first row of numbers: comments, metadata, headers, units.
    pub skip_lines: usize,
    /// Header of each column, without its unit.
    pub headers: Vec<String>,
    /// Unit text of each column, empty where none is given.
    pub units: Vec<String>,
    /// Where time comes from.
    pub time: TimeBase,
    /// What had to be guessed and is worth a look, in plain words; repeated among the warnings of
    /// what is read with this layout.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<String>,
}

impl Layout {
    /// The file columns that become [`Source::columns`](crate::Source::columns), in that order: all
    /// but the time column.
    pub fn data_columns(&self) -> impl Iterator<Item = usize> + use<> {
        let time = self.time.column();
        (0..self.headers.len()).filter(move |&column| Some(column) != time)
    }

    /// The columns that a track file of a format becomes: position, height, and the speed and course over
    /// ground where the format has them. Their headers are such that their roles are plain.
    pub(super) fn of_track(format: Format, encoding: Encoding) -> Self {
        let columns = [
            ("time", ""),
            ("latitude", "deg"),
            ("longitude", "deg"),
            ("height", "m"),
            ("GPS speed", "m/s"),
            ("GPS course", "deg"),
        ];
        let kept = if format == Format::Gpx { 5 } else { 6 };
        let (headers, units) =
            columns[..kept].iter().map(|(header, unit)| (header.to_string(), unit.to_string())).unzip();
        Self {
            format,
            encoding,
            delimiter: ',',
            decimal: '.',
            skip_lines: 0,
            headers,
            units,
            time: TimeBase::Clock { column: 0 },
            doubts: Vec::new(),
        }
    }

    /// Takes time from a typed rate, Hz, and from the sample index where a header names one (so that
    /// missing rows show).
    pub fn set_rate(&mut self, rate_hz: f64) {
        let index = self.headers.iter().position(|header| is_index(header));
        self.time = match index {
            Some(column) => TimeBase::Index { column, rate_hz },
            None => TimeBase::Rate { rate_hz },
        };
    }
}
