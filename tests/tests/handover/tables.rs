//! Tables for other programs, read back by pandas and pyarrow.

use std::collections::BTreeMap;

use evenkeel_core::decide::{Archive, ArchivedDay, RunSummary, SectionSummary};
use evenkeel_core::handover::{Cell, csv, parquet};
use evenkeel_tests::odd::Odd;
use evenkeel_tests::python::reference_files;

/// Source: pandas with pyarrow, run live. More numbers than fit one page, and one day without any.
#[test]
fn the_archive_is_read_by_pandas() {
    let mut odd = Odd::new(6);
    let day = |runs: usize, odd: &mut Odd| ArchivedDay {
        name: odd.name(),
        date: "2026-05-02".to_owned(),
        runs: (0..runs)
            .map(|_| RunSummary {
                run: odd.name(),
                setup: odd.name(),
                sections: (0..40)
                    .map(|_| {
                        let name = odd.name();
                        let numbers = (0..60).map(|k| (format!("rear.number_{k}"), odd.f32())).collect();
                        SectionSummary { name, numbers }
                    })
                    .collect(),
            })
            .collect(),
    };
    let archive = Archive { days: vec![day(10, &mut odd), day(0, &mut odd), day(1, &mut odd)] };
    let bytes = parquet(&archive).unwrap();
    let empty = parquet(&Archive::default()).unwrap();
    let back = reference_files("parquet", &[("archive", &bytes), ("empty", &empty)]);

    let mut expected: BTreeMap<&str, Vec<u8>> = BTreeMap::new();
    let mut add = |name, value: &[u8]| expected.entry(name).or_default().extend(value);
    let mut rows = 0;
    for day in &archive.days {
        for (run, place) in day.runs.iter().zip(1_i32..) {
            for section in &run.sections {
                for (metric, value) in &section.numbers {
                    rows += 1;
                    let words: [(_, &str); 6] = [
                        ("day", &day.name),
                        ("date", &day.date),
                        ("run", &run.run),
                        ("setup", &run.setup),
                        ("section", &section.name),
                        ("metric", metric),
                    ];
                    words.iter().for_each(|(name, words)| add(name, &[words.as_bytes(), b"\x01"].concat()));
                    add("run_number", &place.to_le_bytes());
                    add("value", &value.to_le_bytes());
                }
            }
        }
    }
    assert_eq!(rows, 26_400);
    for (name, bytes) in expected {
        assert!(back[name] == bytes, "column {name}");
    }
    let schema = "day: string, date: string, run_number: int32, run: string, setup: string, section: string, \
                  metric: string, value: float";
    assert_eq!(String::from_utf8_lossy(&back["schema"]), schema);
    assert_eq!(String::from_utf8_lossy(&back["empty"]), "0");
}

/// Source: pandas, run live: cells come back as they were, with a quote before what might have been a formula.
#[test]
fn a_table_is_read_by_pandas() {
    let mut odd = Odd::new(8);
    let names: Vec<String> = (0..60).map(|_| odd.name().replace('\0', "")).collect();
    let numbers: Vec<f64> = (0..60).map(|_| odd.finite()).collect();
    let rows: Vec<Vec<Cell>> = names
        .iter()
        .zip(&numbers)
        .map(|(name, &number)| vec![name.as_str().into(), number.into(), "end".into()])
        .collect();
    let back = reference_files("table", &[("table", csv(&["name", "number", "last"], &rows).as_bytes())]);
    let numbers: Vec<u8> = numbers.iter().flat_map(|number| number.to_le_bytes()).collect();
    assert!(back["number"] == numbers);
    let read: Vec<&[u8]> = back["name"].split(|&byte| byte == 1).collect();
    for (name, read) in names.iter().zip(read) {
        let read = String::from_utf8_lossy(read);
        assert!(read == *name || read == format!("'{name}"), "{name:?} became {read:?}");
        assert!(!read.starts_with(['=', '+', '-', '@', '\t', '\r']), "{read:?}");
    }
}
