//! Cells of one row that holds quotes, and of any row while the layout is still being found.

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};

use super::lines::MAX_LINE;

/// How many lines one quoted cell may run over before the quote is taken for a mistake.
const MAX_QUOTED_LINES: usize = 64;

/// A record assembled from lines: RFC 4180 quoting, a quoted cell may hold line ends.
#[derive(Debug)]
pub(super) struct Quoted {
    reader: Reader,
    cells: Vec<u8>,
    ends: Vec<usize>,
    filled: usize,
    count: usize,
    opened: Option<usize>,
    lines: usize,
}

/// What one more line did to a record.
#[derive(Debug, PartialEq)]
pub(super) enum Step {
    /// The record is whole.
    Whole,
    /// A quote is still open.
    Open,
    /// The quote opened in this line was never closed.
    Unclosed(usize),
}

impl Quoted {
    pub(super) fn new(delimiter: u8) -> Self {
        Self {
            reader: ReaderBuilder::new().delimiter(delimiter).build(),
            cells: vec![0; 1024],
            ends: vec![0; 64],
            filled: 0,
            count: 0,
            opened: None,
            lines: 0,
        }
    }

    /// Adds a line, without its end.
    pub(super) fn push(&mut self, number: usize, line: &[u8]) -> Step {
        let opened = *self.opened.get_or_insert(number);
        if self.lines == 0 {
            (self.filled, self.count) = (0, 0);
        }
        self.lines += 1;
        if self.read(line) || self.read(b"\n") {
            (self.opened, self.lines) = (None, 0);
            return Step::Whole;
        }
        if self.lines >= MAX_QUOTED_LINES || self.filled > MAX_LINE {
            return Step::Unclosed(opened);
        }
        Step::Open
    }

    /// The line in which a still open quote began.
    pub(super) fn opened(&self) -> Option<usize> {
        self.opened
    }

    fn read(&mut self, mut input: &[u8]) -> bool {
        loop {
            let (result, read, wrote, ended) =
                self.reader.read_record(input, &mut self.cells[self.filled..], &mut self.ends[self.count..]);
            input = &input[read..];
            self.filled += wrote;
            self.count += ended;
            match result {
                ReadRecordResult::Record => return true,
                ReadRecordResult::InputEmpty | ReadRecordResult::End => return false,
                ReadRecordResult::OutputFull => self.cells.resize(self.cells.len() * 2, 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(self.ends.len() * 2, 0),
            }
        }
    }

    /// The cells of a whole record.
    pub(super) fn cells(&self) -> impl Iterator<Item = &[u8]> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends[..self.count]).map(|(start, &end)| &self.cells[start..end])
    }
}

/// Cuts a row of cells aligned by blanks into cells.
pub(super) fn by_blanks(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    line.split(u8::is_ascii_whitespace).filter(|cell| !cell.is_empty())
}

/// True for a comment line.
pub(super) fn is_comment(line: &[u8]) -> bool {
    let line = line.trim_ascii_start();
    [&b"#"[..], b"%", b"//"].iter().any(|mark| line.starts_with(mark))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(record: &Quoted) -> Vec<&str> {
        record.cells().map(|cell| std::str::from_utf8(cell).unwrap()).collect()
    }

    #[test]
    fn quotes_hold_delimiters_quotes_and_line_ends() {
        let mut record = Quoted::new(b';');
        assert_eq!(record.push(1, br#"1;"a;b";"say ""x""";"#), Step::Whole);
        assert_eq!(cells(&record), ["1", "a;b", "say \"x\"", ""]);
        assert_eq!(record.push(2, b"\"Time"), Step::Open);
        assert_eq!(record.push(3, b"(s)\";2"), Step::Whole);
        assert_eq!(cells(&record), ["Time\n(s)", "2"]);
    }

    #[test]
    fn an_unclosed_quote_is_given_up_with_the_line_it_opened_in() {
        let mut record = Quoted::new(b',');
        assert_eq!(record.push(7, b"1,\"2"), Step::Open);
        let step = (8..).map(|number| record.push(number, b"3,4")).find(|step| *step != Step::Open);
        assert_eq!(step, Some(Step::Unclosed(7)));
    }
}
