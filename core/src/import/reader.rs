//! The door: bytes in, sources out.

use super::encoding::Utf16;
use super::gpx::Gpx;
use super::lines::{Lines, MAX_LINE, TooLong};
use super::nmea::Nmea;
use super::rows::Rows;
use super::sniff::MAX_COLUMNS;
use super::{Encoding, Format, ImportError, Layout, TimeBase, finish, sniff};
use crate::source::Source;
use crate::unit::Quantity;

/// What one file holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// One source; several where the logger restarted while writing the file.
    pub parts: Vec<Source>,
}

/// Reads one file as its bytes arrive, in pieces cut anywhere.
///
/// Memory grows with the file only: 4 bytes a cell. A line may have 1 MiB, a row 4096 cells, a
/// quoted cell 64 lines, a GPX file 256 MiB; more ends in an error. After an error the reader is of no further use.
///
/// ```
/// use evenkeel_core::import::{Reader, sniff};
/// let bytes = b"time_s,front_travel_mm\n0.00,10.5\n0.01,11.0\n0.02,12.5\n";
/// let mut reader = Reader::new("run.csv", sniff(bytes, "run.csv")?)?;
/// for piece in bytes.chunks(7) {
///     reader.feed(piece)?;
/// }
/// let source = &reader.finish()?.parts[0];
/// assert_eq!(source.columns[0].values, [10.5, 11.0, 12.5]);
/// assert_eq!(source.columns[0].unit_text, "mm");
/// # Ok::<(), evenkeel_core::import::ImportError>(())
/// ```
#[derive(Debug)]
pub struct Reader {
    /// Bytes of the whole file, where known, and taken so far.
    size: Option<f64>,
    fed: f64,
    utf16: Option<Utf16>,
    decoded: Vec<u8>,
    lines: Lines,
    rows: Rows,
    body: Body,
}

/// What becomes of the text.
#[derive(Debug)]
enum Body {
    /// Each line is a row.
    DelimitedText,
    /// Points are told when the file is whole.
    Gpx(Gpx),
    /// Each line is a sentence.
    Nmea(Nmea),
}

impl Reader {
    /// A reader of a file written like `layout`; `name` is for messages and for
    /// [`Source::name`].
    ///
    /// # Errors
    /// A layout that no file can have: no columns or more than 4096, a delimiter or decimal mark that
    /// is not ASCII or the same as the other, a time column that is not there, a rate that is not
    /// positive.
    pub fn new(name: impl Into<String>, layout: Layout) -> Result<Self, ImportError> {
        let name = name.into();
        let (layout, body) = match layout.format {
            Format::DelimitedText => {
                check(&name, &layout)?;
                (layout, Body::DelimitedText)
            }
            // The standard says the columns, whatever was typed.
            format @ Format::Gpx => {
                (Layout::of_track(format, layout.encoding), Body::Gpx(Gpx::new(layout.encoding)))
            }
            format @ Format::Nmea => (Layout::of_track(format, layout.encoding), Body::Nmea(Nmea::default())),
        };
        let utf16 = matches!(layout.encoding, Encoding::Utf16Le | Encoding::Utf16Be)
            .then(|| Utf16::new(layout.encoding));
        let rows = Rows::new(name, layout);
        Ok(Self { size: None, fed: 0.0, utf16, decoded: Vec::new(), lines: Lines::default(), rows, body })
    }

    /// Says how many bytes the file has, so that columns are made as long as they will be instead of growing, which
    /// takes up to three times their memory. A wrong number costs memory or time, nothing else.
    pub fn expect(&mut self, bytes: f64) {
        self.size = Some(bytes);
    }

    /// Reads every row the careful way, to see that the other way finds the same.
    #[cfg(test)]
    pub(super) fn carefully(mut self) -> Self {
        self.rows.patience = usize::MAX;
        self
    }

    /// Takes the next bytes of the file.
    ///
    /// # Errors
    /// A line that is too long, a quote that is never closed, rows with far fewer cells than the
    /// header.
    pub fn feed(&mut self, bytes: &[u8]) -> Result<(), ImportError> {
        let Self { size, fed, utf16, decoded, lines, rows, body } = self;
        *fed += bytes.len() as f64;
        let bytes = match utf16 {
            Some(utf16) => {
                decoded.clear();
                utf16.decode(bytes, decoded);
                decoded.as_slice()
            }
            None => bytes,
        };
        let pushed = match body {
            Body::Gpx(gpx) => return gpx.feed(bytes, rows.name()),
            Body::DelimitedText => delimited(bytes, lines, rows),
            Body::Nmea(nmea) => lines.push(bytes, |number, line| {
                nmea.line(number, line);
                Ok(())
            }),
        };
        if let Some(size) = size {
            rows.make_room(*fed / *size);
        }
        pushed.map_err(|stop| match stop {
            Stop::Refused(error) => error,
            Stop::TooLong(TooLong(line)) => ImportError::at(
                rows.name(),
                line,
                format!("the line is longer than {} KiB", MAX_LINE >> 10),
                "check that this is a log with one row per line",
            ),
        })
    }

    /// Ends the file.
    ///
    /// A last row without a line end may have been cut off by a dying battery. It is dropped if cells
    /// are missing or if its last number is written with fewer decimals (or, without decimals, fewer
    /// digits) than in the row before; both that and keeping it are told in the warnings.
    ///
    /// # Errors
    /// Fewer than two rows, no way to tell time ([`TimeBase::Unknown`]), a time column that is no
    /// clock, XML that is not well-formed, a track without points or times, no sentence with a fix.
    pub fn finish(self) -> Result<Imported, ImportError> {
        let Self { lines, mut rows, body, .. } = self;
        match body {
            Body::DelimitedText => rows.last_line(lines.finish())?,
            Body::Gpx(gpx) => gpx.finish(&mut rows)?,
            Body::Nmea(nmea) => nmea.finish(lines.finish(), &mut rows)?,
        }
        finish::sources(rows).map(|parts| Imported { parts })
    }
}

/// Plain rows at a stretch, any other line by itself.
fn delimited(mut bytes: &[u8], lines: &mut Lines, rows: &mut Rows) -> Result<(), Stop> {
    while !bytes.is_empty() {
        if let Some(number) = lines.beginning() {
            let (length, count) = rows.plain_rows(number, bytes);
            lines.pass(count);
            bytes = &bytes[length..];
        }
        bytes = lines.next(bytes, |number, line| rows.line(number, line).map_err(Stop::Refused))?;
    }
    Ok(())
}

enum Stop {
    Refused(ImportError),
    TooLong(TooLong),
}

impl From<TooLong> for Stop {
    fn from(line: TooLong) -> Self {
        Self::TooLong(line)
    }
}

fn check(name: &str, layout: &Layout) -> Result<(), ImportError> {
    let refuse = |problem: String, remedy: &str| Err(ImportError::at(name, 1, problem, remedy));
    let columns = layout.headers.len();
    if columns == 0 || columns > MAX_COLUMNS {
        return refuse(format!("the layout has {columns} columns"), "give it 1 to 4096");
    }
    let ascii =
        |c: char| c.is_ascii() && !c.is_ascii_alphanumeric() && !matches!(c, '"' | '\n' | '\r' | '-' | '+');
    if !ascii(layout.delimiter) || layout.delimiter == '.' {
        return refuse(format!("{:?} cannot separate cells", layout.delimiter), "use , ; tab | or space");
    }
    if !matches!(layout.decimal, '.' | ',') {
        return refuse(format!("{:?} is no decimal mark", layout.decimal), "use . or ,");
    }
    if let Some(column) = layout.time.column()
        && column >= columns
    {
        return refuse(
            format!("column {} cannot hold the time: there are {columns}", column + 1),
            "choose another",
        );
    }
    match layout.time {
        TimeBase::Number { unit, .. } if unit.quantity() != Quantity::Time => {
            refuse(format!("{unit} is no unit of time"), "use s, ms, us or ns")
        }
        TimeBase::Rate { rate_hz } | TimeBase::Index { rate_hz, .. }
            if !(rate_hz > 0.0 && rate_hz.is_finite()) =>
        {
            refuse(format!("{rate_hz} Hz is no sample rate"), "type rows per second, such as 1000")
        }
        _ => Ok(()),
    }
}

/// Reads a whole file that is in memory: [`sniff`], then [`Reader`].
///
/// # Errors
/// As [`sniff`], [`Reader::feed`] and [`Reader::finish`].
pub fn read(name: &str, bytes: &[u8]) -> Result<Imported, ImportError> {
    let mut reader = Reader::new(name, sniff(bytes, name)?)?;
    reader.feed(bytes)?;
    reader.finish()
}
