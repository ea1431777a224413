//! Tables for other programs, read back by pandas and pyarrow.

use std::collections::BTreeMap;
use std::sync::Arc;

use evenkeel_core::decide::{Archive, ArchivedDay, RunSummary, SectionSummary};
use evenkeel_core::handover::{Cell, csv, numbers_as_csv, parquet};
use evenkeel_core::{Day, Log, RunSheet, analyse_now, import};
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

/// Every number stands under its key in the read-out with its evidence, and what is not measured with its reason.
#[test]
fn the_numbers_table_says_what_the_read_out_says() {
    let text = (0..3000).fold("time_s,front_travel_mm,speed_mps\n".to_owned(), |text, k| {
        let t = f64::from(k) / 100.0;
        text + format!("{t:.2},{:.2},8\n", 60.0 + 25.0 * (9.0 * t).sin()).as_str()
    });
    let source = Arc::new(import::read("a.csv", text.as_bytes()).unwrap().parts.remove(0));
    let log = Log { file: "a.csv".to_owned(), ..Log::default() };
    let run = RunSheet { name: "+1".to_owned(), logs: vec![log], ..RunSheet::default() };
    let day = Day { runs: vec![run], ..Day::default() };
    let readout = analyse_now(&day, &day.runs[0], &[source]).readout;
    let table = numbers_as_csv([("+1", &readout)]);
    let row = |key: &str| {
        let row = table.lines().find(|line| line.starts_with(&format!("\"'+1\",run,{key},")));
        row.unwrap_or_else(|| panic!("{key} is not in the table")).to_owned()
    };
    let height = &readout.sections[0].front.travel.ride_height_m;
    let value = height.get().unwrap();
    assert!(row("front.ride_height_m").starts_with(&format!("\"'+1\",run,front.ride_height_m,{value},")));
    let reason = readout.sections[0].rear.travel.ride_height_m.get().unwrap_err().0;
    assert!(row("rear.ride_height_m").contains(&reason), "{}", row("rear.ride_height_m"));
    assert!(row("time_s").contains(&readout.sections[0].time_s.to_string()));
    let runs = day.runs_as_csv();
    assert!(runs.lines().count() == 2 && runs.contains("\"'+1\"") && runs.contains("a.csv"), "{runs}");
}
