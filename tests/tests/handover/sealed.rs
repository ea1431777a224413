//! Sealed files: opened by another implementation of the format, and its files opened here. Passphrases are few in these
//! tests because each takes seconds, as it must.

use std::collections::BTreeMap;

use evenkeel_core::handover::{
    KeyPair, Lock, MAX_WORK_FACTOR, MAX_WORK_FACTOR_PHONE, Opener, WORK_FACTOR, Wants, is_sealed, open, seal,
    wants,
};
use evenkeel_tests::odd::Odd;
use evenkeel_tests::python::reference_files;

const WORDS: &str = "soft soil, late brakes 山";

fn refusal(sealed: &[u8], opener: Opener<'_>) -> String {
    open(sealed, opener).expect_err("it must not open").to_string()
}

/// Source: `pyrage`, run live, both ways.
#[test]
fn another_implementation_opens_ours_and_we_open_its() {
    let day = Odd::new(21).day_file().write().unwrap();
    let ours = KeyPair::generate();
    let by_key = seal(&day, Lock::Keys(&[&ours.public])).unwrap();
    let by_words = seal(&day, Lock::Passphrase(WORDS)).unwrap();
    let back: BTreeMap<String, Vec<u8>> = reference_files(
        "sealed",
        &[
            ("plain", &day),
            ("key", ours.secret.as_bytes()),
            ("public", ours.public.as_bytes()),
            ("words", WORDS.as_bytes()),
            ("by_key", &by_key),
            ("by_words", &by_words),
        ],
    );
    assert!(back["opened_by_key"] == day && back["opened_by_words"] == day);
    assert_eq!(open(&back["sealed_by_key"], Opener::Key(&ours.secret)).unwrap(), day);
    let theirs = &back["sealed_by_words"];
    assert!(
        matches!(wants(theirs).unwrap(), Wants::Passphrase { work_factor } if work_factor <= MAX_WORK_FACTOR)
    );
    assert_eq!(open(theirs, Opener::Passphrase(WORDS, MAX_WORK_FACTOR)).unwrap(), day);
    // Its key pair is one of ours.
    let theirs = KeyPair::of(&String::from_utf8(back["their_key"].clone()).unwrap()).unwrap();
    assert_eq!(theirs.public.as_bytes(), back["their_public"]);

    assert_eq!(wants(&by_words).unwrap(), Wants::Passphrase { work_factor: WORK_FACTOR });
    let why = refusal(&by_words, Opener::Passphrase("soft soil, late brakes", MAX_WORK_FACTOR));
    assert!(why.contains("passphrase does not open"), "{why}");
}

#[test]
fn only_the_keys_it_was_sealed_for_open_it() {
    let [a, b, c] = [KeyPair::generate(), KeyPair::generate(), KeyPair::generate()];
    for plain in [vec![], vec![7; 5], vec![9; 200_000]] {
        let sealed = seal(&plain, Lock::Keys(&[&a.public, &b.public])).unwrap();
        assert!(is_sealed(&sealed) && wants(&sealed).unwrap() == Wants::Key);
        assert_eq!(open(&sealed, Opener::Key(&a.secret)).unwrap(), plain);
        assert_eq!(open(&sealed, Opener::Key(&format!(" {}\n", b.secret))).unwrap(), plain);
        let why = refusal(&sealed, Opener::Key(&c.secret));
        assert!(why.contains("another key"), "{why}");
        assert!(refusal(&sealed, Opener::Key(&a.public)).contains("no secret key"));
        assert!(refusal(&sealed, Opener::Passphrase(WORDS, 19)).contains("sealed with a key"));
    }
    assert_ne!(a.secret, b.secret);
    assert_eq!(KeyPair::of(&a.secret).unwrap().public, a.public);
    let lock = |lock| seal(b"x", lock).unwrap_err().to_string();
    assert!(lock(Lock::Keys(&["age1nonsense"])).contains("no public key"));
    assert!(lock(Lock::Keys(&[])).contains("cannot be sealed"));
    assert!(lock(Lock::Passphrase("")).contains("no passphrase"));
}

/// Every cut, and every byte changed: refused, whatever part of it was right.
#[test]
fn a_file_that_was_cut_or_altered_is_refused() {
    let keys = KeyPair::generate();
    let mut odd = Odd::new(4);
    // Two pieces of 64 KiB, so that a cut may fall between them.
    let plain: Vec<u8> = (0..(64 << 10) + 100).map(|_| odd.bits() as u8).collect();
    let sealed = seal(&plain, Lock::Keys(&[&keys.public])).unwrap();
    let head = sealed.len() - plain.len();
    let end_of_first = sealed.len() - 100 - 16;
    let places = (0..head).chain([head + 70, end_of_first - 1, end_of_first, sealed.len() - 1]);
    for place in places {
        assert!(open(&sealed[..place], Opener::Key(&keys.secret)).is_err(), "cut to {place}");
        let mut altered = sealed.clone();
        altered[place] ^= 1 << odd.below(8);
        assert!(open(&altered, Opener::Key(&keys.secret)).is_err(), "byte {place} altered");
    }
    let longer = [sealed.as_slice(), b"x"].concat();
    assert!(open(&longer, Opener::Key(&keys.secret)).is_err());
}

/// A file can ask for any amount of work: it is told before it is tried.
#[test]
fn work_beyond_the_limit_is_refused_with_the_memory_it_would_take() {
    let with = |work_factor: &str| {
        let stanza = "bBjlhJVYZeE4aqUdmtRHfw";
        format!(
            "age-encryption.org/v1\n-> scrypt {stanza} {work_factor}\n{}\n--- {}\n",
            "A".repeat(43),
            "A".repeat(43)
        )
        .into_bytes()
    };
    assert_eq!(wants(&with("18")).unwrap().memory_bytes(), 512 << 20);
    let why = |work: &str, most| refusal(&with(work), Opener::Passphrase(WORDS, most));
    assert!(why("20", 30).contains("2048 MB"), "{}", why("20", 30));
    assert!(why("18", MAX_WORK_FACTOR_PHONE).contains("512 MB"));
    assert!(why("18", MAX_WORK_FACTOR_PHONE).contains("on a computer"));
    assert!(why("63", 63).contains("MB"));
    for nonsense in ["256", "-1", "", "x"] {
        assert!(why(nonsense, 19).contains("altered"), "{nonsense}");
    }
    assert!(refusal(b"age-encryption.org/v2\n", Opener::Key("")).contains("no sealed file"));
    let endless = [b"age-encryption.org/v1\n".to_vec(), b"-> X25519 A\n".repeat(1 << 20)].concat();
    assert!(refusal(&endless, Opener::Key(&KeyPair::generate().secret)).contains("altered"));
}
