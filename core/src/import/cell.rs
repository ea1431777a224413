//! One cell: a number, a missing value, or something else.

/// What stands in a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cell {
    Number(f64),
    Missing,
    Text,
}

/// Reads a cell. `decimal` is `.` or `,`; marks between thousands (space, apostrophe, or whichever
/// of `.` and `,` is not the decimal mark) are accepted in groups of three.
pub(super) fn read(cell: &[u8], decimal: u8) -> Cell {
    let cell = trim(cell);
    if is_missing(cell) {
        return Cell::Missing;
    }
    if decimal == b'.'
        && let Some(value) = plain(cell)
    {
        return Cell::Number(value);
    }
    // 64 bytes hold any number that a logger writes.
    let mut buffer = [0_u8; 64];
    match canonical(cell, decimal, &mut buffer).and_then(plain) {
        Some(value) => Cell::Number(value),
        None => Cell::Text,
    }
}

/// A cell without blanks around it (no-break spaces of Latin-1 and UTF-8 included).
pub(super) fn trim(cell: &[u8]) -> &[u8] {
    let mut cell = cell.trim_ascii();
    loop {
        let inner = cell
            .strip_prefix(b"\xC2\xA0")
            .or_else(|| cell.strip_suffix(b"\xC2\xA0"))
            .or_else(|| cell.strip_prefix(b"\xA0"))
            .or_else(|| cell.strip_suffix(b"\xA0"));
        match inner {
            Some(inner) => cell = inner.trim_ascii(),
            None => return cell,
        }
    }
}

/// The ways in which loggers write that there is no value.
pub(super) fn is_missing(cell: &[u8]) -> bool {
    const WORDS: &[&str] = &[
        "nan", "-nan", "+nan", "na", "n/a", "#n/a", "null", "none", "nil", "-", "--", "---", "?", "*", "inf",
        "-inf", "+inf",
    ];
    cell.is_empty() || cell.len() <= 4 && WORDS.iter().any(|word| cell.eq_ignore_ascii_case(word.as_bytes()))
}

fn plain(cell: &[u8]) -> Option<f64> {
    fast_float2::parse::<f64, _>(cell).ok().filter(|value| value.is_finite())
}

/// `cell` with `.` as the decimal mark and nothing between thousands, if its marks make sense.
fn canonical<'b>(cell: &[u8], decimal: u8, buffer: &'b mut [u8; 64]) -> Option<&'b [u8]> {
    if cell.len() > buffer.len() {
        return None;
    }
    let other = if decimal == b',' { b'.' } else { b',' };
    let whole_end = cell.iter().position(|&byte| byte == decimal).unwrap_or(cell.len());
    let mut length = 0;
    let mut grouped = false;
    for (i, &byte) in cell.iter().enumerate() {
        let byte = match byte {
            b'.' | b',' if byte == decimal && i == whole_end => b'.',
            mark if mark == other || matches!(mark, b' ' | b'\'' | 0xA0) => {
                let digits = cell.get(i + 1..i + 4)?.iter().all(u8::is_ascii_digit);
                let ends_well = i + 4 == whole_end || cell.get(i + 4) == Some(&mark);
                if i == 0 || i > whole_end || !cell[i - 1].is_ascii_digit() || !digits || !ends_well {
                    return None;
                }
                grouped = true;
                continue;
            }
            other => other,
        };
        buffer[length] = byte;
        length += 1;
    }
    // "1,234" where the point is the decimal mark is a thousand; "0,5" never is a five.
    if grouped && buffer[..length].trim_ascii_start().starts_with(b"0") {
        return None;
    }
    Some(&buffer[..length])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_many_habits() {
        let number = |text: &str, decimal| match read(text.as_bytes(), decimal) {
            Cell::Number(value) => value,
            other => panic!("{text}: {other:?}"),
        };
        for (text, value) in [
            ("4.192888737E-2", 0.041_928_887_37),
            (" +1.5e3 ", 1500.0),
            (".5", 0.5),
            ("1,234.5", 1234.5),
            ("1'234'567", 1_234_567.0),
        ] {
            assert_eq!(number(text, b'.'), value, "{text}");
        }
        for (text, value) in [("-0,25", -0.25), ("1.234,5", 1234.5), ("12", 12.0), ("1,5E-2", 0.015)] {
            assert_eq!(number(text, b','), value, "{text}");
        }
    }

    #[test]
    fn missing_is_not_text_and_nonsense_is_not_a_number() {
        for text in ["", "  ", "NaN", "-", "N/A", "null", "-inf"] {
            assert_eq!(read(text.as_bytes(), b'.'), Cell::Missing, "{text}");
        }
        for text in ["OK", "1,23", "0,500", "1.2.3", "12:30", "1e999", "1,2345", "--5", "1,", ",123"] {
            assert_eq!(read(text.as_bytes(), b'.'), Cell::Text, "{text}");
        }
    }
}
