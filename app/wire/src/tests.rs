use std::collections::BTreeMap;
use std::fmt::Debug;

use serde::Deserialize;

use super::*;

#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
struct Sheet {
    name: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    runs: Vec<f32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    at_s: Option<f64>,
    kind: Option<Kind>,
    by_end: BTreeMap<String, Result<[f64; 2], String>>,
    small: (i8, u16, char),
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Kind {
    Plain,
    Named(String),
    Pair(u8, bool),
    Full {
        count: usize,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        words: String,
    },
}

fn comes_back<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: &T) -> Vec<u8> {
    let bytes = to_bytes(value).unwrap();
    assert_eq!(from_bytes::<T>(&bytes).as_ref(), Ok(value));
    bytes
}

fn full() -> Sheet {
    Sheet {
        name: "ёж".to_owned(),
        runs: vec![0.1, -0.0, f32::MAX],
        at_s: Some(1.0 / 3.0),
        kind: Some(Kind::Full { count: usize::MAX, words: "said".to_owned() }),
        by_end: [("a".to_owned(), Ok([f64::MIN_POSITIVE, 1e300])), ("b".to_owned(), Err("no".to_owned()))]
            .into(),
        small: (-7, 65535, '×'),
    }
}

#[test]
fn what_is_written_is_read_whatever_is_left_out() {
    comes_back(&full());
    comes_back(&Sheet::default());
    comes_back(&Sheet { runs: Vec::new(), ..full() });
    comes_back(&Sheet { at_s: None, ..full() });
    for kind in [
        Kind::Plain,
        Kind::Named(String::new()),
        Kind::Pair(255, true),
        Kind::Full { count: 0, words: String::new() },
    ] {
        comes_back(&vec![Some(kind), None]);
    }
    comes_back(&());
    comes_back(&vec![[(); 3]; 2]);
}

#[test]
fn missing_samples_come_through_to_the_last_bit() {
    let missing = f32::from_bits(0x7fc0_1234);
    let read: Vec<f32> = from_bytes(&to_bytes(&vec![missing, f32::NEG_INFINITY]).unwrap()).unwrap();
    assert_eq!(read.iter().map(|one| one.to_bits()).collect::<Vec<_>>(), [0x7fc0_1234, 0xff80_0000]);
}

#[test]
fn a_number_that_is_none_is_found_wherever_it_is() {
    assert!(is_finite(&full()));
    assert!(!is_finite(&Sheet { at_s: Some(f64::NAN), ..full() }));
    assert!(!is_finite(&Sheet { runs: vec![0.0, f32::INFINITY], ..full() }));
    assert!(!is_finite(&Sheet { by_end: [(String::new(), Ok([0.0, f64::NAN]))].into(), ..full() }));
}

/// Of every message cut short, and of every one with a byte changed, something comes of it and no panic.
#[test]
fn what_is_damaged_is_refused_or_read_as_something_else() {
    let bytes = comes_back(&full());
    for end in 0..bytes.len() {
        assert_eq!(from_bytes::<Sheet>(&bytes[..end]), Err(Mismatch), "{end}");
    }
    assert_eq!(from_bytes::<Sheet>(&[bytes.as_slice(), &[0]].concat()), Err(Mismatch));
    let words = to_bytes("words").unwrap();
    assert_eq!(
        from_bytes::<String>(&words[..words.len() - 1]),
        Err(Mismatch),
        "a text that ends before its length"
    );
    for at in 0..bytes.len() {
        for flipped in [1, 0x80, 0xff] {
            let mut bytes = bytes.clone();
            bytes[at] ^= flipped;
            let _ = from_bytes::<Sheet>(&bytes);
        }
    }
}
