//! Lines into columns. The hot loop allocates nothing per row.

use memchr::{memchr, memrchr};

use super::cell::{self, Cell};
use super::clock::{self, Clock};
use super::plain::{self, Form};
use super::record::{Quoted, Step, by_blanks, is_comment};
use super::sniff::unclosed_quote;
use super::stamps::Tally;
use super::{ImportError, Layout, TimeBase, roles};
use crate::role::Role;

/// Missing cells allowed beyond those read: a wide header over empty lines must not eat the memory.
const SPARE_CELLS: usize = 1 << 20;
/// Columns are made longer than they will probably be by this part, since rows differ in length.
const SPARE_ROOM: f64 = 1.0 / 32.0;
/// At most so many rows are read the careful way before the next is tried as a plain one.
const MOST_PATIENCE: usize = 63;

/// One column while it is read.
#[derive(Debug, Default)]
pub(super) struct Sink {
    pub values: Vec<f32>,
    /// Taken off every value where `f32` would be too coarse.
    pub origin: f64,
    seeks_origin: bool,
    /// Unreadable cells: count and line of the first.
    pub bad: Tally,
    /// The first unreadable cell.
    pub sample: String,
}

impl Sink {
    /// False for a number beyond `f32`.
    fn push(&mut self, value: f64) -> bool {
        // Zeros stand for "no fix yet" and must not become the origin; nor must nonsense.
        if self.seeks_origin && value != 0.0 && value.abs() <= 360.0 {
            self.seeks_origin = false;
            self.origin = value;
            self.values.iter_mut().for_each(|earlier| *earlier = (f64::from(*earlier) - value) as f32);
        }
        let stored = (value - self.origin) as f32;
        self.values.push(if stored.is_finite() { stored } else { f32::NAN });
        stored.is_finite()
    }
}

/// Which line each row came from, stored only where rows skip lines.
#[derive(Debug, Default)]
pub(super) struct LineOfRow(Vec<(usize, usize)>);

impl LineOfRow {
    fn set(&mut self, row: usize, line: usize) {
        if self.0.last().is_none_or(|&(first, at)| at + (row - first) != line) {
            self.0.push((row, line));
        }
    }

    pub(super) fn get(&self, row: usize) -> usize {
        let run = self.0.partition_point(|&(first, _)| first <= row);
        run.checked_sub(1).map_or(1, |run| self.0[run].1 + (row - self.0[run].0))
    }
}

/// How a last cell is written, to see whether another one was cut.
#[derive(Clone, Copy, Debug, Default)]
struct Tail {
    bytes: [u8; 32],
    length: usize,
}

impl Tail {
    fn set(&mut self, cell: &[u8]) {
        let cell = cell.trim_ascii_start();
        self.length = cell.len().min(32);
        self.bytes[..self.length].copy_from_slice(&cell[..self.length]);
    }

    /// The marks between the digits, and how many digits end it.
    fn shape(&self) -> (impl Iterator<Item = u8> + '_, usize) {
        let text = self.bytes[..self.length].trim_ascii();
        let digits = text.iter().rev().take_while(|byte| byte.is_ascii_digit()).count();
        let marks =
            text.strip_prefix(b"-").unwrap_or(text).iter().copied().filter(|byte| !byte.is_ascii_digit());
        (marks, digits)
    }

    fn is_whole_beside(&self, before: &Self) -> bool {
        let ((marks, digits), (marks_before, digits_before)) = (self.shape(), before.shape());
        self.length == 0 || before.length == 0 || marks.eq(marks_before) && digits >= digits_before
    }
}

/// What reading one row found, before it is known whether the row counts.
#[derive(Debug, Default)]
struct Row {
    stamp: f64,
    clock: Option<Clock>,
    cells: usize,
    numbers: usize,
    /// Columns with unreadable cells.
    bad: Vec<usize>,
    surplus: bool,
}

/// Everything read so far.
#[derive(Debug)]
pub(super) struct Rows {
    pub name: String,
    pub layout: Layout,
    delimiter: u8,
    decimal: u8,
    time_column: usize,
    is_clock: bool,
    /// One for each file column; that of the time column stays empty.
    pub sinks: Vec<Sink>,
    /// Raw time of each row in the column's own unit (s for a clock), NaN where unreadable.
    pub stamps: Vec<f64>,
    pub line_of_row: LineOfRow,
    pub last_clock: Option<Clock>,
    /// Dates without a zone were seen.
    pub unzoned: bool,
    /// An hour hand was seen.
    pub has_hours: bool,
    /// Rows of nothing but unreadable text, or damaged by zeros.
    pub text_rows: Tally,
    pub short_rows: Tally,
    pub long_rows: Tally,
    /// Rows dropped at the end of the file because they were cut.
    pub cut_rows: usize,
    pub warnings: Vec<String>,
    cells_read: usize,
    cells_missing: usize,
    row: Row,
    tail: Tail,
    /// The numbers of a plain row.
    numbers: Vec<f64>,
    /// Rows to be read the careful way before one is tried as plain, and how many they were last time.
    pub patience: usize,
    last_patience: usize,
    /// Made for the first row with quotes.
    quoted: Option<Box<Quoted>>,
    scratch: Vec<u8>,
}

impl Rows {
    pub(super) fn new(name: String, layout: Layout) -> Self {
        let mut sinks: Vec<Sink> = layout.headers.iter().map(|_| Sink::default()).collect();
        for (sink, (role, _)) in sinks.iter_mut().zip(roles::guess_channels(&layout)) {
            sink.seeks_origin = matches!(role, Role::Latitude | Role::Longitude);
        }
        Self {
            delimiter: layout.delimiter as u8,
            decimal: layout.decimal as u8,
            time_column: layout.time.column().unwrap_or(usize::MAX),
            is_clock: matches!(layout.time, TimeBase::Clock { .. }),
            sinks,
            stamps: Vec::new(),
            line_of_row: LineOfRow::default(),
            last_clock: None,
            unzoned: false,
            has_hours: false,
            text_rows: Tally::default(),
            short_rows: Tally::default(),
            long_rows: Tally::default(),
            cut_rows: 0,
            warnings: Vec::new(),
            cells_read: 0,
            cells_missing: 0,
            row: Row::default(),
            tail: Tail::default(),
            numbers: vec![f64::NAN; layout.headers.len()],
            patience: 0,
            last_patience: 0,
            quoted: None,
            scratch: Vec::new(),
            name,
            layout,
        }
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    /// Takes in one point of a track file: what stands in each column, NaN where nothing does.
    pub(super) fn point(&mut self, line: usize, clock: Option<Clock>, values: &[f64]) {
        self.row.clock = clock;
        let stamp = self.clock_stamp();
        self.line_of_row.set(self.stamps.len(), line);
        self.stamps.push(stamp);
        for (column, sink) in self.sinks.iter_mut().enumerate() {
            let value = column.checked_sub(1).and_then(|column| values.get(column));
            match value.filter(|value| value.is_finite()) {
                _ if column == self.time_column => {}
                Some(&value) if sink.push(value) => {}
                Some(_) => sink.bad.add(line),
                None => sink.values.push(f32::NAN),
            }
        }
    }

    /// Makes the columns as long as they will be, after this share of the file.
    pub(super) fn make_room(&mut self, share: f64) {
        let rows = self.stamps.len() as f64;
        let to_come = rows / share - rows;
        let room = (self.stamps.capacity() - self.stamps.len()) as f64;
        if !(to_come > room && to_come.is_finite()) {
            return;
        }
        let more = (to_come + SPARE_ROOM * (rows + to_come)) as usize;
        // Where there is no room for it now, the columns grow as rows come.
        let _ = self.stamps.try_reserve_exact(more);
        for (column, sink) in self.sinks.iter_mut().enumerate() {
            if column != self.time_column {
                let _ = sink.values.try_reserve_exact(more);
            }
        }
    }

    /// Takes in as many plain rows as `bytes` begins with, the first in line `number`; gives their bytes and how
    /// many they are.
    pub(super) fn plain_rows(&mut self, number: usize, bytes: &[u8]) -> (usize, usize) {
        if self.patience > 0 {
            self.patience -= 1;
            return (0, 0);
        }
        let ambiguous = self.delimiter == b' ' || self.delimiter == self.decimal;
        if ambiguous || number <= self.layout.skip_lines || self.open_quote().is_some() {
            return (0, 0);
        }
        let bytes = &bytes[..memrchr(b'\n', bytes).map_or(0, |end| end + 1)];
        let form = Form {
            delimiter: self.delimiter,
            decimal: self.decimal,
            clock_column: self.is_clock.then_some(self.time_column),
        };
        let (mut at, mut count, mut tail) = (0, 0, &bytes[..0]);
        while let Some(row) = plain::row(&bytes[at..], form, &mut self.numbers) {
            let stamp = self.numbers.get(self.time_column).copied();
            // A row that will be dropped for its time, or holds nothing, is for the careful way.
            if row.filled == 0 || row.clock.is_none() && stamp.is_some_and(f64::is_nan) {
                break;
            }
            self.row.clock = row.clock;
            let stamp = if self.is_clock { self.clock_stamp() } else { stamp.unwrap_or(f64::NAN) };
            self.line_of_row.set(self.stamps.len(), number + count);
            self.stamps.push(stamp);
            for (column, (sink, &value)) in self.sinks.iter_mut().zip(&self.numbers).enumerate() {
                if column != self.time_column {
                    sink.push(value);
                }
            }
            tail = &bytes[at + row.last_cell.0..at + row.last_cell.1];
            at += row.length;
            count += 1;
        }
        if count > 0 {
            self.tail.set(tail);
            self.cells_read += count * self.sinks.len();
            self.last_patience = 0;
        } else if !bytes.is_empty() {
            self.last_patience = (2 * self.last_patience + 1).min(MOST_PATIENCE);
            self.patience = self.last_patience;
        }
        (at, count)
    }

    /// Takes one line in, without its end.
    pub(super) fn line(&mut self, number: usize, line: &[u8]) -> Result<(), ImportError> {
        if number <= self.layout.skip_lines {
            return Ok(());
        }
        if memchr(0, line).is_some() {
            self.text_rows.add(number);
            return Ok(());
        }
        if self.begin(number, line)? { self.end(number) } else { Ok(()) }
    }

    /// Takes in the rest of the file after the last line end, and what a quote still holds.
    pub(super) fn last_line(&mut self, rest: Option<(usize, Vec<u8>)>) -> Result<(), ImportError> {
        if let Some((number, line)) = rest.filter(|(number, _)| *number > self.layout.skip_lines) {
            let nul = memchr(0, &line).is_some();
            let line = &line[..memchr(0, &line).unwrap_or(line.len())];
            let before = self.tail;
            if self.begin(number, line)? {
                let closed = line.ends_with(b"\"");
                let whole = !nul && (closed || self.tail.is_whole_beside(&before) || self.stamps.is_empty());
                if self.row.cells < self.sinks.len() || !whole {
                    self.cut(number);
                } else {
                    self.end(number)?;
                    self.warnings.push(format!(
                        "line {number}: no line end after the last row; it looks whole and is kept"
                    ));
                }
            } else if nul && self.open_quote().is_none() {
                self.warnings
                    .push(format!("line {number}: the file ends in zeros, as after a power failure"));
            }
            if self.open_quote() == Some(number) {
                self.cut(number);
                return Ok(());
            }
        }
        self.open_quote().map_or(Ok(()), |line| Err(unclosed_quote(&self.name, line)))
    }

    /// Drops the row that is being read.
    fn cut(&mut self, number: usize) {
        self.take_back();
        self.forget_bad();
        self.cut_rows += 1;
        self.warnings
            .push(format!("line {number}: the file ends in the middle of this row; the row is dropped"));
    }

    /// Reads the cells of a line; false where it holds no row, or not yet.
    fn begin(&mut self, number: usize, line: &[u8]) -> Result<bool, ImportError> {
        let line = if number == 1 { line.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(line) } else { line };
        let mut row = std::mem::take(&mut self.row.bad);
        row.clear();
        self.row = Row { stamp: f64::NAN, bad: row, ..Row::default() };
        if self.open_quote().is_some() || memchr(b'"', line).is_some() {
            return self.quoted_line(number, line);
        }
        if !line.first().is_some_and(|byte| byte.is_ascii_digit() || *byte == b'-') && is_no_row(line) {
            return Ok(false);
        }
        if self.delimiter == b' ' {
            for cell in by_blanks(line) {
                self.cell(cell);
                self.tail.set(cell);
            }
        } else if self.decimal == b',' && self.delimiter != b',' {
            let mut scratch = std::mem::take(&mut self.scratch);
            scratch.clear();
            scratch.extend_from_slice(line);
            // Rows that also hold a point (between thousands, or in text) go the careful way.
            if memchr(b'.', line).is_none() {
                scratch.iter_mut().filter(|byte| **byte == b',').for_each(|byte| *byte = b'.');
                self.decimal = b'.';
                self.plain_line(&scratch);
                self.decimal = b',';
            } else {
                let delimiter = self.delimiter;
                scratch.split(|byte| *byte == delimiter).for_each(|cell| self.cell(cell));
            }
            self.scratch = scratch;
            self.tail.set(line.rsplit(|byte| *byte == self.delimiter).next().unwrap_or_default());
        } else {
            self.plain_line(line);
        }
        Ok(true)
    }

    /// The hot loop: numbers are read where they stand, and only what is no plain number is cut out.
    fn plain_line(&mut self, line: &[u8]) {
        let delimiter = self.delimiter;
        let mut start = 0;
        loop {
            while line.get(start) == Some(&b' ') {
                start += 1;
            }
            let rest = &line[start..];
            let length = match fast_float2::parse_partial::<f64, _>(rest) {
                Ok((value, read))
                    if rest.get(read).is_none_or(|next| *next == delimiter)
                        && value.is_finite()
                        && !(self.is_clock && self.row.cells == self.time_column) =>
                {
                    self.number(value);
                    read
                }
                _ => {
                    let length = memchr(delimiter, rest).unwrap_or(rest.len());
                    self.cell(&rest[..length]);
                    length
                }
            };
            if length == rest.len() {
                return self.tail.set(rest);
            }
            start += length + 1;
        }
    }

    fn quoted_line(&mut self, number: usize, line: &[u8]) -> Result<bool, ImportError> {
        let mut quoted = self.quoted.take().unwrap_or_else(|| Box::new(Quoted::new(self.delimiter)));
        let step = quoted.push(number, line);
        if step == Step::Whole {
            for cell in quoted.cells() {
                self.cell(cell);
                self.tail.set(cell);
            }
        }
        self.quoted = Some(quoted);
        match step {
            Step::Whole => Ok(true),
            Step::Open => Ok(false),
            Step::Unclosed(line) => Err(unclosed_quote(&self.name, line)),
        }
    }

    /// The line in which a still open quote began.
    fn open_quote(&self) -> Option<usize> {
        self.quoted.as_ref().and_then(|quoted| quoted.opened())
    }

    /// Any cell, the careful way.
    fn cell(&mut self, text: &[u8]) {
        if self.is_clock && self.row.cells == self.time_column {
            let clock = clock::read(text);
            if clock.is_none() && !cell::is_missing(cell::trim(text)) {
                self.bad(text);
            }
            self.row.clock = clock;
            self.row.numbers += usize::from(clock.is_some());
            self.row.cells += 1;
            return;
        }
        match cell::read(text, self.decimal) {
            Cell::Number(value) => self.number(value),
            Cell::Missing => self.missing(!text.is_empty()),
            Cell::Text => {
                self.bad(text);
                self.missing(true);
            }
        }
    }

    fn number(&mut self, value: f64) {
        self.row.numbers += 1;
        if self.row.cells == self.time_column {
            self.row.stamp = value;
        } else if let Some(sink) = self.sinks.get_mut(self.row.cells) {
            if !sink.push(value) {
                self.bad(b"a number beyond 3.4e38");
            }
        } else {
            self.row.surplus = true;
        }
        self.row.cells += 1;
    }

    fn missing(&mut self, written: bool) {
        if let Some(sink) = self.sinks.get_mut(self.row.cells).filter(|_| self.row.cells != self.time_column)
        {
            sink.values.push(f32::NAN);
        } else if self.row.cells >= self.sinks.len() && written {
            self.row.surplus = true;
        }
        self.row.cells += 1;
    }

    fn bad(&mut self, text: &[u8]) {
        let column = self.row.cells;
        let Some(sink) = self.sinks.get_mut(column) else { return };
        if sink.bad.count == 0 && sink.sample.is_empty() && column != self.time_column {
            let text = String::from_utf8_lossy(&text[..text.len().min(24)]);
            sink.sample = text.chars().filter(|c| !c.is_control()).collect();
        }
        self.row.bad.push(column);
    }

    /// Ends a row: keeps it, or takes it back where it is no row.
    fn end(&mut self, number: usize) -> Result<(), ImportError> {
        if self.row.numbers == 0 {
            let text = !self.row.bad.is_empty();
            self.take_back();
            self.forget_bad();
            if text {
                self.text_rows.add(number);
            }
            return Ok(());
        }
        let columns = self.sinks.len();
        self.cells_read += self.row.cells.min(columns);
        if self.row.cells < columns {
            self.short_rows.add(number);
            self.cells_missing += columns - self.row.cells;
            if self.cells_missing > self.cells_read + SPARE_CELLS {
                let problem = format!("rows have far fewer cells than the header's {columns}");
                return Err(ImportError::at(
                    &self.name,
                    number,
                    problem,
                    "check the delimiter and the header line",
                ));
            }
            while self.row.cells < columns {
                self.missing(false);
            }
        }
        if self.row.surplus {
            self.long_rows.add(number);
        }
        if self.is_clock {
            self.row.stamp = self.clock_stamp();
        }
        if self.row.stamp.is_nan() && self.time_column != usize::MAX {
            // The row will be dropped for its time; its cells are not complained of as well.
            self.forget_bad();
        }
        for &column in &self.row.bad {
            self.sinks[column].bad.add(number);
        }
        self.line_of_row.set(self.stamps.len(), number);
        self.stamps.push(self.row.stamp);
        Ok(())
    }

    /// The row's clock in s; NaN where dates and plain clocks are mixed.
    fn clock_stamp(&mut self) -> f64 {
        let Some(clock) = self.row.clock else { return f64::NAN };
        let dated = |clock: Clock| matches!(clock, Clock::Date { .. });
        if self.last_clock.is_some_and(|last| dated(last) != dated(clock)) {
            return f64::NAN;
        }
        self.last_clock = Some(clock);
        self.unzoned |= matches!(clock, Clock::Date { zoned: false, .. });
        self.has_hours |= matches!(clock, Clock::Hours(_));
        clock.seconds()
    }

    fn forget_bad(&mut self) {
        for column in self.row.bad.drain(..) {
            let sink = &mut self.sinks[column];
            if sink.bad.count == 0 {
                sink.sample.clear();
            }
        }
    }

    fn take_back(&mut self) {
        let rows = self.stamps.len();
        self.sinks.iter_mut().for_each(|sink| sink.values.truncate(rows));
    }
}

/// True for blank lines and comments.
fn is_no_row(line: &[u8]) -> bool {
    line.trim_ascii().is_empty() || is_comment(line)
}
