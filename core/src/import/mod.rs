//! From a logger's file to [`Source`](crate::Source)s: raw numbers on the logger's own clock.
//!
//! A file is delimited text, a GPX track or NMEA sentences, told by its content.
//! [`sniff`] finds how a file is written from its head, [`Reader`] reads it as its bytes arrive, and
//! [`guess_channels`] says what its columns may mean. [`read`] does the first two for a file that is
//! in memory.

mod cell;
mod clock;
mod encoding;
mod error;
mod finish;
mod gpx;
mod header;
mod layout;
mod lines;
mod magic;
mod nmea;
mod plain;
mod reader;
mod record;
mod roles;
mod rows;
mod sniff;
mod stamps;
mod steps;
mod time_column;
mod vocabulary;

pub use error::ImportError;
pub use layout::{Encoding, Format, Layout, TimeBase};
pub use reader::{Imported, Reader, read};
pub use roles::{guess_channels, guess_role};
pub use sniff::{SNIFF_BYTES, sniff};

#[cfg(test)]
mod tests;
