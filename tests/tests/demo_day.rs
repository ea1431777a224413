//! The demo day as it lies in the repository, read and compared as its owner would: one change that helped, one that did
//! nothing that matters, one that made things worse. Source of what is true: the simulated bike's own settings.

use std::fs;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use evenkeel_core::align::match_clock;
use evenkeel_core::decide::{
    Archive, Comparison, Direction, Plan, RunSummary, RunValues, Scale, Verdict, compare,
};
use evenkeel_core::{Day, analyse_now, import};
use evenkeel_demo_data::archive;
use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::written::{ARCHIVE_FILE, DAY_FILE, summary};

fn file(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean");
    fs::read(folder.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The six runs in numbers, each named after its setup, and the archive.
fn demo() -> &'static (Vec<RunSummary>, Archive) {
    static DEMO: OnceLock<(Vec<RunSummary>, Archive)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let day: Day = serde_json::from_slice(&file(DAY_FILE)).unwrap();
        let plans = plans();
        let summary = |(number, plan): (usize, &evenkeel_demo_data::day::Plan)| {
            let mut run = day.runs[number].clone();
            let sources: Vec<_> = run
                .logs
                .iter()
                .flat_map(|log| import::read(&log.file, &file(&log.file)).unwrap().parts)
                .map(Arc::new)
                .collect();
            let second = run.logs[1].file.clone();
            run.logs[1].clock = match_clock(&day, &run, &sources, &second).unwrap().clock;
            let same = plans.iter().position(|other| other.setup == plan.setup).unwrap();
            RunSummary::of(&analyse_now(&day, &run, &sources).readout, &format!("as in run {}", same + 1))
        };
        let runs = plans.iter().enumerate().map(summary).collect();
        (runs, serde_json::from_slice(&file(ARCHIVE_FILE)).unwrap())
    })
}

/// A question about two setups on the rough parts of the track.
fn ask(metric: &str, direction: Direction, worth_having: f64, setups: [&str; 2]) -> (Comparison, f64) {
    let (runs, archive) = demo();
    let sections = ["Rooty traverse", "Rock garden", "Braking-bump chute"].map(str::to_owned).to_vec();
    let scale = Scale::Plain;
    let scatter = archive.run_to_run(metric, &sections, scale);
    let plan = Plan { metric: metric.to_owned(), direction, scale, sections, worth_having };
    let day: Vec<RunValues> = runs.iter().map(|run| run.values(metric)).collect();
    let comparison = compare(&plan, &day, setups, &scatter).unwrap();
    let evidence = comparison.evidence.get().unwrap();
    let in_sd = comparison.contrast.difference / evidence.run_to_run_sd;
    println!(
        "{metric}: {:+.4}, interval {:+.4?}, {in_sd:+.1} run SD, {} df, smallest detectable {:.4}: {:?}; left out {:?}",
        comparison.contrast.difference,
        evidence.interval,
        evidence.df,
        evidence.smallest_detectable,
        comparison.verdict.get(),
        comparison.contrast.sections_left_out,
    );
    (comparison, in_sd)
}

/// Ridden A-B-A, and B again at the end: the rear extends faster, and fewer hits are met before it is back.
#[test]
fn faster_rear_rebound_helped() {
    let setups = ["as in run 1", "as in run 2"];
    let (comparison, in_sd) = ask("rear.not_recovered_share", Direction::Less, 0.05, setups);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::Better));
    assert_eq!(comparison.contrast.runs, [2, 2]);
    assert!(in_sd < -5.0, "{in_sd}");
}

/// One click of fork compression: the hands cannot tell, and neither can the sensors.
#[test]
fn a_click_of_fork_compression_did_nothing_that_matters() {
    let setups = ["as in run 2", "as in run 4"];
    let (comparison, in_sd) = ask("vibration.hand_arm_rms_mps2", Direction::Less, 1.0, setups);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::NoDifferenceThatMatters));
    assert!(in_sd.abs() < 0.5, "{in_sd}");
}

/// More air: the fork no longer uses its travel.
#[test]
fn more_air_in_the_fork_made_it_worse() {
    let setups = ["as in run 2", "as in run 5"];
    let (comparison, in_sd) = ask("front.travel_p95_m", Direction::More, 0.01, setups);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::Worse));
    assert!(in_sd < -5.0, "{in_sd}");
}

/// Every run, in the order ridden, has every section of the track, and no healthy sensor is doubted.
#[test]
fn every_run_has_every_section() {
    let (runs, archive) = demo();
    for run in runs.iter().chain(archive.days.iter().flat_map(|day| &day.runs)) {
        assert_eq!(run.sections.len(), 9, "{}", run.run);
        assert!(run.sections.iter().all(|section| section.numbers.len() > 50), "{}", run.run);
    }
    let plain = |metric| archive.run_to_run(metric, &["run".to_owned()], Scale::Plain);
    assert!(plain("rear.not_recovered_share").df() >= 20);
}

/// The archive is what the analysis makes of its runs today: else write it again.
#[test]
fn the_first_archived_run_comes_out_again() {
    let day: Day = serde_json::from_slice(&file(DAY_FILE)).unwrap();
    let made = summary(&day, &archive::runs()[0]).unwrap();
    let kept = &demo().1.days[0].runs[0];
    assert_eq!((&made.run, &made.setup), (&kept.run, &kept.setup));
    for (made, kept) in made.sections.iter().zip(&kept.sections) {
        assert_eq!(made.numbers.len(), kept.numbers.len(), "{}", made.name);
        for ((key, made_number), kept_number) in made.numbers.iter().zip(kept.numbers.values()) {
            let apart = (made_number - kept_number).abs();
            assert!(
                apart <= 1e-4 * kept_number.abs().max(1e-6),
                "{} {key}: {made_number} {kept_number}",
                made.name
            );
        }
    }
}
