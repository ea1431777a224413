//! GPX 1.1 tracks (the schema `http://www.topografix.com/GPX/1/1`): position, height and time of every track
//! point. Routes, waypoints and extensions are left alone.
//!
//! Names are told without their prefix. Nothing is fetched and no entity is expanded: a document type that
//! declares some is refused, since the schema knows none.

use std::borrow::Cow;

use quick_xml::errors::{Error, IllFormedError, SyntaxError};
use quick_xml::events::{BytesStart, Event};

use super::clock::{self, Clock};
use super::rows::Rows;
use super::{Encoding, ImportError, encoding};
use crate::geodesy::ground_distance_m;

/// No track is larger, bytes: twenty points a second for two days and nights.
const MAX_BYTES: usize = 256 << 20;
/// No track nests deeper.
const MAX_DEPTH: usize = 64;
/// No number and no time is longer, bytes.
const MAX_VALUE: usize = 64;

/// True for the head of a GPX file.
pub(super) fn is_gpx(head: &str) -> bool {
    let head = head.trim_start();
    let root = head.find("<gpx").or_else(|| head.find(":gpx"));
    head.starts_with('<') && root.is_some()
}

/// A file while it arrives.
#[derive(Debug)]
pub(super) struct Gpx {
    bytes: Vec<u8>,
    encoding: Encoding,
}

/// One track point.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Point {
    offset: usize,
    segment: usize,
    time: Option<Clock>,
    latitude_deg: f64,
    longitude_deg: f64,
    height_m: f64,
}

impl Gpx {
    pub(super) fn new(encoding: Encoding) -> Self {
        Self { bytes: Vec::new(), encoding }
    }

    pub(super) fn feed(&mut self, bytes: &[u8], name: &str) -> Result<(), ImportError> {
        if self.bytes.len() + bytes.len() > MAX_BYTES {
            let problem = format!("the track file is larger than {} MiB", MAX_BYTES >> 20);
            return Err(ImportError::at(name, 1, problem, "export only the track of this run"));
        }
        self.bytes.extend_from_slice(bytes);
        Ok(())
    }

    /// Reads the points into `rows`. GPX 1.1 holds no speed: it is worked out from the positions.
    pub(super) fn finish(self, rows: &mut Rows) -> Result<(), ImportError> {
        // UTF-16 arrives as UTF-8 already.
        let text = match self.encoding {
            Encoding::Latin1 => encoding::decode(&self.bytes, Encoding::Latin1),
            _ => encoding::decode(&self.bytes, Encoding::Utf8),
        };
        let text = text.trim_end_matches('\0');
        let mut walk = Walk::new(text, rows.name());
        walk.read()?;
        let Walk { points, segments, cut, .. } = walk;
        let refuse = |problem: &str, remedy: &str| Err(ImportError::at(rows.name(), 1, problem, remedy));
        if points.is_empty() {
            return refuse(
                "the GPX file has no track points",
                "export the recorded track, not a route or waypoints",
            );
        }
        if points.iter().all(|point| point.time.is_none()) {
            return refuse(
                "the points of the track have no times",
                "export the track as recorded, with time stamps",
            );
        }
        if segments > 1 {
            rows.warnings.push(format!(
                "the track has {segments} segments; where the pause between two is no longer than three steps it \
                 is not seen as a gap"
            ));
        }
        if let Some(offset) = cut {
            let line = line_and_column(text, offset).0;
            rows.warnings.push(format!(
                "line {line}: the file ends in the middle of the track; the points before are kept"
            ));
        }
        let speeds = speeds_mps(&points);
        let mut lines = LineCount { text, offset: 0, line: 1 };
        for (point, speed_mps) in points.iter().zip(speeds) {
            let values = [point.latitude_deg, point.longitude_deg, point.height_m, speed_mps];
            rows.point(lines.at(point.offset), point.time, &values);
        }
        Ok(())
    }
}

/// Speed over ground at each point, m/s: distance over time from the point before to the one after, of the
/// same segment; at its ends, from the neighbour.
fn speeds_mps(points: &[Point]) -> Vec<f64> {
    let time_s = |point: &Point| point.time.map_or(f64::NAN, Clock::seconds);
    let between = |a: &Point, b: &Point| {
        let seconds = time_s(b) - time_s(a);
        let metres = ground_distance_m(
            [a.latitude_deg.to_radians(), a.longitude_deg.to_radians()],
            [b.latitude_deg.to_radians(), b.longitude_deg.to_radians()],
        );
        if seconds > 0.0 { metres / seconds } else { f64::NAN }
    };
    let speed = |k: usize| {
        let here = points.get(k)?;
        let fellow = |k: Option<usize>| points.get(k?).filter(|point| point.segment == here.segment);
        match (fellow(k.checked_sub(1)), fellow(Some(k + 1))) {
            // By way of the point itself: over a bend the chord would be too short.
            (Some(a), Some(b)) => {
                let (before, after) = (time_s(here) - time_s(a), time_s(b) - time_s(here));
                Some((between(a, here) * before + between(here, b) * after) / (before + after))
            }
            (Some(a), None) => Some(between(a, here)),
            (None, Some(b)) => Some(between(here, b)),
            (None, None) => None,
        }
    };
    (0..points.len()).map(|k| speed(k).unwrap_or(f64::NAN)).collect()
}

/// Elements that matter, by where they stand.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    Root,
    Gpx,
    Track,
    Segment,
    Point,
    Height,
    Time,
    Other,
}

impl Place {
    /// The element `name` inside of this one.
    fn inside(self, name: &str) -> Self {
        match (self, name) {
            (Self::Root, "gpx") => Self::Gpx,
            (Self::Gpx, "trk") => Self::Track,
            (Self::Track, "trkseg") => Self::Segment,
            (Self::Segment, "trkpt") => Self::Point,
            (Self::Point, "ele") => Self::Height,
            (Self::Point, "time") => Self::Time,
            _ => Self::Other,
        }
    }
}

struct Walk<'t> {
    text: &'t str,
    name: &'t str,
    open: Vec<Place>,
    /// Text of the number or time that is open.
    value: String,
    point: Option<Point>,
    points: Vec<Point>,
    segments: usize,
    /// Where the file ends in the middle of something.
    cut: Option<usize>,
}

impl<'t> Walk<'t> {
    fn new(text: &'t str, name: &'t str) -> Self {
        Self {
            text,
            name,
            open: Vec::new(),
            value: String::new(),
            point: None,
            points: Vec::new(),
            segments: 0,
            cut: None,
        }
    }

    fn read(&mut self) -> Result<(), ImportError> {
        let mut reader = quick_xml::Reader::from_str(self.text);
        loop {
            let offset = reader.buffer_position() as usize;
            match reader.read_event() {
                Ok(Event::Start(start)) => self.start(&start, offset)?,
                Ok(Event::Empty(start)) => {
                    self.start(&start, offset)?;
                    self.end();
                }
                Ok(Event::End(_)) => self.end(),
                Ok(Event::Text(text)) => self.take(&text.xml10_content()),
                Ok(Event::CData(text)) => self.take(&text.xml10_content()),
                Ok(Event::GeneralRef(reference)) => match reference.resolve_char_ref() {
                    Ok(Some(c)) => self.take(c.encode_utf8(&mut [0; 4])),
                    // Not expanded: a number that holds one is none.
                    _ => self.take("&"),
                },
                Ok(Event::DocType(declared)) => {
                    if declared.contains('[') {
                        return Err(self.refuse(
                            offset,
                            "the file declares entities of its own, which GPX does not have",
                            "export the track again from the device or its software",
                        ));
                    }
                }
                Ok(Event::Eof) => {
                    if !self.open.is_empty() {
                        self.cut = Some(self.text.len());
                    }
                    return Ok(());
                }
                Ok(Event::Comment(_) | Event::Decl(_) | Event::PI(_)) => {}
                Err(error) if is_cut(&error) && !self.points.is_empty() => {
                    self.cut = Some(reader.error_position() as usize);
                    return Ok(());
                }
                Err(error) => {
                    let problem = format!("the XML is not well-formed ({error})");
                    return Err(self.refuse(
                        reader.error_position() as usize,
                        &problem,
                        "export the track again, or repair this place",
                    ));
                }
            }
        }
    }

    fn refuse(&self, offset: usize, problem: &str, remedy: &str) -> ImportError {
        let (line, column) = line_and_column(self.text, offset);
        ImportError::at(self.name, line, problem, remedy).in_column(column - 1)
    }

    fn start(&mut self, start: &BytesStart<'_>, offset: usize) -> Result<(), ImportError> {
        if self.open.len() >= MAX_DEPTH {
            let problem = format!("elements are nested deeper than {MAX_DEPTH}");
            return Err(self.refuse(offset, &problem, "check that this is a GPX track"));
        }
        let outer = self.open.last().copied().unwrap_or(Place::Root);
        let place = outer.inside(start.local_name().as_ref());
        self.open.push(place);
        match place {
            Place::Segment => self.segments += 1,
            Place::Point => {
                self.point = Some(Point {
                    offset,
                    segment: self.segments,
                    time: None,
                    latitude_deg: degrees(start, "lat", 90.0),
                    longitude_deg: degrees(start, "lon", 180.0),
                    height_m: f64::NAN,
                });
            }
            Place::Height | Place::Time => self.value.clear(),
            _ => {}
        }
        Ok(())
    }

    fn take(&mut self, text: &str) {
        // A value that is too long stays so, and is none.
        if matches!(self.open.last(), Some(Place::Height | Place::Time)) && self.value.len() <= MAX_VALUE {
            self.value.push_str(text.get(..MAX_VALUE + 1).unwrap_or(text));
        }
    }

    fn end(&mut self) {
        match (self.open.pop(), &mut self.point) {
            (Some(Place::Height), Some(point)) => point.height_m = number(&self.value),
            (Some(Place::Time), Some(point)) => {
                let read = clock::read(self.value.as_bytes());
                point.time = read.filter(|clock| matches!(clock, Clock::Date { .. }));
            }
            (Some(Place::Point), point) => self.points.extend(point.take()),
            _ => {}
        }
    }
}

/// An `xsd:decimal`; NaN where it is none.
fn number(text: &str) -> f64 {
    text.trim().parse().ok().filter(|value: &f64| value.is_finite()).unwrap_or(f64::NAN)
}

/// An angle from an attribute; NaN where it is missing or beyond its largest magnitude.
fn degrees(start: &BytesStart<'_>, name: &str, largest: f64) -> f64 {
    let found = start
        .attributes()
        .with_checks(false)
        .filter_map(Result::ok)
        .find(|attribute| attribute.key.as_ref() == name)
        .map_or(f64::NAN, |attribute| number(&Cow::from(attribute.value)));
    if found.abs() <= largest { found } else { f64::NAN }
}

/// Whether the file just ends too early.
fn is_cut(error: &Error) -> bool {
    match error {
        Error::Syntax(error) => !matches!(error, SyntaxError::InvalidBangMarkup),
        Error::IllFormed(error) => matches!(error, IllFormedError::MissingEndTag(_)),
        _ => false,
    }
}

/// Line and column, from 1, of a place in the text.
fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let before = text.as_bytes().get(..offset).unwrap_or(text.as_bytes());
    let line = memchr::memchr_iter(b'\n', before).count() + 1;
    let start = memchr::memrchr(b'\n', before).map_or(0, |at| at + 1);
    (line, String::from_utf8_lossy(&before[start..]).chars().count() + 1)
}

/// Lines of places that only go forward.
struct LineCount<'t> {
    text: &'t str,
    offset: usize,
    line: usize,
}

impl LineCount<'_> {
    fn at(&mut self, offset: usize) -> usize {
        let passed = self.text.as_bytes().get(self.offset..offset).unwrap_or_default();
        self.line += memchr::memchr_iter(b'\n', passed).count();
        self.offset = offset;
        self.line
    }
}
