//! Whole files in, sources out.

mod damaged;
mod loggers;
mod plain;
mod refused;
mod tracks;

use super::{ImportError, Reader, read, sniff};
use crate::source::Source;

/// A file that holds one part.
fn one(bytes: impl AsRef<[u8]>) -> Source {
    let mut parts = read("log.csv", bytes.as_ref()).unwrap_or_else(|error| panic!("{error}")).parts;
    assert_eq!(parts.len(), 1);
    parts.remove(0)
}

fn refusal(bytes: impl AsRef<[u8]>) -> String {
    let message = read("log.csv", bytes.as_ref()).map(|_| ()).expect_err("must be refused").to_string();
    assert!(!message.contains('\n') && message.starts_with("log.csv:"), "{message}");
    message
}

fn column<'s>(source: &'s Source, header: &str) -> &'s [f32] {
    let found = source.columns.iter().find(|column| column.header == header);
    &found.unwrap_or_else(|| panic!("no \"{header}\" among {:?}", source.layout.headers)).values
}

fn units(source: &Source) -> Vec<&str> {
    source.columns.iter().map(|column| column.unit_text.as_str()).collect()
}

fn warns(source: &Source, text: &str) -> bool {
    source.report.warnings.iter().any(|warning| warning.contains(text))
}

/// As [`read`], in pieces of the given sizes, over and over.
fn read_in_pieces(bytes: &[u8], sizes: &[usize]) -> Result<Vec<Source>, ImportError> {
    let mut reader = Reader::new("log.csv", sniff(bytes, "log.csv")?)?;
    let mut rest = bytes;
    for &size in sizes.iter().cycle() {
        if rest.is_empty() {
            break;
        }
        let (piece, after) = rest.split_at(size.clamp(1, rest.len()));
        reader.feed(piece)?;
        rest = after;
    }
    reader.finish().map(|imported| imported.parts)
}

/// A small generator with a fixed seed (G. Marsaglia, "Xorshift RNGs", 2003, 64 bits: 13, 7, 17).
struct Xorshift(u64);

impl Xorshift {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit.max(1) as u64) as usize
    }
}

/// What was read, with NaN comparable.
fn outcome(result: Result<Vec<Source>, ImportError>) -> String {
    match result {
        Ok(parts) => format!("{parts:?}"),
        Err(error) => error.to_string(),
    }
}
