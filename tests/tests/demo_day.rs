//! The demo day as it lies in the repository, read and compared as its owner would: one change that helped, one that did
//! nothing that matters, one that made things worse. Source of what is true: the simulated bike's own settings.

use std::fs;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use evenkeel_core::align::match_clock;
use evenkeel_core::decide::{Archive, Comparison, METRICS, RunSummary, RunValues, Scale, Verdict, compare};
use evenkeel_core::setup::{Descent, Named};
use evenkeel_core::{Day, analyse_now, import};
use evenkeel_demo_data::archive;
use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::written::{ARCHIVE_FILE, DAY_FILE, summary};

fn file(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean");
    fs::read(folder.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The day as written, its six runs in numbers, each named after the first run with its set-up, and the archive.
fn demo() -> &'static (Day, Vec<RunSummary>, Archive) {
    static DEMO: OnceLock<(Day, Vec<RunSummary>, Archive)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let day: Day = serde_json::from_slice(&file(DAY_FILE)).unwrap();
        let summary = |number: usize| {
            let mut run = day.runs[number].clone();
            let sources: Vec<_> = run
                .logs
                .iter()
                .flat_map(|log| import::read(&log.file, &file(&log.file)).unwrap().parts)
                .map(Arc::new)
                .collect();
            let second = run.logs[1].file.clone();
            run.logs[1].clock = match_clock(&day, &run, &sources, &second).unwrap().clock;
            let first = day.first_with_setup_of(Descent::Ridden(number)).unwrap();
            RunSummary::of(&analyse_now(&day, &run, &sources).readout, &day.run_name(first))
        };
        let runs = (0..day.runs.len()).map(summary).collect();
        (day, runs, serde_json::from_slice(&file(ARCHIVE_FILE)).unwrap())
    })
}

/// The question that a run's sheet asks, answered for two set-ups, each named by its first run; and the difference in
/// standard deviations from run to run.
fn ask(run: &str, setups: [&str; 2]) -> (Comparison, f64) {
    let (day, runs, archive) = demo();
    let named = day.runs.iter().find(|sheet| sheet.name == run).unwrap().plan.as_ref().unwrap();
    assert_eq!(named.named, Named::BeforeTheRun);
    let plan = &named.plan;
    let scatter = archive.run_to_run(&plan.metric, &plan.sections, plan.scale);
    let values: Vec<RunValues> = runs.iter().map(|run| run.values(&plan.metric)).collect();
    let comparison = compare(plan, &values, setups, &scatter).unwrap();
    let evidence = comparison.evidence.get().unwrap();
    let in_sd = comparison.contrast.difference / evidence.run_to_run_sd;
    println!(
        "{}: {:+.4}, interval {:+.4?}, {in_sd:+.1} run SD, {} df, smallest detectable {:.4}: {:?}; left out {:?}",
        plan.in_words(),
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
    let (comparison, in_sd) = ask("Run 2", ["Run 1", "Run 2"]);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::Better));
    assert_eq!(comparison.contrast.runs, [2, 2]);
    assert!(in_sd < -5.0, "{in_sd}");
}

/// One click of fork compression: the hands cannot tell, and neither can the sensors.
#[test]
fn a_click_of_fork_compression_did_nothing_that_matters() {
    let (comparison, in_sd) = ask("Run 4", ["Run 2", "Run 4"]);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::NoDifferenceThatMatters));
    assert!(in_sd.abs() < 0.5, "{in_sd}");
}

/// More air: the fork no longer uses its travel.
#[test]
fn more_air_in_the_fork_made_it_worse() {
    let (comparison, in_sd) = ask("Run 5", ["Run 2", "Run 5"]);
    assert_eq!(comparison.verdict.get(), Ok(&Verdict::Worse));
    assert!(in_sd < -5.0, "{in_sd}");
}

/// The sheets say what was set on the simulated bike, and which runs were ridden alike.
#[test]
fn the_sheets_tell_what_was_changed() {
    let (day, ..) = demo();
    let told = |run: usize| {
        let changes = day.changes_before(Descent::Ridden(run)).into_iter();
        changes.map(|change| change.to_string().replace('\u{a0}', " ")).collect::<Vec<_>>()
    };
    assert_eq!(told(1), ["rear rebound 3 → 8 clicks from closed (faster: comes back out sooner)"]);
    assert_eq!(told(5), ["front spring 4.9 → 4 bar (softer)"]);
    let plans = plans();
    for (run, plan) in plans.iter().enumerate() {
        let first = plans.iter().position(|other| other.setup == plan.setup).map(Descent::Ridden);
        assert_eq!(day.first_with_setup_of(Descent::Ridden(run)), first, "{}", plan.name);
        // Two of them undo a change and make another; each is one against run 2.
        let warning = day.warn_of_two_at_once(Descent::Ridden(run));
        assert_eq!(warning.is_some(), [3, 4].contains(&run), "{warning:?}");
        assert!(warning.is_none_or(|words| words.contains("Compared with Run 2 it is one")));
    }
    assert_eq!(day.runs_left(), Some(1));
}

/// Every metric that a plan can name is a number of the read-out.
#[test]
fn every_metric_of_a_plan_is_measured_in_the_archive() {
    let whole = &demo().2.days[0].runs[0].sections[0];
    for metric in METRICS {
        assert!(whole.numbers.contains_key(metric.key), "{}", metric.key);
        assert!(!metric.is_positive || whole.numbers[metric.key] > 0.0, "{}", metric.key);
    }
}

/// Every run, in the order ridden, has every section of the track, and no healthy sensor is doubted.
#[test]
fn every_run_has_every_section() {
    let (_, runs, archive) = demo();
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
    let kept = &demo().2.days[0].runs[0];
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
