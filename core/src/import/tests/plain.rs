//! Rows read in one pass are what the careful way makes of them.

use super::*;
use crate::import::plain::{Form, row};
use crate::import::{Layout, TimeBase};

/// One file read in these pieces, by either way.
fn by(careful: bool, layout: &Layout, pieces: &[&[u8]]) -> String {
    let mut reader = Reader::new("log.csv", layout.clone()).unwrap();
    if careful {
        reader = reader.carefully();
    } else {
        reader.expect(pieces.iter().map(|piece| piece.len()).sum::<usize>() as f64);
    }
    let fed = pieces.iter().try_for_each(|piece| reader.feed(piece));
    outcome(fed.and_then(|()| reader.finish()).map(|imported| imported.parts))
}

fn same_both_ways(layout: &Layout, text: &[u8], every_border: bool) {
    let careful = by(true, layout, &[text]);
    assert_eq!(by(false, layout, &[text]), careful, "{:?}", String::from_utf8_lossy(text));
    for border in (0..text.len()).filter(|_| every_border) {
        let pieces = [&text[..border], &text[border..]];
        assert_eq!(by(false, layout, &pieces), careful, "{:?}", pieces.map(String::from_utf8_lossy));
    }
}

/// A cell as loggers, and failing loggers, write it; `.` stands for the decimal mark.
fn cell(random: &mut Xorshift) -> String {
    const ODD: &[&str] = &[
        "",
        "",
        "",
        " ",
        "NaN",
        "-",
        "--",
        "n/a",
        "inf",
        "-inf",
        "OK",
        "1.2.3",
        "1,234.5",
        "1.234,5",
        "-0",
        "-0.0",
        "+1.5",
        ".5",
        "-.5",
        "5.",
        "-5.",
        ".",
        "1e3",
        "1.5E-3",
        "1e",
        "1e400",
        "-1e300",
        "4e38",
        "3.5e38",
        "1e-400",
        "007",
        "1 ",
        " 1",
        "  -2.25",
        "\u{A0}3",
        "1'000",
        "1 000",
        "12:30",
        "9999999999999999999999",
        "0.1234567890123456789",
        "123456789012345",
        "1234567890123456",
        "9007199254740993",
        "12345678.12345678",
        "0.30000000000000004",
        "8.5e-7",
        "\"7\"",
        "\"a\"\"b\"",
        "7\"",
        "\0",
        "0x10",
        "1_0",
        "1-2",
        "-1-",
        "1d5",
        "½",
    ];
    match random.below(4) {
        0 => ODD[random.below(ODD.len())].to_owned(),
        1 => {
            let digits = random.next().to_string();
            let length = 1 + random.below(digits.len());
            let point = random.below(length + 1);
            let sign = if random.below(2) == 0 { "-" } else { "" };
            format!("{sign}{}.{}", &digits[..point], &digits[point..length])
        }
        2 => format!("{}", random.below(2000) as f64 / 16.0 - 60.0),
        _ => random.below(100_000).to_string(),
    }
}

/// A log of odd rows after a few good ones, with the layout that its head has.
fn log(random: &mut Xorshift) -> (Layout, Vec<u8>) {
    let (delimiter, decimal) =
        [(",", '.'), (";", '.'), (";", ','), ("\t", '.'), ("\t", ','), ("|", '.'), (" ", '.')]
            [random.below(7)];
    let end = ["\n", "\n", "\r\n", "\r"][random.below(4)];
    let columns = 1 + random.below(5);
    let with_clock = random.below(4) == 0;
    let closing = if random.below(4) == 0 { delimiter } else { "" };
    let time = |row: usize| {
        if with_clock { format!("12:30:{:02}.5", row) } else { format!("{row}.25") }
            .replace('.', &decimal.to_string())
    };
    let header: Vec<String> = (1..=columns).map(|column| format!("latitude{column}")).collect();
    let mut lines = vec![format!("time{delimiter}{}", header.join(delimiter))];
    for row in 0..4 {
        let cells = vec![format!("1{decimal}5"); columns];
        lines.push(format!("{}{delimiter}{}{closing}", time(row), cells.join(delimiter)));
    }
    let layout = sniff(lines.join("\n").as_bytes(), "log.csv").unwrap();
    let oddness = 1 + random.below(12);
    for row in 4..4 + random.below(8) {
        let odd = |random: &mut Xorshift| random.below(oddness) == 0;
        let count = if odd(random) { random.below(2 * columns + 1) } else { columns };
        let mut cells = vec![if odd(random) { cell(random) } else { time(row) }];
        let number =
            |random: &mut Xorshift| format!("-{}{decimal}{:04}", random.below(90), random.below(10_000));
        cells.extend((0..count).map(|_| match odd(random) {
            true if decimal == ',' => cell(random).replace('.', ","),
            true => cell(random),
            false => number(random),
        }));
        lines.push(cells.join(delimiter) + closing);
        if odd(random) {
            lines.push(["", "# note", "text", ",,,"][random.below(4)].to_owned());
        }
    }
    let mut text = (lines.join(end) + end).into_bytes();
    if random.below(2) == 0 {
        text.truncate(text.len() - random.below(8));
    }
    (layout, text)
}

#[test]
fn odd_logs_are_read_the_same_both_ways_and_in_any_two_pieces() {
    let mut random = Xorshift(0x2545_F491_4F6C_DD1D);
    let mut clocks = 0;
    for case in 0..2500 {
        let (layout, text) = log(&mut random);
        clocks += usize::from(matches!(layout.time, TimeBase::Clock { .. }));
        same_both_ways(&layout, &text, case % 40 == 0);
    }
    assert!(clocks > 300, "only {clocks} of 2500 logs have a clock");
}

#[test]
fn a_long_log_with_an_odd_row_now_and_then() {
    let mut random = Xorshift(0x9E37_79B9_7F4A_7C15);
    let mut text = String::from("time_s,fork_mm,latitude\n");
    for row in 0..5000 {
        let odd = if row % 97 == 50 { cell(&mut random) } else { format!("{}.125", row % 170) };
        text += &format!("{row},{odd},{}.{row:07}\n", 47 - row / 4000);
    }
    let layout = sniff(text.as_bytes(), "log.csv").unwrap();
    same_both_ways(&layout, text.as_bytes(), false);
}

const COMMA: Form = Form { delimiter: b',', decimal: b'.', clock_column: None };

/// Rust's own parser, which rounds correctly, as the judge.
#[test]
fn numbers_are_the_nearest_to_their_decimals() {
    let mut random = Xorshift(88_172_645_463_325_252);
    for _ in 0..20_000 {
        let digits = random.next().to_string();
        let length = 1 + random.below(digits.len());
        let point = random.below(length + 1);
        let text = format!("-{}.{},{}\n", &digits[..point], &digits[point..length], &digits[..length]);
        let mut values = [0.0; 2];
        let found = row(text.as_bytes(), COMMA, &mut values).map(|row| row.length);
        let (first, second) = text.trim_end().split_once(',').unwrap();
        assert_eq!(found, Some(text.len()), "{text}");
        assert_eq!(values, [first.parse::<f64>().unwrap(), second.parse().unwrap()], "{text}");
    }
}

#[test]
fn what_a_plain_row_is() {
    let mut values = [0.0; 3];
    for text in ["1,-2.5, 3e2\n", "1,,3\r\nnext", "0.0010,12.3456,-7,\n"] {
        assert!(row(text.as_bytes(), COMMA, &mut values).is_some(), "{text}");
    }
    for text in
        ["1,2\n", "1,2,3,4\n", "1,2,x\n", "1,2,NaN\n", "1,2,3", "1,2,3\r", "1,\"2\",3\n", "1,2,3,,\n", ""]
    {
        assert!(row(text.as_bytes(), COMMA, &mut values).is_none(), "{text}");
    }
}
