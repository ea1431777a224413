//! How a file is written, found by looking at its head.

use super::cell::{self, Cell};
use super::lines::{Lines, TooLong};
use super::record::{Quoted, Step, by_blanks, is_comment};
use super::time_column;
use super::{Encoding, Format, ImportError, Layout, clock, encoding, gpx, header, magic, nmea};

/// How much of a file [`sniff`] looks at, bytes.
pub const SNIFF_BYTES: usize = 64 << 10;
/// More columns than any logger has: the delimiter, or the file, is not what it seems.
pub(super) const MAX_COLUMNS: usize = 4096;

const DELIMITERS: [char; 5] = [',', ';', '\t', '|', ' '];

/// Finds the layout of a file from its first bytes (64 KiB are enough, more are not
/// looked at). `name` is only for messages.
///
/// # Errors
/// A file that is empty, no text, or has no row of numbers. A file without time is no error here:
/// its layout says [`TimeBase::Unknown`](super::TimeBase::Unknown).
pub fn sniff(head: &[u8], name: &str) -> Result<Layout, ImportError> {
    let whole_file = head.len() < SNIFF_BYTES;
    let head = &head[..head.len().min(SNIFF_BYTES)];
    let refuse = |problem: &str, remedy: &str| ImportError::at(name, 1, problem, remedy);
    if head.iter().all(|byte| byte.is_ascii_whitespace() || *byte == 0) {
        return Err(refuse(
            "the file is empty",
            "check that the logger recorded and that the copy is complete",
        ));
    }
    let not_text = |kind: &str| {
        refuse(
            &format!("this is {kind}, not text"),
            "choose the logger's text file, or export the log as text (CSV)",
        )
    };
    if let Some(kind) = magic::kind(head) {
        return Err(not_text(kind));
    }
    let encoding = encoding::detect(head);
    let text = encoding::decode(head, encoding);
    if magic::is_binary(&text) {
        return Err(not_text("binary data"));
    }

    for (format, is_it) in [(Format::Gpx, gpx::is_gpx(&text)), (Format::Nmea, nmea::is_nmea(&text))] {
        if is_it {
            return Ok(Layout::of_track(format, encoding));
        }
    }

    let lines = split_lines(&text, whole_file, name)?;
    let tables = DELIMITERS.map(|delimiter| Table::new(&lines, delimiter, whole_file));
    let unclosed = tables.iter().find_map(|table| table.unclosed);
    let no_numbers = || match unclosed {
        Some(line) => unclosed_quote(name, line),
        None if lines.len() <= 3 => refuse(
            "there is only a header, no row of numbers",
            "check that the logger recorded and that the copy is complete",
        ),
        None => refuse(
            "no rows of numbers in columns are found",
            "choose the logger's text file, or export the log as text (CSV)",
        ),
    };
    // Of equals the first, so that a comma wins over the blank after it.
    let best = tables.into_iter().reduce(|best, table| if table.score > best.score { table } else { best });
    let table = best.filter(|table| table.score > 0.0).ok_or_else(no_numbers)?;
    if let Some(line) = table.unclosed {
        return Err(unclosed_quote(name, line));
    }
    let start = table.first_data().ok_or_else(no_numbers)?;
    table.layout(start, encoding, name)
}

pub(super) fn unclosed_quote(name: &str, line: usize) -> ImportError {
    ImportError::at(
        name,
        line,
        "a quote is opened here and never closed",
        "close or remove the quotation mark in this line",
    )
}

/// The lines of the head; the last one is left out where it may be cut.
fn split_lines(text: &str, whole_file: bool, name: &str) -> Result<Vec<(usize, String)>, ImportError> {
    let mut splitter = Lines::default();
    let mut lines = Vec::new();
    // The head is far shorter than the longest line allowed.
    let _: Result<(), TooLong> = splitter.push(text.as_bytes(), |number, line| {
        lines.push((number, String::from_utf8_lossy(line).into_owned()));
        Ok(())
    });
    if let Some((number, line)) = splitter.finish() {
        if lines.is_empty() && !whole_file {
            let cells = DELIMITERS[..4].iter().map(|&c| line.iter().filter(|&&b| b == c as u8).count()).max();
            let problem = if cells > Some(MAX_COLUMNS) {
                format!("the first line has more than {MAX_COLUMNS} columns")
            } else {
                format!("the first line does not end within {} KiB", SNIFF_BYTES >> 10)
            };
            return Err(ImportError::at(name, 1, problem, "check that this is a log with one row per line"));
        }
        // With no more than a header before it, it may be all the data there is.
        if lines.len() < 3 {
            lines.push((number, String::from_utf8_lossy(&line).into_owned()));
        }
    }
    Ok(lines)
}

/// What a cell looks like before the decimal mark is known.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Look {
    Blank,
    /// A number that does not tell the decimal mark.
    Whole,
    Point,
    Comma,
    Clock,
    Text,
}

impl Look {
    fn of(text: &str) -> Self {
        let number = |decimal| matches!(cell::read(text.as_bytes(), decimal), Cell::Number(_));
        if cell::is_missing(cell::trim(text.as_bytes())) {
            Self::Blank
        } else if !text.contains([',', '.']) && number(b'.') {
            Self::Whole
        } else if text.rfind(',') > text.rfind('.') && number(b',') {
            Self::Comma
        } else if number(b'.') {
            Self::Point
        } else if clock::read(text.as_bytes()).is_some() {
            Self::Clock
        } else {
            Self::Text
        }
    }

    fn is_value(self) -> bool {
        !matches!(self, Self::Blank | Self::Text)
    }
}

struct Record {
    line: usize,
    text: String,
    cells: Vec<String>,
    looks: Vec<Look>,
    comment: bool,
}

impl Record {
    fn new(line: usize, text: &str, cells: Vec<String>, comment: bool) -> Self {
        let looks = cells.iter().map(|cell| Look::of(cell)).collect();
        Self { line, text: text.to_owned(), cells, looks, comment }
    }

    fn count(&self, is: impl Fn(Look) -> bool) -> usize {
        self.looks.iter().filter(|&&look| is(look)).count()
    }
}

/// The head under one delimiter.
struct Table {
    delimiter: char,
    records: Vec<Record>,
    /// Cells of the usual row.
    width: usize,
    /// How well the later half of the head looks like rows of numbers, 0..1.
    score: f64,
    /// Line of a quote that is never closed; the records end before it.
    unclosed: Option<usize>,
}

impl Table {
    fn new(lines: &[(usize, String)], delimiter: char, whole_file: bool) -> Self {
        let (records, unclosed) = records(lines, delimiter, whole_file);
        let mut table = Self { delimiter, records, width: 0, score: 0.0, unclosed };
        let mut widths: Vec<usize> = table.later().map(|record| record.cells.len()).collect();
        widths.sort_unstable();
        let common = widths.chunk_by(PartialEq::eq).max_by_key(|run| run.len());
        table.width = common.map_or(0, |run| run[0]);
        let share = common.map_or(0, <[usize]>::len) as f64 / widths.len().max(1) as f64;
        let values: usize = table.later().map(|record| record.count(Look::is_value)).sum();
        let texts: usize = table.later().map(|record| record.count(|look| look == Look::Text)).sum();
        let quality = values as f64 / (values + texts).max(1) as f64;
        // One column is what any wrong delimiter finds.
        table.score = share * quality * if table.width > 1 { 1.0 } else { 0.1 };
        table
    }

    /// The later half, where the numbers should be.
    fn later(&self) -> impl Iterator<Item = &Record> {
        let rows: Vec<&Record> = self.records.iter().filter(|record| !record.comment).collect();
        let half = rows.len() / 2;
        rows.into_iter().skip(half)
    }

    /// Index of the first row of numbers.
    fn first_data(&self) -> Option<usize> {
        let (mut values, mut texts) = (vec![0_usize; self.width], vec![0_usize; self.width]);
        for record in self.later() {
            for (column, look) in record.looks.iter().enumerate().take(self.width) {
                values[column] += usize::from(look.is_value());
                texts[column] += usize::from(*look == Look::Text);
            }
        }
        // Numbers and words of a record, in the columns that hold numbers.
        let tally = |record: &Record| {
            let columns = record.looks.iter().zip(values.iter().zip(&texts)).filter(|(_, (v, t))| v > t);
            columns.fold((0, 0), |(numbers, words), (look, _)| {
                (numbers + usize::from(look.is_value()), words + usize::from(*look == Look::Text))
            })
        };
        let is_header = |record: &Record| matches!(tally(record), (0, 1..));
        self.records.iter().enumerate().position(|(index, record)| {
            let (numbers, words) = tally(record);
            // A first row with an unreadable cell and metadata look alike, but for what follows.
            let clean = words == 0 || !self.records[index..].iter().take(5).any(is_header);
            !record.comment && record.cells.len() * 2 > self.width && numbers > words && clean
        })
    }

    fn layout(&self, start: usize, encoding: Encoding, name: &str) -> Result<Layout, ImportError> {
        let data: Vec<&Record> = self.records[start..].iter().filter(|record| !record.comment).collect();
        let (mut headers, mut units) = self.headers(start);
        let mut width = headers.len().max(self.width);
        let blank = |column: usize| {
            headers.get(column).is_none_or(|header| header.trim().is_empty())
                && data.iter().all(|record| record.looks.get(column).is_none_or(|&look| look == Look::Blank))
        };
        while width > 1 && blank(width - 1) {
            width -= 1;
        }
        if width > MAX_COLUMNS {
            let problem = format!("the rows have {width} columns, more than {MAX_COLUMNS}");
            return Err(ImportError::at(
                name,
                self.records[start].line,
                problem,
                "check that this is a log file",
            ));
        }
        headers.resize(width, String::new());
        units.resize(width, String::new());
        for (column, (header, unit)) in headers.iter_mut().zip(&mut units).enumerate() {
            if unit.is_empty() {
                (*header, *unit) = header::split(header);
            }
            if header.is_empty() {
                *header = format!("column {}", column + 1);
            }
        }

        let count = |wanted| data.iter().map(|record| record.count(|look| look == wanted)).sum::<usize>();
        let decimal = if count(Look::Comma) > count(Look::Point) { ',' } else { '.' };
        let samples = (0..width).map(|column| {
            let cells = data.iter().filter_map(move |record| record.cells.get(column));
            time_column::Samples::new(cells.map(String::as_str), decimal as u8)
        });
        let before = self.records[..start].iter().map(|record| record.text.as_str());
        let (time, doubts) = time_column::find(&headers, &units, &samples.collect::<Vec<_>>(), before);
        let skip_lines = self.records[start].line - 1;
        let format = Format::DelimitedText;
        Ok(Layout {
            format,
            encoding,
            delimiter: self.delimiter,
            decimal,
            skip_lines,
            headers,
            units,
            time,
            doubts,
        })
    }

    /// Headers and units from the one or two rows above the numbers; empty where there are none.
    fn headers(&self, start: usize) -> (Vec<String>, Vec<String>) {
        let mut above =
            self.records[..start].iter().rev().take(4).filter_map(|record| self.header_cells(record));
        let Some(last) = above.next() else { return Default::default() };
        let Some(upper) = above.next() else { return (last, Vec::new()) };
        let filled = |cells: &[String]| cells.iter().filter(|cell| !cell.trim().is_empty()).count();
        let unit = |cell: &&String| header::is_unit(header::unbracketed(cell)) || cell.trim() == "-";
        if last.iter().filter(unit).count() * 5 >= filled(&last) * 3 {
            let units = last.iter().map(|cell| header::unbracketed(cell).to_owned()).collect();
            return (upper, units);
        }
        // A row of groups above the names: each holds until the next.
        if filled(&upper) * 2 >= last.len() && upper.len() == last.len() && upper != last {
            let mut group = "";
            let join = |(name, upper): (&String, &'_ String)| format!("{upper} {name}").trim().to_owned();
            let mut groups = Vec::with_capacity(upper.len());
            for cell in &upper {
                group = if cell.trim().is_empty() { group } else { cell.trim() };
                groups.push(group.to_owned());
            }
            return (last.iter().zip(&groups).map(join).collect(), Vec::new());
        }
        (last, Vec::new())
    }

    /// The cells of a row that could be a header: as wide as the numbers, and mostly words.
    fn header_cells(&self, record: &Record) -> Option<Vec<String>> {
        let mut cells = record.cells.clone();
        if self.delimiter == ' ' && cells.len() != self.width {
            // Headers aligned by blanks may hold single spaces themselves.
            let by_two = uncommented(&record.text).split("  ");
            cells = by_two.map(|cell| cell.trim().to_owned()).filter(|cell| !cell.is_empty()).collect();
        }
        while cells.len() > self.width && cells.last().is_some_and(|cell| cell.trim().is_empty()) {
            cells.pop();
        }
        let texts = record.count(|look| look == Look::Text);
        let values = record.count(Look::is_value);
        let wide =
            if self.width == 1 { cells.len() == 1 } else { cells.len() > 1 && cells.len() * 2 > self.width };
        // Metadata padded to the full width fills only its first cells.
        let filled = cells.iter().filter(|cell| !cell.trim().is_empty()).count();
        (wide && texts > values && filled * 3 >= self.width).then_some(cells)
    }
}

/// The records, and the line of a quote that is never closed.
fn records(lines: &[(usize, String)], delimiter: char, whole_file: bool) -> (Vec<Record>, Option<usize>) {
    let mut quoted = Quoted::new(delimiter as u8);
    let mut records = Vec::new();
    let mut first = None;
    for (number, text) in lines {
        if quoted.opened().is_none() {
            if text.trim().is_empty() {
                continue;
            }
            if is_comment(text.as_bytes()) {
                let comment = uncommented(text);
                let mut inner = Quoted::new(delimiter as u8);
                inner.push(*number, comment.as_bytes());
                records.push(Record::new(*number, text, owned(inner.cells()), true));
                continue;
            }
            if delimiter == ' ' && !text.contains('"') {
                records.push(Record::new(*number, text, owned(by_blanks(text.as_bytes())), false));
                continue;
            }
        }
        let line = *first.get_or_insert(*number);
        match quoted.push(*number, text.as_bytes()) {
            Step::Whole => {
                records.push(Record::new(line, text, owned(quoted.cells()), false));
                first = None;
            }
            Step::Open => {}
            Step::Unclosed(line) => return (records, Some(line)),
        }
    }
    // In the last line it may be the head, or the file, that is cut.
    let last = lines.last().map(|(last, _)| *last);
    (records, quoted.opened().filter(|&line| whole_file && Some(line) != last))
}

fn owned<'c>(cells: impl Iterator<Item = &'c [u8]>) -> Vec<String> {
    cells.map(|cell| String::from_utf8_lossy(cell).trim().to_owned()).collect()
}

/// A line without the mark of a comment.
fn uncommented(line: &str) -> &str {
    line.trim_start().trim_start_matches(['#', '%', '/']).trim_start()
}
