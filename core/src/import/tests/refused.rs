//! Files that cannot be read: said in one line, in bounded time and memory.

use super::*;
use crate::import::{Layout, TimeBase};
use crate::unit::Unit;

#[test]
fn an_empty_file_and_only_a_header() {
    assert_eq!(
        refusal(""),
        "log.csv:1:1: the file is empty; check that the logger recorded and that the copy is complete"
    );
    assert!(refusal("\n\n  \r\n").contains("empty"));
    assert!(refusal([0; 5000]).contains("empty"));
    assert!(refusal("time_s,fork_mm\n").contains("only a header"));
    assert!(refusal("time,fork\ns,mm\n").contains("only a header"));
    assert!(refusal("time_s,fork_mm\n0.0,1\n").contains("fewer than two rows"));
}

#[test]
fn a_photo_and_other_binaries() {
    let photo = [&b"\xFF\xD8\xFF\xE0\0\x10JFIF\0\x01"[..], &[0x37; 400]].concat();
    assert!(refusal(photo).contains("this is a JPEG image, not text"));
    assert!(refusal(b"\x89PNG\r\n\x1A\n\0\0").contains("PNG"));
    assert!(refusal(b"PK\x03\x04\x14\0").contains("ZIP"));
    assert!(refusal(b"\0\0\0\x20ftypisom").contains("MP4"));
    assert!(refusal(b"%PDF-1.7\n").contains("PDF"));
    let noise: Vec<u8> = (0..2000_u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    assert!(refusal(noise).contains("binary data"));
}

#[test]
fn prose_is_no_log() {
    assert!(
        refusal("Dear reader,\n\nthis is a letter, not a log.\nIt goes on, and on,\nand on.\n")
            .contains("no rows of numbers")
    );
}

#[test]
fn one_gigantic_line() {
    assert!(refusal(vec![b'7'; 2 << 20]).contains("does not end within 64 KiB"));
    let mut late = b"t,x\n0.0,1\n0.1,2\n0.2,3\n".to_vec();
    late.extend(vec![b'7'; 2 << 20]);
    assert!(refusal(&late).starts_with("log.csv:5:1: the line is longer than 1024 KiB"));
}

#[test]
fn a_million_columns() {
    let wide = format!("{}\n", vec!["x"; 1_000_000].join(",")).repeat(2);
    assert!(refusal(&wide).contains("more than 4096 columns"));
    let medium = format!("{}\n", vec!["1"; 5000].join(",")).repeat(4);
    assert!(refusal(&medium).contains("5000 columns, more than 4096"));
}

#[test]
fn a_wide_header_over_narrow_rows_does_not_eat_the_memory() {
    let head = format!("t_s,{}\n", vec!["x"; 3000].join(","));
    let full = |i: usize| format!("{i},{}\n", vec!["1"; 3000].join(","));
    let text = head
        + &(0..4).map(full).collect::<String>()
        + &(4..100_000).map(|i| format!("{i},1\n")).collect::<String>();
    assert!(refusal(text).contains("far fewer cells"));
}

#[test]
fn a_quote_that_swallows_lines() {
    let mut text: Vec<String> = (0..500).map(|i| format!("{i},1")).collect();
    text[0] = "t_s,x".into();
    text[300] = "300,\"1".into();
    assert!(refusal(text.join("\n")).starts_with("log.csv:301:1: a quote is opened here and never closed;"));
    text[300] = "300,1".into();
    text[490] = "490,\"1".into();
    assert!(refusal(text.join("\n")).starts_with("log.csv:491:1: a quote"));
    assert!(refusal("\"".repeat(100_001)).starts_with("log.csv:1:1:"));
}

#[test]
fn a_column_that_is_no_clock() {
    let message = refusal("x,time_s\n1,5\n2,5\n3,5\n");
    assert!(message.contains("rate"), "{message}");
    let layout = sniff(b"t_s,x\n1,2\n2,2\n", "log.csv").unwrap();
    let mut reader = Reader::new("log.csv", layout).unwrap();
    reader.feed(b"t_s,x\n9,2\n8,2\n7,2\n6,2\n").unwrap();
    let message = reader.finish().map(|_| ()).unwrap_err().to_string();
    assert_eq!(
        message,
        "log.csv:2:1: the time in column \"t\" runs backward; sort the rows by time, or choose another time column"
    );
}

#[test]
fn layouts_that_no_file_has() {
    let layout = sniff(b"t_s,x\n1,2\n2,2\n", "log.csv").unwrap();
    let damages: [fn(&mut Layout); 7] = [
        |layout| layout.delimiter = '"',
        |layout| layout.delimiter = 'é',
        |layout| layout.decimal = ';',
        |layout| layout.headers.clear(),
        |layout| layout.set_rate(f64::NAN),
        |layout| layout.time = TimeBase::Clock { column: 2 },
        |layout| layout.time = TimeBase::Number { column: 0, unit: Unit::Bar },
    ];
    for damage in damages {
        let mut layout = layout.clone();
        damage(&mut layout);
        assert!(Reader::new("log.csv", layout).is_err());
    }
}
