//! Whatever is brought in, no parser panics, and what it gives is sound. The examples of `tests/corpus` are tried as they are,
//! those that once did harm among them, and then spoilt in many ways; `cargo xtask fuzz` looks further.

use std::fs;

use evenkeel_fuzz::{LONGEST, PARSERS, Parser};
use evenkeel_tests::odd::Odd;

/// How often each parser's examples are spoilt.
const TIMES: usize = 1500;

fn examples(parser: Parser) -> Vec<Vec<u8>> {
    let folder = parser.corpus();
    let entries = fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut files: Vec<_> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.iter().map(|file| fs::read(file).unwrap()).collect()
}

/// One example spoilt: bytes changed, cut, doubled, moved, or mixed with those of another.
fn spoil(bytes: &mut Vec<u8>, other: &[u8], odd: &mut Odd) {
    const TELLING: [&[u8]; 14] = [
        b"\0",
        b"\xff",
        b"\"",
        b"\n",
        b"\r\n",
        b",",
        b"1e999",
        b"-",
        b"NaN",
        b"\xef\xbb\xbf",
        b"<",
        b"{",
        b"18446744073709551616",
        b"=",
    ];
    for _ in 0..=odd.below(6) {
        let (from, to) = (odd.below(bytes.len() + 1), odd.below(bytes.len() + 1));
        let (from, to) = (from.min(to), from.max(to).min(from.min(to) + 200));
        match odd.below(7) {
            0 if !bytes.is_empty() => {
                let place = odd.below(bytes.len());
                bytes[place] ^= 1 << odd.below(8);
            }
            1 => drop(bytes.drain(from..to)),
            2 => bytes.truncate(to.max(from)),
            3 => {
                let piece = bytes[from..to].to_vec();
                let at = odd.below(bytes.len() + 1);
                drop(bytes.splice(at..at, piece));
            }
            4 => {
                let piece = other.get(from..to.min(other.len())).unwrap_or_default().to_vec();
                drop(bytes.splice(from..to, piece));
            }
            _ => {
                let piece = TELLING[odd.below(TELLING.len())].repeat(1 + odd.below(3));
                drop(bytes.splice(from..from, piece));
            }
        }
    }
    bytes.truncate(LONGEST);
}

#[test]
fn no_parser_is_harmed_by_anything() {
    for parser in PARSERS {
        let examples = examples(parser);
        assert!(!examples.is_empty(), "{} has no examples", parser.name);
        examples.iter().for_each(|example| (parser.try_on)(example));
        let mut odd = Odd::new(17);
        for time in 0..TIMES {
            let mut bytes = examples[odd.below(examples.len())].clone();
            spoil(&mut bytes, &examples[odd.below(examples.len())], &mut odd);
            let tried = std::panic::catch_unwind(|| (parser.try_on)(&bytes));
            assert!(tried.is_ok(), "{}, time {time}: {:?}", parser.name, String::from_utf8_lossy(&bytes));
        }
    }
}

#[test]
fn the_examples_are_small() {
    for parser in PARSERS {
        let bytes: usize = examples(parser).iter().map(Vec::len).sum();
        assert!(bytes < 64 << 10, "{}: {bytes} bytes", parser.name);
    }
}
