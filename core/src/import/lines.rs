//! Lines out of pieces of a file cut anywhere.

use memchr::{memchr, memchr2};

/// The longest line that is taken for text, bytes.
pub(super) const MAX_LINE: usize = 1 << 20;

/// Splits at LF, CR LF or a lone CR, and numbers the lines from 1.
///
/// Bytes after a NUL in an unfinished line are not kept: a logger that lost power may leave
/// megabytes of zeros. The NUL itself stays, as the mark of a damaged line; a line that came in one
/// piece may have more after it.
#[derive(Debug, Default)]
pub(super) struct Lines {
    unfinished: Vec<u8>,
    number: usize,
    after_cr: bool,
}

/// A line longer than [`MAX_LINE`], by number.
#[derive(Debug, PartialEq)]
pub(super) struct TooLong(pub usize);

impl Lines {
    /// Hands every line that ends within `bytes`, with its number and without its end, to `row`.
    pub(super) fn push<E: From<TooLong>>(
        &mut self,
        bytes: &[u8],
        mut row: impl FnMut(usize, &[u8]) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut rest = bytes;
        while !rest.is_empty() {
            rest = self.next(rest, &mut row)?;
        }
        Ok(())
    }

    /// Goes on to the end of the next line at most; gives the rest.
    pub(super) fn next<'b, E: From<TooLong>>(
        &mut self,
        bytes: &'b [u8],
        mut row: impl FnMut(usize, &[u8]) -> Result<(), E>,
    ) -> Result<&'b [u8], E> {
        if std::mem::take(&mut self.after_cr)
            && let Some(after) = bytes.strip_prefix(b"\n")
        {
            return Ok(after);
        }
        let Some(end) = memchr2(b'\n', b'\r', bytes) else {
            self.keep(bytes)?;
            return Ok(&[]);
        };
        self.after_cr = bytes[end] == b'\r';
        let (line, after) = (&bytes[..end], &bytes[end + 1..]);
        if self.unfinished.is_empty() {
            self.check(line)?;
            self.number += 1;
            row(self.number, line)?;
        } else {
            self.keep(line)?;
            self.number += 1;
            row(self.number, &self.unfinished)?;
            self.unfinished.clear();
        }
        Ok(after)
    }

    /// The number of the line that begins here; `None` within a line or its end.
    pub(super) fn beginning(&self) -> Option<usize> {
        (self.unfinished.is_empty() && !self.after_cr).then_some(self.number + 1)
    }

    /// Counts lines that were read without [`next`](Self::next).
    pub(super) fn pass(&mut self, lines: usize) {
        self.number += lines;
    }

    /// The last line, if the file does not end with a line end.
    pub(super) fn finish(self) -> Option<(usize, Vec<u8>)> {
        (!self.unfinished.is_empty()).then_some((self.number + 1, self.unfinished))
    }

    fn keep(&mut self, piece: &[u8]) -> Result<(), TooLong> {
        if self.unfinished.last() == Some(&0) {
            return Ok(());
        }
        let piece = memchr(0, piece).map_or(piece, |nul| &piece[..=nul]);
        self.check(piece)?;
        self.unfinished.extend_from_slice(piece);
        Ok(())
    }

    fn check(&self, piece: &[u8]) -> Result<(), TooLong> {
        let length = self.unfinished.len() + piece.len();
        // What follows a NUL does not count, in whatever pieces it came.
        let long =
            length > MAX_LINE && memchr(0, piece).is_none_or(|nul| self.unfinished.len() + nul >= MAX_LINE);
        if long { Err(TooLong(self.number + 1)) } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(text: &[u8], piece: usize) -> Vec<(usize, Vec<u8>)> {
        let (mut lines, mut out) = (Lines::default(), Vec::new());
        for chunk in text.chunks(piece) {
            let pushed: Result<(), TooLong> = lines.push(chunk, |number, line| {
                out.push((number, line.to_vec()));
                Ok(())
            });
            assert_eq!(pushed, Ok(()));
        }
        out.extend(lines.finish());
        out
    }

    #[test]
    fn all_line_ends_in_any_pieces() {
        for piece in 1..9 {
            let lines = split(b"a\nbb\r\n\r\nc\rd", piece);
            let expected: [&[u8]; 5] = [b"a", b"bb", b"", b"c", b"d"];
            assert!(lines.iter().map(|(_, line)| &line[..]).eq(expected), "{lines:?}");
            assert!(lines.iter().map(|&(number, _)| number).eq(1..=5));
        }
    }

    #[test]
    fn a_line_without_end_stops_early_and_a_zeroed_tail_does_not() {
        let mut lines = Lines::default();
        let block = vec![b'1'; 1 << 16];
        let mut fed = 0;
        let stopped = loop {
            fed += 1;
            if let Err(error) = lines.push(&block, |_, _| Ok::<(), TooLong>(())) {
                break error;
            }
        };
        assert_eq!((stopped, fed), (TooLong(1), 17));

        let mut lines = Lines::default();
        let zeros = vec![0; 1 << 16];
        for _ in 0..64 {
            assert_eq!(lines.push(&zeros, |_, _| Ok::<(), TooLong>(())), Ok(()));
        }
        assert_eq!(lines.finish(), Some((1, vec![0])));
    }
}
