//! Digests of files, as their names and browsers carry them.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use sha2::{Digest, Sha256};

/// So many hexadecimal digits tell two contents apart.
const DIGITS: usize = 16;

/// As in an `integrity` or a content security policy (Subresource Integrity, 3.1): `sha256-` and base64.
pub fn integrity(bytes: &[u8]) -> String {
    format!("sha256-{}", BASE64_STANDARD.encode(Sha256::digest(bytes)))
}

/// The first digits, for a name.
pub fn short(bytes: &[u8]) -> String {
    let digits: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    digits.chars().take(DIGITS).collect()
}

/// `style/a.css` with its content in its name: `style/a-0123456789abcdef.css`.
pub fn named(name: &str, bytes: &[u8]) -> String {
    let digits = short(bytes);
    match name.rsplit_once('.') {
        Some((stem, kind)) => format!("{stem}-{digits}.{kind}"),
        None => format!("{name}-{digits}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-2, appendix B.1: the digest of "abc".
    #[test]
    fn is_the_published_digest() {
        assert_eq!(short(b"abc"), "ba7816bf8f01cfea");
        assert_eq!(integrity(b"abc"), "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
        assert_eq!(named("a.b/c.css", b"abc"), "a.b/c-ba7816bf8f01cfea.css");
    }
}
