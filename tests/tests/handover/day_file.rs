//! Day files lose nothing, and any language reads them.

use std::sync::Arc;

use evenkeel_core::handover::{DayFile, SCHEMA};
use evenkeel_core::{Source, import};
use evenkeel_tests::odd::Odd;
use evenkeel_tests::python::reference_files;

/// Equal to the last bit, NaN and all.
#[track_caller]
fn assert_same(a: &DayFile, b: &DayFile) {
    let typed = |file: &DayFile| DayFile { sources: Vec::new(), ..file.clone() };
    assert_eq!(typed(a), typed(b));
    assert_eq!(a.sources.len(), b.sources.len());
    for (a, b) in a.sources.iter().zip(&b.sources) {
        let frame = |source: &Source| {
            let numbers = [source.report.rate_hz, source.report.jitter_s].map(f64::to_bits);
            let columns: Vec<_> = source
                .columns
                .iter()
                .map(|column| (column.header.clone(), column.unit_text.clone(), column.origin.to_bits()))
                .collect();
            (
                source.name.clone(),
                source.epoch_unix_s.map(f64::to_bits),
                source.layout.clone(),
                numbers,
                columns,
            )
        };
        assert_eq!(frame(a), frame(b));
        assert_eq!(a.report, b.report);
        let times = |source: &Source| source.time_s.iter().map(|t| t.to_bits()).collect::<Vec<_>>();
        assert_eq!(times(a), times(b));
        for (a, b) in a.columns.iter().zip(&b.columns) {
            let bits = |values: &[f32]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&a.values), bits(&b.values), "{}", a.header);
        }
    }
}

#[test]
fn any_day_comes_back_to_the_last_bit() {
    for seed in 0..400 {
        let day = Odd::new(seed).day_file();
        let bytes = day.write().unwrap_or_else(|refused| panic!("seed {seed}: {refused}"));
        let back = DayFile::read(&bytes).unwrap_or_else(|refused| panic!("seed {seed}: {refused}"));
        assert_same(&day, &back);
        assert_eq!(back.write().unwrap(), bytes, "seed {seed}: the same day is the same file");
    }
}

#[test]
fn a_day_of_nothing_but_blanks_is_no_bomb() {
    let rows = 3_000_000;
    let column = |header: &str| evenkeel_core::Column {
        header: header.to_owned(),
        unit_text: String::new(),
        origin: 0.0,
        values: vec![f32::NAN; rows],
    };
    let like = Odd::new(3).source();
    let columns = ["a", "b", "c", "d", "e", "f"].map(column).to_vec();
    let source = Source { time_s: (0..rows).map(|k| k as f64).collect(), columns, ..like };
    let day = DayFile { sources: vec![Arc::new(source)], ..DayFile::default() };
    assert_same(&day, &DayFile::read(&day.write().unwrap()).unwrap());
}

fn demo(name: &str) -> Vec<u8> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data/harrowdean");
    std::fs::read(std::path::Path::new(folder).join(name)).unwrap()
}

/// The day files written before there was a schema are its version 0; the demo's is one of them.
#[test]
fn a_day_file_without_a_version_still_opens() {
    let json = demo("day.json");
    let file = DayFile::read(&json).unwrap();
    assert_eq!(file.day, serde_json::from_slice(&json).unwrap());
    assert!(!file.day.runs.is_empty() && file.sources.is_empty() && file.remarks.is_empty());
    assert_eq!(file.manifest().schema, SCHEMA);
}

/// Source: Python's `zipfile` and NumPy, by the reader that the documentation shows.
#[test]
fn the_documented_reader_reads_a_day_file() {
    let documentation = include_str!("../../../DEVELOPERS.md");
    let reader = documentation.split("```python\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    assert!(reader.lines().count() <= 10, "it is said to be ten lines");

    let mut sources = Vec::new();
    for name in ["run-1-motion.csv", "run-1-suspension.csv"] {
        sources.extend(import::read(name, &demo(name)).unwrap().parts.into_iter().map(Arc::new));
    }
    let track = b"<gpx version=\"1.1\"><trk><trkseg>\
        <trkpt lat=\"47.1234567\" lon=\"8.7654321\"><ele>801.5</ele><time>2026-05-02T09:00:00Z</time></trkpt>\
        <trkpt lat=\"47.1234600\" lon=\"8.7654400\"><ele>799.0</ele><time>2026-05-02T09:00:01Z</time></trkpt>\
        </trkseg></trk></gpx>";
    sources.extend(import::read("way.gpx", track).unwrap().parts.into_iter().map(Arc::new));
    let file =
        DayFile { day: serde_json::from_slice(&demo("day.json")).unwrap(), sources, ..DayFile::default() };
    let bytes = file.write().unwrap();

    let back = reference_files("day_file", &[("day.zip", &bytes), ("reader.py", reader.as_bytes())]);
    assert_eq!(String::from_utf8_lossy(&back["runs"]), file.day.runs.len().to_string());
    for (place, source) in file.sources.iter().enumerate() {
        let sent: Vec<u8> = source.time_s.iter().flat_map(|t| t.to_le_bytes()).collect();
        assert!(back[&format!("{place}-time")] == sent, "time of {}", source.name);
        for (number, column) in source.columns.iter().enumerate() {
            let true_values = column.values.iter().map(|&v| f64::from(v) + column.origin);
            let sent: Vec<u8> = true_values.flat_map(f64::to_le_bytes).collect();
            assert!(back[&format!("{place}-{number}")] == sent, "{} of {}", column.header, source.name);
        }
    }
}
