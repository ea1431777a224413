//! Writes the first examples of the formats that cannot be typed by hand into `tests/corpus`.
use std::fs;
use std::sync::Arc;

use evenkeel_core::handover::{
    DayFile, Extract, ExtractChannel, KeyPair, Link, Lock, Pointer, View, quantum, seal,
};
use evenkeel_core::ride::Trace;
use evenkeel_core::{End, import};
use evenkeel_tests::odd::Odd;
use evenkeel_tests::parsers::{KEY, Parser};

fn keep(parser: &str, name: &str, bytes: &[u8]) {
    let folder = Parser::named(parser).unwrap().corpus();
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join(name), bytes).unwrap();
}

fn main() {
    let log = b"time_s,front_travel_mm,brake_bar\n0.00,10.5,0\n0.01,11.0,\n0.02,12.5,3\n";
    let sources = import::read("run.csv", log).unwrap().parts.into_iter().map(Arc::new).collect();
    let mut day = DayFile { id: "d".into(), sources, remarks: Odd::new(3).remarks(), ..DayFile::default() };
    let zip = day.write().unwrap();
    keep("day_zip", "small.zip", &zip);
    keep("day_json", "1.json", &day.manifest().to_json().unwrap());
    keep("day_json", "0.json", &serde_json::to_vec(&day.day).unwrap());
    day.remarks = Default::default();
    day.sources.clear();
    keep("day_zip", "bare.json", &day.manifest().to_json().unwrap());
    let public = KeyPair::of(KEY).unwrap().public;
    keep("age", "key.age", &seal(&zip, Lock::Keys(&[&public])).unwrap());
    keep("age", "words.age", &seal(b"x", Lock::Passphrase("words")).unwrap());
    let view = View {
        day: "Wet".into(),
        cursor_s: Some(3.5),
        range_s: Some([1.0, 2.0]),
        remarks: Odd::new(3).remarks(),
        ..View::default()
    };
    let trace = Trace::travel(End::Front);
    let samples = vec![0.01, f32::NAN, 0.02, 0.05, 0.049];
    let channel =
        ExtractChannel { trace, start_s: 1.0, rate_hz: 100.0, quantum: quantum(trace), origin: 0.0, samples };
    let extract = Extract { day: "Wet".into(), channels: vec![channel], ..Extract::default() };
    println!("{}", Link::View(View { day: "Wet".to_owned(), ..View::default() }).fragment().unwrap());
    println!("{}", Link::Extract(extract.clone()).fragment().unwrap());
    keep("link", "view", Link::View(view.clone()).fragment().unwrap().as_bytes());
    keep("link", "extract", Link::Extract(extract).fragment().unwrap().as_bytes());
    keep(
        "link",
        "sealed",
        Link::Pointer(Pointer { file: "days/wet.age".into(), key: KEY.into() })
            .fragment()
            .unwrap()
            .as_bytes(),
    );
    let head = serde_json::to_vec(&view).unwrap();
    keep(
        "link_view",
        "view",
        &[&[head.len() as u8 | 0x80, (head.len() >> 7) as u8], head.as_slice()].concat(),
    );
    let head = br#"{"id":"d","day":"Wet","run":{"name":"Run 1","log":"a.csv"},"channels":[{"trace":{"logged":"front_travel"},"start_s":1.0,"rate_hz":100.0,"quantum":0.0001,"count":3}]}"#;
    keep(
        "link_extract",
        "extract",
        &[&[head.len() as u8 | 0x80, (head.len() >> 7) as u8], head.as_slice(), &[9, 0, 0x81, 1]].concat(),
    );
}
