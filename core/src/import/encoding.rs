//! From bytes to text: which encoding, and UTF-16 undone piece by piece.

use std::borrow::Cow;

use super::Encoding;

/// The encoding of a file by its first bytes: byte order mark, else zero bytes in every other
/// place (UTF-16 of mostly ASCII text), else valid UTF-8, else Latin-1.
pub(super) fn detect(head: &[u8]) -> Encoding {
    match head {
        [0xEF, 0xBB, 0xBF, ..] => return Encoding::Utf8,
        [0xFF, 0xFE, ..] => return Encoding::Utf16Le,
        [0xFE, 0xFF, ..] => return Encoding::Utf16Be,
        _ => {}
    }
    // Only the beginning counts: a file cut off by a flat battery may end in zeros.
    let start = &head[..head.len().min(256)];
    let zeros_at = |odd: usize| start.iter().skip(odd).step_by(2).filter(|&&byte| byte == 0).count();
    let (even, odd, pairs) = (zeros_at(0), zeros_at(1), start.len() / 2);
    if pairs >= 2 && odd * 4 > pairs * 3 && even * 8 < pairs {
        return Encoding::Utf16Le;
    }
    if pairs >= 2 && even * 4 > pairs * 3 && odd * 8 < pairs {
        return Encoding::Utf16Be;
    }
    match std::str::from_utf8(head) {
        Ok(_) => Encoding::Utf8,
        // The head may stop inside a character.
        Err(error) if error.error_len().is_none() => Encoding::Utf8,
        Err(_) => Encoding::Latin1,
    }
}

/// The whole head as text, without byte order mark.
pub(super) fn decode(head: &[u8], encoding: Encoding) -> Cow<'_, str> {
    let text = match encoding {
        Encoding::Utf8 => String::from_utf8_lossy(head),
        Encoding::Latin1 => Cow::Owned(head.iter().map(|&byte| windows_1252(byte)).collect()),
        Encoding::Utf16Le | Encoding::Utf16Be => {
            let mut bytes = Vec::with_capacity(head.len());
            Utf16::new(encoding).decode(head, &mut bytes);
            Cow::Owned(String::from_utf8_lossy(&bytes).into_owned())
        }
    };
    match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.trim_start_matches('\u{FEFF}')),
        Cow::Owned(text) => Cow::Owned(text.trim_start_matches('\u{FEFF}').to_owned()),
    }
}

/// A byte as Windows-1252, which is ISO 8859-1 with printable characters at 0x80-0x9F
/// (WHATWG Encoding Standard, index windows-1252).
fn windows_1252(byte: u8) -> char {
    const C1: &str = "€\u{81}‚ƒ„…†‡ˆ‰Š‹Œ\u{8D}Ž\u{8F}\u{90}‘’“”•–—˜™š›œ\u{9D}žŸ";
    match byte {
        0x80..=0x9F => C1.chars().nth(usize::from(byte - 0x80)).unwrap_or(char::REPLACEMENT_CHARACTER),
        _ => char::from(byte),
    }
}

/// UTF-16 to UTF-8 in pieces cut anywhere, even inside a unit or a surrogate pair.
#[derive(Debug)]
pub(super) struct Utf16 {
    big_endian: bool,
    half_unit: Option<u8>,
    high_surrogate: Option<u16>,
}

impl Utf16 {
    pub(super) fn new(encoding: Encoding) -> Self {
        Self { big_endian: encoding == Encoding::Utf16Be, half_unit: None, high_surrogate: None }
    }

    /// Appends the text of `bytes` to `out`. A lone surrogate becomes U+FFFD.
    pub(super) fn decode(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        for &byte in bytes {
            let Some(first) = self.half_unit.take() else {
                self.half_unit = Some(byte);
                continue;
            };
            let pair = [first, byte];
            let unit = if self.big_endian { u16::from_be_bytes(pair) } else { u16::from_le_bytes(pair) };
            self.unit(unit, out);
        }
    }

    fn unit(&mut self, unit: u16, out: &mut Vec<u8>) {
        let mut push = |c: char| out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes());
        if let Some(high) = self.high_surrogate.take() {
            if let Some(Ok(c)) = char::decode_utf16([high, unit]).next() {
                return push(c);
            }
            push(char::REPLACEMENT_CHARACTER);
        }
        match unit {
            0xD800..=0xDBFF => self.high_surrogate = Some(unit),
            _ => push(char::from_u32(u32::from(unit)).unwrap_or(char::REPLACEMENT_CHARACTER)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utf16(text: &str, encoding: Encoding) -> Vec<u8> {
        let bytes =
            |unit: u16| if encoding == Encoding::Utf16Be { unit.to_be_bytes() } else { unit.to_le_bytes() };
        text.encode_utf16().flat_map(bytes).collect()
    }

    #[test]
    fn utf16_is_found_without_a_mark_and_read_in_any_pieces() {
        let text = "t [s];Gabel [mm];Höhe 𝒳\n0,001;12,5;3\n";
        for encoding in [Encoding::Utf16Le, Encoding::Utf16Be] {
            let bytes = utf16(text, encoding);
            assert_eq!(detect(&bytes), encoding);
            for piece in 1..7 {
                let (mut decoder, mut out) = (Utf16::new(encoding), Vec::new());
                bytes.chunks(piece).for_each(|chunk| decoder.decode(chunk, &mut out));
                assert_eq!(std::str::from_utf8(&out), Ok(text));
            }
        }
    }

    #[test]
    fn latin_1_is_what_is_not_utf_8() {
        assert_eq!(detect(b"H\xF6he [\xB0]"), Encoding::Latin1);
        assert_eq!(decode(b"H\xF6he [\xB0] \x80", Encoding::Latin1), "Höhe [°] €");
        assert_eq!(detect("Höhe".as_bytes()), Encoding::Utf8);
        assert_eq!(detect(&"Höhe".as_bytes()[..2]), Encoding::Utf8);
        assert_eq!(decode(b"\xEF\xBB\xBFt", Encoding::Utf8), "t");
    }
}
