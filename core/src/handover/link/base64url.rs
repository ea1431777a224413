//! Bytes as text that a link may hold: base64url of RFC 4648, section 5, without padding.

const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

pub fn encode(bytes: &[u8], text: &mut String) {
    for chunk in bytes.chunks(3) {
        let bits = (0..3).fold(0_u32, |bits, k| bits << 8 | u32::from(chunk.get(k).copied().unwrap_or(0)));
        let digit = |k: usize| char::from(DIGITS[(bits >> (18 - 6 * k)) as usize & 63]);
        text.extend((0..=chunk.len()).map(digit));
    }
}

/// `None` where a character is none of the 64, a last one stands alone, or bits are left over that are not 0.
pub fn decode(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3 + 2);
    for chunk in text.as_bytes().chunks(4) {
        let mut bits = 0_u32;
        for &digit in chunk {
            bits = bits << 6 | value(digit)?;
        }
        bits <<= 6 * (4 - chunk.len());
        let [_, first @ ..] = bits.to_be_bytes();
        let (whole, rest) = first.split_at_checked(chunk.len().checked_sub(1).filter(|&whole| whole > 0)?)?;
        if rest.iter().any(|&byte| byte != 0) {
            return None;
        }
        bytes.extend(whole);
    }
    Some(bytes)
}

fn value(digit: u8) -> Option<u32> {
    let value = match digit {
        b'A'..=b'Z' => digit - b'A',
        b'a'..=b'z' => digit - b'a' + 26,
        b'0'..=b'9' => digit - b'0' + 52,
        b'-' => 62,
        b'_' => 63,
        _ => return None,
    };
    Some(u32::from(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(bytes: &[u8]) -> String {
        let mut text = String::new();
        encode(bytes, &mut text);
        text
    }

    /// RFC 4648, section 10, the padding left out; and the two digits that the URL's alphabet changes.
    #[test]
    fn published_vectors() {
        let vectors = ["", "Zg", "Zm8", "Zm9v", "Zm9vYg", "Zm9vYmE", "Zm9vYmFy"];
        for (length, vector) in vectors.iter().enumerate() {
            assert_eq!(text(&b"foobar"[..length]), *vector);
            assert_eq!(decode(vector).unwrap(), &b"foobar"[..length]);
        }
        assert_eq!(text(&[0xfb, 0xff]), "-_8");
    }

    #[test]
    fn every_byte_comes_back_and_nothing_else_is_taken() {
        let all: Vec<u8> = (0..=255).collect();
        assert_eq!(decode(&text(&all)).unwrap(), all);
        for harmed in ["A", "AAAAA", "Zh", "Zm9", "Zg==", "Z g", "Zm9+", "é"] {
            assert_eq!(decode(harmed), None, "{harmed}");
        }
    }
}
