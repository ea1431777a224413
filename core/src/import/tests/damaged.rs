//! Files that are not quite whole: what can be kept is kept, and told.

use std::fmt::Write;

use super::*;

fn rows(count: usize) -> String {
    let mut text = String::from("time_s,fork_mm,shock_mm\n");
    (0..count)
        .for_each(|i| writeln!(text, "{}.{:02},{}.5,10.{:03}", i / 100, i % 100, i % 170, i % 997).unwrap());
    text
}

#[test]
fn a_file_that_ends_in_the_middle_of_a_number() {
    let whole = rows(100);
    let end = whole.len();
    // Line 101 reads `0.99,99.5,10.099`.
    for (cut, kept, word) in [
        (1, 100, "looks whole and is kept"),
        (2, 99, "line 101: the file ends in the middle"),
        (4, 99, "in the middle"),
        (6, 99, "in the middle"),
        (8, 99, "in the middle"),
        (14, 99, "in the middle"),
    ] {
        let source = one(&whole[..end - cut]);
        assert_eq!(source.report.rows, kept, "{}", &whole[end - 20..end - cut]);
        assert!(warns(&source, word), "{:?}", source.report.warnings);
        assert_eq!(source.report.dropped, 100 - kept);
    }
    assert!(one(&whole).report.warnings.is_empty(), "{:?}", one(&whole).report.warnings);
}

#[test]
fn zeros_after_a_power_failure() {
    for (cut, kept) in [(0, 100), (2, 99)] {
        let mut bytes = rows(100).into_bytes();
        bytes.truncate(bytes.len() - cut);
        bytes.extend(vec![0; 3 << 20]);
        let source = one(&bytes);
        assert_eq!(source.report.rows, kept);
        assert!(warns(&source, "line 10"), "{:?}", source.report.warnings);
    }
}

#[test]
fn wild_double_and_missing_stamps_cost_their_own_rows() {
    let mut lines: Vec<String> = rows(100).lines().map(str::to_owned).collect();
    lines[31] = lines[31].replace("0.30", "7e9");
    lines[51] = lines[51].replace("0.50", "0.49");
    lines[61] = lines[61].replace("0.60", "");
    lines[71] = lines[71].replace("0.70", "0.07");
    let source = one(lines.join("\n") + "\n");
    assert_eq!((source.report.rows, source.report.dropped), (96, 4));
    assert!(
        warns(&source, "line 32: 2 rows are dropped: the time stamp is wild"),
        "{:?}",
        source.report.warnings
    );
    assert!(warns(&source, "line 52: 1 row is dropped: the time stamp is that of the row before"));
    assert!(warns(&source, "line 62: 1 row is dropped: the time stamp is missing"));
    assert_eq!(column(&source, "fork")[29..31], [29.5, 31.5]);
}

#[test]
fn unreadable_cells_are_summed_up() {
    let mut text = String::from("t_s,fork,state,odd\n");
    (0..5000).for_each(|i| writeln!(text, "{i},1,OK,{}", if i % 2 == 0 { "12x" } else { "3" }).unwrap());
    let source = one(text);
    assert_eq!(source.report.rows, 5000);
    assert!(warns(&source, "line 2: column \"state\" holds text (\"OK\")"));
    assert!(warns(&source, "line 2: column \"odd\" has 2500 unreadable cells (\"12x\")"));
    assert_eq!(source.report.warnings.len(), 2, "{:?}", source.report.warnings);
    assert!(column(&source, "state").iter().all(|value| value.is_nan()));
}

fn same_in_any_pieces(bytes: &[u8], random: &mut Xorshift) {
    let whole = outcome(read("log.csv", bytes).map(|imported| imported.parts));
    let sizes: Vec<usize> = (0..5).map(|_| 1 + random.below(40)).collect();
    assert_eq!(
        outcome(read_in_pieces(bytes, &sizes)),
        whole,
        "{:?} in {sizes:?}",
        String::from_utf8_lossy(bytes)
    );
}

#[test]
fn random_bytes_never_panic_and_pieces_do_not_matter() {
    const ALPHABET: &[u8] = b"0123456789.,;:-\"'\n\r\t |#eETZ/%xg\0\xB0\xFF";
    let mut random = Xorshift(0x9E37_79B9_7F4A_7C15);
    for case in 0..3000 {
        let length = random.below(300);
        let any = case % 3 == 0;
        let bytes: Vec<u8> = (0..length)
            .map(|_| if any { random.next() as u8 } else { ALPHABET[random.below(ALPHABET.len())] })
            .collect();
        same_in_any_pieces(&bytes, &mut random);
    }
}

#[test]
fn mutations_of_good_files_never_panic_and_pieces_do_not_matter() {
    const SPLICES: &[&[u8]] = &[
        b"\"",
        b"\n",
        b"\r",
        b"\r\n",
        b"\0",
        b",",
        b";",
        b"1e400",
        b"-1e300",
        b"NaN",
        b"#",
        b"\xFF\xFE",
        b"\xEF\xBB\xBF",
        b"9999999999999999999999",
        b"23:59:59",
        b"2026-05-03T14:00:00Z",
        b"\"\"",
        b",,,,,,,,,,",
    ];
    let dated = "time;lat;lon\n2026-05-03T14:00:00Z;47,5;11,25\n2026-05-03T14:00:01Z;47,6;11,26\n".repeat(3);
    let utf16: Vec<u8> = rows(15).encode_utf16().flat_map(u16::to_le_bytes).collect();
    let good = [rows(40).into_bytes(), dated.into_bytes(), utf16, rows(12).replace(',', " ").into_bytes()];
    let mut random = Xorshift(0x0123_4567_89AB_CDEF);
    let mut read_well = 0;
    for case in 0..4000 {
        let mut bytes = good[case % good.len()].clone();
        for _ in 0..1 + random.below(4) {
            let at = random.below(bytes.len());
            match random.below(4) {
                0 => bytes[at] = random.next() as u8,
                1 => bytes.truncate(at),
                2 => drop(bytes.drain(at..(at + random.below(30)).min(bytes.len()))),
                _ => drop(bytes.splice(at..at, SPLICES[random.below(SPLICES.len())].iter().copied())),
            }
            if bytes.is_empty() {
                break;
            }
        }
        read_well += usize::from(read("log.csv", &bytes).is_ok());
        same_in_any_pieces(&bytes, &mut random);
    }
    assert!(read_well > 2000, "only {read_well} of 4000 damaged files gave anything");
}
