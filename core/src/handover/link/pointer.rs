//! A sealed file beside the page, and its key.

use serde::{Deserialize, Serialize};

use crate::handover::Refused;

/// How a secret key of age begins, and how long it is (age v1, "X25519 identity").
const KEY_PREFIX: &str = "AGE-SECRET-KEY-1";
const KEY_LENGTH: usize = 74;
/// Longest path, characters.
const MAX_PATH: usize = 200;

/// A sealed file that lies beside the page on the same host, and what opens it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pointer {
    /// Its path from the page's folder: `days/wet.age`. Letters, digits, `.`, `-` and `_`.
    pub file: String,
    /// The secret key, `AGE-SECRET-KEY-1...`.
    pub key: String,
}

impl Pointer {
    /// Whether it points beside the page and nowhere else: whoever sends a link must not choose what is asked of whom.
    ///
    /// # Errors
    /// A path that leaves the folder, names another host, or holds other characters; a key that is none.
    pub fn check(&self) -> Result<(), Refused> {
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
        let inside = |part: &str| !part.is_empty() && !part.starts_with('.') && part.chars().all(plain);
        if self.file.len() > MAX_PATH || !self.file.split('/').all(inside) {
            return Err(Refused::because(
                "this link points to a file that does not lie beside the page",
                "ask for one that does, or for the file",
            ));
        }
        let is_key = self.key.len() == KEY_LENGTH
            && self.key.starts_with(KEY_PREFIX)
            && self.key.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '-');
        if is_key {
            Ok(())
        } else {
            Err(Refused::because("the key in this link is none", "ask for the link again"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_points_beside_the_page_only() {
        let key = format!("{KEY_PREFIX}{}", "Q".repeat(58));
        let check = |file: &str| Pointer { file: file.to_owned(), key: key.clone() }.check();
        for beside in ["wet.age", "days/wet-2.age", "a/b/c_d.age"] {
            assert_eq!(check(beside), Ok(()), "{beside}");
        }
        for elsewhere in [
            "",
            "/wet.age",
            "../wet.age",
            "a/../../b",
            "https://host.invalid/a",
            "//host.invalid/a",
            "a\\b",
            "a?b",
            "javascript:alert(1)",
            "data:text/html,x",
            "a/",
            ".hidden",
            "%2e%2e/a",
            "a b",
            "é.age",
            &"a".repeat(201),
        ] {
            assert!(check(elsewhere).is_err(), "{elsewhere}");
        }
        for harmed in [String::new(), key.to_lowercase(), format!("{key}Q"), key.replace('Q', "<")] {
            assert!(Pointer { file: "a.age".to_owned(), key: harmed }.check().is_err());
        }
    }
}
