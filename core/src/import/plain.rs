//! Rows of plain numbers, read in one pass: the common case of a log, and by far the fastest.
//!
//! A row that holds anything else is left to [`Rows::line`](super::rows::Rows::line), which reads plain rows too and
//! finds the same in them.

use memchr::memchr3;

use super::clock::{self, Clock};
use super::lines::MAX_LINE;

/// How the cells of a file are written.
#[derive(Clone, Copy, Debug)]
pub(super) struct Form {
    pub delimiter: u8,
    pub decimal: u8,
    /// The column that holds text such as `12:30:01.5`.
    pub clock_column: Option<usize>,
}

/// A row found plain; its numbers stand in the slice that was handed in, NaN for an empty cell.
#[derive(Debug, PartialEq)]
pub(super) struct PlainRow {
    /// Bytes, the line end included.
    pub length: usize,
    /// Where the last cell begins and ends.
    pub last_cell: (usize, usize),
    /// Cells that hold something.
    pub filled: usize,
    pub clock: Option<Clock>,
}

/// Reads the row at the beginning of `text`, which must end with a line end, into `values`, one for each column.
///
/// `None` where a cell is no plain number (or clock) and not empty either, or there are more or fewer cells than
/// columns but for one empty cell at the end.
// Not inlined: a browser swaps in the better code of a function at its next call, which should come soon.
#[inline(never)]
pub(super) fn row(text: &[u8], form: Form, values: &mut [f64]) -> Option<PlainRow> {
    let Form { delimiter, decimal, clock_column } = form;
    let (mut at, mut filled, mut clock) = (0, 0, None);
    let last = values.len().checked_sub(1)?;
    for (column, value) in values.iter_mut().enumerate() {
        while text.get(at) == Some(&b' ') {
            at += 1;
        }
        let rest = text.get(at..)?;
        let length = if clock_column == Some(column) {
            let length = memchr3(delimiter, b'\n', b'\r', rest)?;
            clock = Some(clock::read(&rest[..length])?);
            *value = f64::NAN;
            length
        } else {
            let (number, length) = number(rest, delimiter, decimal)?;
            *value = number;
            length
        };
        filled += usize::from(length > 0);
        let end = at + length;
        let next = *text.get(end)?;
        if column < last {
            if next != delimiter {
                return None;
            }
            at = end + 1;
            continue;
        }
        // Many loggers end each row with a delimiter.
        let last_cell = if next == delimiter { (end + 1, end + 1) } else { (at, end) };
        let line_end = match text.get(last_cell.1..)? {
            [b'\n', ..] => 1,
            [b'\r', b'\n', ..] => 2,
            _ => return None,
        };
        let length = last_cell.1 + line_end;
        return (length <= MAX_LINE).then_some(PlainRow { length, last_cell, filled, clock });
    }
    None
}

/// The number at the beginning of `text` and how many bytes it takes, NaN and 0 where the cell is empty. What follows
/// it is for the caller to judge.
#[inline(always)]
fn number(text: &[u8], delimiter: u8, decimal: u8) -> Option<(f64, usize)> {
    let negative = text.first() == Some(&b'-');
    let start = usize::from(negative);
    let (whole, point) = digits(text, start, 0);
    let (mantissa, end, places) = match text.get(point) {
        Some(&mark) if mark == decimal => {
            let (mantissa, end) = digits(text, point + 1, whole);
            (mantissa, end, end - point - 1)
        }
        _ => (whole, point, 0),
    };
    let next = *text.get(end)?;
    let ends = next == delimiter || next == b'\n' || next == b'\r';
    // Any 15 digits are below 2^53 and 10^15 is a whole `f64`, so one division gives the nearest `f64` to the
    // decimal (W. D. Clinger, "How to read floating point numbers accurately", 1990).
    if ends && (1..=15).contains(&(point - start + places)) {
        // Its sign cannot be foreseen, so there is no branch on it; signed integers convert faster.
        let value = (mantissa as i64) as f64 / POWERS_OF_TEN[places];
        return Some((f64::from_bits(value.to_bits() | u64::from(negative) << 63), end));
    }
    if ends && end == 0 {
        return Some((f64::NAN, 0));
    }
    // Exponents and many digits.
    let (value, length) = fast_float2::parse_partial::<f64, _>(text).ok().filter(|_| decimal == b'.')?;
    (value.abs() < f64::from(f32::MAX)).then_some((value, length))
}

/// Appends the digits from `at` on to `mantissa`, which wraps where there are too many; gives where they end.
#[inline(always)]
fn digits(text: &[u8], mut at: usize, mut mantissa: u64) -> (u64, usize) {
    while let Some(digit) = text.get(at).map(|byte| byte.wrapping_sub(b'0')).filter(|&digit| digit < 10) {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    (mantissa, at)
}

const POWERS_OF_TEN: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
