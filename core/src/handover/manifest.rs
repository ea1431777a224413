//! `day.json`: everything about a day but its samples, with the version of its schema.
//!
//! | schema | what it is |
//! | --- | --- |
//! | 0 | a [`Day`] and nothing else, without a version |
//! | 1 | `schema`, `id`, `copy`, `day`, `remarks`, `sources` |
//!
//! A change that older versions cannot read raises [`SCHEMA`] and adds one step to `STEPS`, which turns the JSON of the
//! version before into the new one. Fields that may be left out need no new version.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{Refused, Remarks, any_f64};
use crate::day::Day;
use crate::import::Layout;
use crate::source::{Column, Report, Source};

/// The version of the schema that is written.
pub const SCHEMA: u64 = 1;

/// What to do about a number that cannot be written.
const ANEW: &str = "type that number anew";

/// From each version to the next.
const STEPS: [fn(Value) -> Value; SCHEMA as usize] = [day_alone];

/// Everything about a day but its samples.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Manifest {
    /// The version of this schema.
    pub schema: u64,
    /// Tells this day from any other, so that remarks come back to the right one; empty where it never left.
    #[serde(default)]
    pub id: String,
    /// It is somebody else's, to look at and to remark on.
    #[serde(default)]
    pub copy: bool,
    /// What is typed.
    pub day: Day,
    /// What others say.
    #[serde(default)]
    pub remarks: Remarks,
    /// What was measured, without the samples.
    #[serde(default)]
    pub sources: Vec<StoredSource>,
}

/// A [`Source`] without its samples, and the files they are in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StoredSource {
    /// As [`Source::name`].
    pub name: String,
    /// As [`Source::epoch_unix_s`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub epoch_unix_s: Option<f64>,
    /// As [`Source::layout`].
    pub layout: Layout,
    /// As [`Source::report`].
    pub report: StoredReport,
    /// Number of samples of each column.
    pub rows: u64,
    /// File of the time stamps, s, little-endian `f64`.
    pub time: String,
    /// The columns.
    pub columns: Vec<StoredColumn>,
}

/// A [`Report`], whose numbers need not be finite.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StoredReport {
    rows: usize,
    #[serde(with = "any_f64")]
    rate_hz: f64,
    #[serde(with = "any_f64")]
    jitter_s: f64,
    gaps: usize,
    dropped: usize,
    warnings: Vec<String>,
}

/// A [`Column`] without its samples, and the file they are in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StoredColumn {
    /// As [`Column::header`].
    pub header: String,
    /// As [`Column::unit_text`].
    pub unit_text: String,
    /// As [`Column::origin`]: to be added to every sample.
    #[serde(with = "any_f64")]
    pub origin: f64,
    /// File of the samples, little-endian `f32`, NaN where one is missing.
    pub file: String,
}

impl StoredSource {
    /// The `index`th source of a day. Files are named by number: no name from a log becomes a path.
    pub fn of(index: usize, source: &Source) -> Self {
        let Report { rows, rate_hz, jitter_s, gaps, dropped, ref warnings } = source.report;
        let column = |(number, column): (usize, &Column)| StoredColumn {
            header: column.header.clone(),
            unit_text: column.unit_text.clone(),
            origin: column.origin,
            file: format!("logs/{index}/{number}.f32"),
        };
        Self {
            name: source.name.clone(),
            epoch_unix_s: source.epoch_unix_s,
            layout: source.layout.clone(),
            report: StoredReport { rows, rate_hz, jitter_s, gaps, dropped, warnings: warnings.clone() },
            rows: source.time_s.len() as u64,
            time: format!("logs/{index}/time.f64"),
            columns: source.columns.iter().enumerate().map(column).collect(),
        }
    }

    /// The source again, with its samples.
    ///
    /// # Errors
    /// Columns that are missing or of another length than the time, time that does not rise.
    pub fn with_samples(self, time_s: Vec<f64>, samples: Vec<Vec<f32>>) -> Result<Source, Refused> {
        let refuse = |what: String| Err(Refused::because(what, "ask for the file again"));
        let name = &self.name;
        if self.rows != time_s.len() as u64 {
            return refuse(format!("{name} has {} rows, not the {} it says", time_s.len(), self.rows));
        }
        if samples.len() != self.columns.len() || samples.iter().any(|column| column.len() != time_s.len()) {
            return refuse(format!("the columns of {name} are not as long as its time"));
        }
        let rises = time_s.windows(2).all(|pair| pair[0] < pair[1]);
        if !rises || time_s.iter().any(|time| !time.is_finite()) {
            return refuse(format!("the time of {name} does not rise"));
        }
        let StoredReport { rows, rate_hz, jitter_s, gaps, dropped, warnings } = self.report;
        let column = |(column, values): (StoredColumn, Vec<f32>)| {
            let StoredColumn { header, unit_text, origin, .. } = column;
            Column { header, unit_text, origin, values }
        };
        Ok(Source {
            name: self.name,
            time_s,
            epoch_unix_s: self.epoch_unix_s,
            columns: self.columns.into_iter().zip(samples).map(column).collect(),
            layout: self.layout,
            report: Report { rows, rate_hz, jitter_s, gaps, dropped, warnings },
        })
    }
}

impl Manifest {
    /// Whether it holds remarks and nothing that could be looked at.
    pub fn has_remarks_alone(&self) -> bool {
        self.copy && self.day.runs.is_empty() && self.day.coming.is_empty() && self.sources.is_empty()
    }

    /// As JSON, with the version of today. What is not finite is lost: whoever writes looks for it, as
    /// [`to_json`](Self::to_json) does by reading.
    ///
    /// # Errors
    /// What JSON cannot hold at all.
    pub fn written(&self) -> Result<Vec<u8>, Refused> {
        serde_json::to_vec(&Self { schema: SCHEMA, ..self.clone() })
            .map_err(|error| Refused::because(error.to_string(), ANEW))
    }

    /// As JSON, with the version of today.
    ///
    /// # Errors
    /// Where a number of the day is not finite and could not be read again: the message shows what stands before it.
    pub fn to_json(&self) -> Result<Vec<u8>, Refused> {
        let written = self.written()?;
        match serde_json::from_slice::<Self>(&written) {
            Ok(_) => Ok(written),
            Err(error) => {
                let end = error.column().min(written.len());
                let before =
                    String::from_utf8_lossy(written.get(end.saturating_sub(60)..end).unwrap_or_default());
                Err(Refused::because(format!("the day holds a number that is none, after {before}"), ANEW))
            }
        }
    }

    /// From JSON of any version.
    ///
    /// # Errors
    /// Text that is no JSON, a version newer than this program, a field that is missing or of another kind.
    pub fn from_json(json: &[u8]) -> Result<Self, Refused> {
        let not_a_day = |error: serde_json::Error| {
            Refused::because(format!("this is no day file ({error})"), "export it again")
        };
        let mut value: Value = serde_json::from_slice(json).map_err(not_a_day)?;
        let version = match value.get("schema") {
            None => 0,
            Some(version) => version.as_u64().unwrap_or(u64::MAX),
        };
        if version > SCHEMA {
            return Err(Refused::because(
                format!(
                    "this day was written by a newer version (schema {version}, known is up to {SCHEMA})"
                ),
                "open it with that version",
            ));
        }
        for step in STEPS.iter().skip(version as usize) {
            value = step(value);
        }
        let read: Self = serde_json::from_value(value).map_err(not_a_day)?;
        Ok(Self { schema: SCHEMA, ..read })
    }
}

/// 0 to 1: the day was all there was.
fn day_alone(day: Value) -> Value {
    json!({ "schema": 1, "day": day })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::day::{Film, MarkedMoment, RunSheet, Video};

    const DAY: &str =
        r#"{"name":"Wet","bike":BIKE,"runs":[{"name":"Run 1","words":"ok","setup":"rebound in","logs":[]}]}"#;

    fn day() -> String {
        DAY.replace("BIKE", &serde_json::to_string(&crate::Bike::default()).unwrap())
    }

    #[test]
    fn every_version_is_read_and_written_as_the_newest() {
        let version_0 = day();
        let version_1 = format!(
            r#"{{"schema":1,"id":"d1","copy":true,"day":{version_0},"remarks":[{{"written_ms":5,"id":"r","author":"A","words":"B","place":{{"run":{{"name":"Run 1","log":"a.csv"}},"at":{{"time_us":7}}}}}}],"sources":[]}}"#
        );
        let read: Vec<Manifest> =
            [version_0, version_1].iter().map(|json| Manifest::from_json(json.as_bytes()).unwrap()).collect();
        assert!(read.iter().all(|day| day.schema == SCHEMA && day.day == read[0].day));
        assert_eq!(read[0].day.runs[0].setup.words, "rebound in");
        assert_eq!((read[0].id.as_str(), read[0].copy, read[0].remarks.iter().len()), ("", false, 0));
        assert_eq!((read[1].id.as_str(), read[1].copy, read[1].remarks.iter().len()), ("d1", true, 1));
        for manifest in read {
            assert_eq!(Manifest::from_json(&manifest.to_json().unwrap()).unwrap(), manifest);
        }
        assert_eq!(STEPS.len() as u64, SCHEMA);
    }

    #[test]
    fn what_cannot_be_read_says_why() {
        let why = |json: &str| Manifest::from_json(json.as_bytes()).unwrap_err().to_string();
        assert!(why("{").contains("no day file") && why("[1]").contains("no day file"));
        assert!(why("7").contains("no day file") && why("").contains("no day file"));
        assert!(why(&format!(r#"{{"schema":2,"day":{}}}"#, day())).contains("newer"));
        assert!(why(&format!(r#"{{"schema":-1,"day":{}}}"#, day())).contains("newer"));
        assert!(why(&format!("{}1{}", "[".repeat(100_000), "]".repeat(100_000))).contains("recursion"));
    }

    #[test]
    fn a_number_that_json_cannot_hold_is_told_before_it_is_lost() {
        let mut manifest = Manifest::from_json(day().as_bytes()).unwrap();
        let film = Film { length_s: Some(f64::INFINITY), ..Film::default() };
        manifest.day.runs[0].video = Video { file: Some(film), ..Video::default() };
        let back = Manifest::from_json(&manifest.to_json().unwrap()).unwrap();
        assert_eq!(
            back.day.runs[0].video.file.as_ref().unwrap().length_s,
            None,
            "a film without an end has no length"
        );
        let mark = MarkedMoment { time_s: f64::NAN, name: "here".to_owned() };
        manifest.day.runs.push(RunSheet { marks: vec![mark], ..RunSheet::default() });
        let why = manifest.to_json().unwrap_err().to_string();
        assert!(why.contains("time_s"), "{why}");
    }
}
