//! Every parser of what a person or a file brings in, with what must hold whatever that is: for the property tests and the
//! fuzzer alike.
#![warn(missing_docs)]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use evenkeel_core::calibrate::Linkage;
use evenkeel_core::handover::{DayFile, Link, Manifest, Opener, open, wants};
use evenkeel_core::import::{self, Encoding, Format, Imported, Layout, Reader, TimeBase};
use evenkeel_core::{Profile, Source, Unit, track};
use flate2::Compression;
use flate2::write::DeflateEncoder;

/// Longest input that is tried, bytes.
pub const LONGEST: usize = 16 << 10;

/// One parser, tried on any bytes; panics where something does not hold.
#[derive(Clone, Copy)]
pub struct Parser {
    /// Name of its folder in `tests/corpus`.
    pub name: &'static str,
    /// Tries it.
    pub try_on: fn(&[u8]),
}

/// Every parser.
pub const PARSERS: [Parser; 11] = [
    Parser { name: "text", try_on: text },
    Parser { name: "gpx", try_on: |bytes| track_file(Format::Gpx, bytes) },
    Parser { name: "nmea", try_on: |bytes| track_file(Format::Nmea, bytes) },
    Parser { name: "linkage", try_on: linkage },
    Parser { name: "splits", try_on: splits },
    Parser { name: "day_json", try_on: day_json },
    Parser { name: "day_zip", try_on: day_zip },
    Parser { name: "age", try_on: age },
    Parser { name: "link", try_on: link },
    Parser { name: "link_extract", try_on: |bytes| link_payload("extract=", bytes) },
    Parser { name: "link_view", try_on: |bytes| link_payload("view=", bytes) },
];

impl Parser {
    /// A parser by name.
    pub fn named(name: &str) -> Option<Self> {
        PARSERS.into_iter().find(|parser| parser.name == name)
    }

    /// Where its examples are: small files, and every one that once did harm.
    pub fn corpus(&self) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../corpus").join(self.name)
    }
}

/// What analysis relies on.
fn assert_sound(source: &Source) {
    assert!(
        source.time_s.iter().all(|t| t.is_finite()) && source.time_s.windows(2).all(|pair| pair[0] < pair[1])
    );
    assert!(source.columns.iter().all(|column| column.values.len() == source.time_s.len()));
    assert_eq!(source.report.rows, source.time_s.len());
}

/// Equal to the last bit, NaN and all.
fn assert_same(a: &Source, b: &Source) {
    assert_eq!(
        (&a.name, a.epoch_unix_s, &a.layout, &a.report),
        (&b.name, b.epoch_unix_s, &b.layout, &b.report)
    );
    assert!(a.time_s == b.time_s && a.columns.len() == b.columns.len());
    for (a, b) in a.columns.iter().zip(&b.columns) {
        assert_eq!((&a.header, &a.unit_text, a.origin), (&b.header, &b.unit_text, b.origin));
        assert!(
            a.values.iter().map(|v| v.to_bits()).eq(b.values.iter().map(|v| v.to_bits())),
            "{}",
            a.header
        );
    }
}

/// Read whole and in pieces: the same, sound, and fit for a day file.
fn assert_reads(name: &str, layout: &Layout, bytes: &[u8], piece: usize) {
    let whole = read(name, layout, bytes, usize::MAX);
    let pieces = read(name, layout, bytes, piece);
    match (whole, pieces) {
        (Ok(whole), Ok(pieces)) => {
            assert_eq!(whole.parts.len(), pieces.parts.len(), "read in pieces of {piece}");
            for (source, other) in whole.parts.iter().zip(&pieces.parts) {
                assert_sound(source);
                assert_same(source, other);
                assert_eq!(Profile::guess(source).channels.len(), source.columns.len());
            }
            // Packing takes longer than reading: not every time.
            if piece.is_multiple_of(16) {
                let sources = whole.parts.into_iter().map(Arc::new).collect();
                let written =
                    DayFile { sources, ..DayFile::default() }.write().expect("what was read can be kept");
                let kept = DayFile::read(&written).expect("what was kept can be read");
                pieces.parts.iter().zip(&kept.sources).for_each(|(source, kept)| assert_same(source, kept));
            }
        }
        (Err(whole), Err(pieces)) => {
            assert_eq!(whole, pieces, "read in pieces of {piece}");
            assert!(!whole.contains(char::is_control), "{whole:?}");
        }
        (whole, pieces) => panic!("in one: {}, in pieces of {piece}: {}", whole.is_ok(), pieces.is_ok()),
    }
}

fn read(name: &str, layout: &Layout, bytes: &[u8], piece: usize) -> Result<Imported, String> {
    let mut reader = Reader::new(name, layout.clone()).map_err(|error| error.to_string())?;
    for piece in bytes.chunks(piece.clamp(1, bytes.len().max(1))) {
        reader.feed(piece).map_err(|error| error.to_string())?;
    }
    reader.finish().map_err(|error| error.to_string())
}

/// A length that depends on the input, so that any cut is tried.
fn piece(bytes: &[u8]) -> usize {
    bytes.iter().take(16).fold(1, |sum, &byte| sum + usize::from(byte)) % 61 + 1
}

fn text(bytes: &[u8]) {
    match import::sniff(bytes, "log.csv") {
        Ok(mut layout) => {
            import::guess_channels(&layout);
            if layout.time == TimeBase::Unknown {
                layout.set_rate(100.0);
            }
            assert_reads("log.csv", &layout, bytes, piece(bytes));
        }
        Err(error) => assert!(!error.to_string().contains(char::is_control)),
    }
}

fn track_file(format: Format, bytes: &[u8]) {
    let layout = Layout {
        format,
        encoding: [Encoding::Utf8, Encoding::Latin1, Encoding::Utf16Le][piece(bytes) / 4 % 3],
        delimiter: ',',
        decimal: '.',
        skip_lines: 0,
        headers: Vec::new(),
        units: Vec::new(),
        time: TimeBase::Unknown,
        doubts: Vec::new(),
    };
    assert_reads("track", &layout, bytes, piece(bytes));
}

fn linkage(bytes: &[u8]) {
    if let Ok(linkage) = Linkage::from_text("linkage.csv", bytes, Unit::Millimetre) {
        assert!(linkage.points_m().iter().flatten().all(|number| number.is_finite()));
        for stroke_m in [-1.0, 0.0, 0.03, 1e6] {
            assert!(linkage.travel_m(stroke_m).is_finite(), "{:?} at {stroke_m}", linkage.points_m());
        }
    }
}

fn splits(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(splits) = track::read_splits("splits.csv", &text) {
        assert!(!splits.is_empty() && splits.iter().all(|split| !split.name.is_empty()));
    }
}

fn day_json(bytes: &[u8]) {
    if let Ok(manifest) = Manifest::from_json(bytes) {
        let written = manifest.to_json().expect("what was read is finite");
        assert_eq!(Manifest::from_json(&written).as_ref(), Ok(&manifest));
    }
}

fn day_zip(bytes: &[u8]) {
    if let Ok(file) = DayFile::read(bytes) {
        for source in &file.sources {
            assert!(source.time_s.windows(2).all(|pair| pair[0] < pair[1]));
            assert!(source.columns.iter().all(|column| column.values.len() == source.time_s.len()));
        }
        let written = file.write().expect("what was read is finite");
        assert_eq!(DayFile::read(&written).and_then(|again| again.write()), Ok(written));
    }
}

/// A key that nobody uses: the examples are sealed for it.
pub const KEY: &str = "AGE-SECRET-KEY-1GFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPQ4EGAEX";

fn age(bytes: &[u8]) {
    let told = wants(bytes);
    // No work at all is allowed: 2^1 rounds at most.
    let opened = [open(bytes, Opener::Key(KEY)), open(bytes, Opener::Passphrase("words", 1))];
    if opened.iter().any(Result::is_ok) {
        assert!(told.is_ok());
    }
    for plain in opened.into_iter().flatten() {
        assert!(plain.len() < bytes.len());
        day_zip(&plain);
    }
}

fn link(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let kind = ["", "view=", "extract=", "sealed="][piece(bytes) % 4];
    match Link::read(&format!("{kind}{text}")) {
        Some(Ok(link)) => assert_link_lasts(&link),
        Some(Err(refused)) => assert!(!refused.to_string().contains(char::is_control)),
        None => {}
    }
}

/// What is inside of a link, so that its checksum stops nobody.
fn link_payload(kind: &str, plain: &[u8]) {
    let mut deflated = DeflateEncoder::new(Vec::new(), Compression::none());
    deflated.write_all(plain).expect("it goes to memory");
    let deflated = deflated.finish().expect("it goes to memory");
    let mut sum = flate2::Crc::new();
    sum.update(&deflated);
    let packed = [&[1], sum.sum().to_le_bytes().as_slice(), &deflated].concat();
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut fragment = kind.to_owned();
    for chunk in packed.chunks(3) {
        let bits = (0..3).fold(0, |bits, k| bits << 8 | chunk.get(k).map_or(0, |&byte| usize::from(byte)));
        fragment.extend((0..=chunk.len()).map(|k| char::from(DIGITS[bits >> (18 - 6 * k) & 63])));
    }
    if let Some(Ok(link)) = Link::read(&fragment) {
        assert_link_lasts(&link);
    }
}

/// What was read from a link can be sent on, and stays what it is.
fn assert_link_lasts(link: &Link) {
    match link.fragment() {
        Ok(fragment) => {
            let again = Link::read(&fragment).expect("it is a link").expect("it is sound");
            assert_eq!(format!("{link:?}"), format!("{again:?}"));
        }
        // Packed with less skill than ours it was short enough; or a number is beyond what JSON holds.
        Err(refused) => assert!(!refused.to_string().is_empty()),
    }
}
