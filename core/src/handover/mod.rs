//! Hand-over: what leaves the browser, and what comes back.
//!
//! A [`DayFile`] is a day with every sample, as a ZIP of JSON and bare numbers. [`Remarks`] travel with it and merge
//! without overwriting. Whatever comes in may be damaged or hostile: it ends in a [`Refused`], in time and memory
//! that grow with its size only.

mod any_f64;
mod day_file;
mod manifest;
mod refused;
mod remark;
mod unzip;

pub use day_file::DayFile;
pub use manifest::{Manifest, SCHEMA, StoredColumn, StoredReport, StoredSource};
pub use refused::Refused;
pub use remark::{Remark, RemarkAt, RemarkPlace, Remarks, RunName};
pub use unzip::{MAX_DAY_JSON, MAX_ENTRIES, MAX_RATIO, MAX_UNPACKED};
