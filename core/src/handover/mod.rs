//! Hand-over: what leaves the browser, and what comes back.
//!
//! A [`DayFile`] is a day with every sample, as a ZIP of JSON and bare numbers. [`Remarks`] travel with it and merge
//! without overwriting. Whatever comes in may be damaged or hostile: it ends in a [`Refused`], in time and memory
//! that grow with its size only.

mod any_f64;
mod contents;
mod csv;
mod day_file;
mod link;
mod manifest;
mod parquet;
mod refused;
mod remark;
#[cfg(feature = "seal")]
mod seal;
mod tables;
mod thrift;
mod unzip;

pub use contents::Content;
pub use csv::{Cell, csv};
pub use day_file::{DayFile, ZIP_MARK};
pub use link::{
    Extract, ExtractChannel, Fits, Link, MAX_FRAGMENT, MAX_INFLATED, Pointer, Stretch, View, quantum,
};
pub use manifest::{Manifest, SCHEMA, StoredColumn, StoredReport, StoredSource};
pub use parquet::parquet;
pub use refused::Refused;
pub use remark::{Remark, RemarkAt, RemarkPlace, Remarks, RunName};
#[cfg(feature = "seal")]
pub use seal::{
    KeyPair, Lock, MAX_WORK_FACTOR, MAX_WORK_FACTOR_PHONE, Opener, WORK_FACTOR, Wants, is_sealed, open, seal,
    wants,
};
pub use tables::numbers_as_csv;
pub use unzip::{MAX_DAY_JSON, MAX_ENTRIES, MAX_RATIO, MAX_UNPACKED};
