//! What a thing holds is told before it leaves, and a part holds no more than was chosen.

use std::sync::Arc;

use evenkeel_core::handover::{
    DayFile, Extract, ExtractChannel, Link, Remark, RemarkPlace, RunName, View, quantum,
};
use evenkeel_core::ride::Trace;
use evenkeel_core::{Bike, Day, Log, Role, RunSheet, import};

fn day() -> DayFile {
    let read =
        |name: &str, text: &str| Arc::new(import::read(name, text.as_bytes()).unwrap().parts.remove(0));
    let sources = vec![
        read("a.csv", "time_s,front_travel_mm\n0.00,10\n0.01,11\n0.02,12\n"),
        read("b.csv", "time_s,latitude_deg,longitude_deg\n0,47.1,8.7\n1,47.2,8.8\n"),
    ];
    let run = |name: &str, log: &str| RunSheet {
        name: name.to_owned(),
        logs: vec![Log { file: log.to_owned(), ..Log::default() }],
        ..RunSheet::default()
    };
    let runs = vec![run("Run 1", "a.csv"), run("Run 2", "b.csv")];
    let bike = Bike { name: "Mule".to_owned(), ..Bike::default() };
    let about = |run: Option<&RunSheet>, words: &str| Remark {
        author: "Coach".to_owned(),
        words: words.to_owned(),
        place: RemarkPlace { run: run.map(RunName::of), ..RemarkPlace::default() },
        ..Remark::default()
    };
    let remarks = [about(None, "whole"), about(Some(&runs[0]), "first"), about(Some(&runs[1]), "second")];
    let day = Day { name: "Wet".to_owned(), bike, runs, ..Day::default() };
    DayFile { id: "d".to_owned(), day, sources, remarks: remarks.into_iter().collect(), ..DayFile::default() }
}

#[test]
fn everything_in_a_day_file_is_named_and_positions_stand_out() {
    let contents = day().contents();
    let told = contents.iter().map(|content| content.what.as_str()).collect::<Vec<_>>().join("; ");
    for part in [
        "“Wet”",
        "“Mule”",
        "2 runs",
        "“Run 1”, “Run 2”",
        "a.csv: 1 column of 3 samples",
        "3 remarks, by “Coach”",
    ] {
        assert!(told.contains(part), "{part} is not in {told}");
    }
    let places: Vec<&str> =
        contents.iter().filter(|content| content.tells_place).map(|content| content.what.as_str()).collect();
    assert_eq!(places, ["b.csv: 2 columns of 2 samples, with GPS positions"]);
}

#[test]
fn a_part_holds_the_runs_that_were_chosen_and_nothing_of_the_others() {
    let part = day().only(&[0, 7]);
    let bytes = part.write().unwrap();
    let back = DayFile::read(&bytes).unwrap();
    assert_eq!((back.id.as_str(), back.day.runs.len(), back.sources.len()), ("d", 1, 1));
    assert_eq!(
        back.remarks.iter().map(|remark| remark.words.as_str()).collect::<Vec<_>>(),
        ["first", "whole"]
    );
    assert!(part.contents().iter().all(|content| !content.tells_place));
    let json = String::from_utf8(back.manifest().to_json().unwrap()).unwrap();
    assert!(!json.contains("b.csv") && !json.contains("Run 2"), "{json}");
}

#[test]
fn everything_in_a_link_is_named() {
    let channel = |trace| ExtractChannel {
        trace,
        start_s: 0.0,
        rate_hz: 50.0,
        quantum: quantum(trace),
        origin: 0.0,
        samples: vec![0.0; 400],
    };
    let channels =
        vec![channel(Trace::travel(evenkeel_core::End::Rear)), channel(Trace::Logged(Role::Latitude))];
    let run = RunName { name: "Run 1".to_owned(), log: "a.csv".to_owned() };
    let extract = Extract { day: "Wet".to_owned(), run: run.clone(), channels, ..Extract::default() };
    let contents = Link::Extract(extract).contents();
    assert_eq!(contents[0].what, "a piece of the run “Run 1” (log a.csv) of the day “Wet”");
    assert_eq!(contents[1].what, "rear axle travel: 8.0 s at 50 Hz");
    assert_eq!(contents.iter().map(|content| content.tells_place).collect::<Vec<_>>(), [false, false, true]);
    // A day without a name is told as one.
    let view = Link::View(View { run: Some(run), ..View::default() });
    assert_eq!(
        view.contents()[0].what,
        "where to look in the run “Run 1” (log a.csv) of the day, without a sample"
    );
}
