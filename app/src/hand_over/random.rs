//! What must not be guessed: ids and passphrases, drawn by the browser.

use leptos::prelude::window;

const CONSONANTS: [char; 18] =
    ['b', 'c', 'd', 'f', 'g', 'h', 'j', 'k', 'l', 'm', 'n', 'p', 'r', 's', 't', 'v', 'w', 'z'];
const VOWELS: [char; 5] = ['a', 'e', 'i', 'o', 'u'];
/// Syllables of a passphrase: each is one of 90, so that fourteen are worth 90 bits.
const SYLLABLES: usize = 14;
/// Random bytes below this are shared evenly among 90 syllables.
const EVEN: u8 = 180;

/// Random bytes.
///
/// # Errors
/// A sentence, if the browser draws none.
fn bytes<const N: usize>() -> Result<[u8; N], String> {
    let mut bytes = [0; N];
    let drawn = window().crypto().and_then(|crypto| crypto.get_random_values_with_u8_array(&mut bytes));
    drawn.map(|_| bytes).map_err(|_| "this browser draws no random numbers".to_owned())
}

/// An id that no other is like.
pub fn id() -> String {
    // Without random numbers a time is unlike enough: an id keeps no secret.
    let bytes = bytes::<12>().unwrap_or_else(|_| {
        let mut of_time = [0; 12];
        of_time[..8].copy_from_slice(&js_sys::Date::now().to_bits().to_le_bytes());
        of_time
    });
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A passphrase that can be read out over the telephone.
///
/// # Errors
/// A sentence, if the browser draws no random numbers.
pub fn passphrase() -> Result<String, String> {
    let mut syllables = Vec::new();
    while syllables.len() < SYLLABLES {
        let drawn = bytes::<64>()?;
        syllables.extend(drawn.into_iter().filter(|byte| *byte < EVEN).map(syllable));
    }
    syllables.truncate(SYLLABLES);
    Ok(syllables.chunks(2).map(<[String]>::concat).collect::<Vec<_>>().join("-"))
}

fn syllable(byte: u8) -> String {
    let which = usize::from(byte) % (CONSONANTS.len() * VOWELS.len());
    [CONSONANTS[which / VOWELS.len()], VOWELS[which % VOWELS.len()]].iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_syllable_is_as_likely_as_any_other() {
        let mut counts = std::collections::BTreeMap::<String, usize>::new();
        (0..EVEN).for_each(|byte| *counts.entry(syllable(byte)).or_default() += 1);
        assert_eq!((counts.len(), counts.values().all(|count| *count == 2)), (90, true));
    }
}
