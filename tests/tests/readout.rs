//! The Read-out in a browser: from a log to a sentence, to the place that shows it, to the next run's sheet.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use evenkeel_core::align::match_clock;
use evenkeel_core::findings::Limit;
use evenkeel_core::{Day, RunReadout, analyse_now, import};
use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean")
}

/// What the analysis says of the demo day's first run.
fn first_run() -> RunReadout {
    let mut day: Day = serde_json::from_slice(&std::fs::read(demo().join("day.json")).unwrap()).unwrap();
    let sources: Vec<_> = day.runs[0]
        .logs
        .iter()
        .flat_map(|log| {
            let text = std::fs::read(demo().join(&log.file)).unwrap();
            import::read(&log.file, &text).unwrap().parts.into_iter().map(Arc::new)
        })
        .collect();
    let second = day.runs[0].logs[1].file.clone();
    day.runs[0].logs[1].clock = match_clock(&day, &day.runs[0], &sources, &second).unwrap().clock;
    analyse_now(&day, &day.runs[0], &sources).readout
}

fn text(browser: &Browser, selector: &str) -> String {
    browser.texts(selector).join("\n").replace('\u{a0}', " ")
}

fn run(browser: &Browser, script: &str) -> Value {
    browser.run(script, Vec::<Value>::new())
}

/// Opens the demo day's Read-out, all of its runs read out.
fn open(width: u32, height: u32, dark: bool) -> Browser {
    let browser = Browser::on_site();
    browser.open("", width, height, dark);
    browser.click("#demo");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    browser.click("#place-read-out");
    browser.wait_for_text_within(".finding h3", "The rear comes back too slowly", LOADING);
    browser
}

#[test]
fn a_finding_leads_to_its_evidence_and_its_place() {
    let whole = first_run().sections.swap_remove(0);
    let browser = open(1440, 900, false);
    // The analysis and the page say the same.
    let share = 100.0 * whole.rear.recovery.all.not_recovered_share.get().unwrap();
    assert!(
        text(&browser, ".evidence").contains(&format!("{share:.1} %")),
        "{}",
        text(&browser, ".evidence")
    );
    assert!(text(&browser, ".remedy").contains("one step faster rebound"));
    // The pictures have their numbers as tables.
    run(&browser, "document.querySelectorAll('.as-table').forEach((one) => (one.open = true));");
    let tenth = 100.0 * whole.front.travel.time_in_tenths.get().unwrap()[1];
    let depth = text(&browser, "[aria-label=\"Travel\"] .as-table");
    assert!(depth.contains(&format!("{tenth:.2}")), "{depth}");
    let spectrum = whole.spectra.front_axle_speed_mps.get().unwrap()[10];
    let table = text(&browser, "[aria-label=\"Axle speed\"] .as-table");
    assert!(table.contains(&format!("{spectrum:.3}")), "{table}");
    let pairs = whole.level.hit_pairs.hit_pairs.get().unwrap().len();
    let dots = run(&browser, "return document.querySelectorAll('circle.pair').length;");
    assert_eq!(dots, json!(pairs));
    // From a number of a section to its place in Ride, in one click.
    let pull = whole.brakes.front.application_list.get().unwrap()[0].start_s;
    browser.click("[aria-label=\"Brakes and dive\"] .as-table .moment");
    browser.wait_for(".chart");
    let at = evenkeel_core::align::moment::format(pull, 0.1);
    browser.wait_for_text("#cursor-log", &at);
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}

#[test]
fn the_riders_words_are_held_against_what_was_measured() {
    let browser = open(390, 844, true);
    assert!(text(&browser, ".complaint[aria-pressed=\"true\"]").contains("hangs low"));
    assert!(text(&browser, ".answer").contains("The rear comes back too slowly"));
    browser.click(".rider-said .complaint:nth-child(3)");
    browser.wait_for_text(".answer", "Nothing measured supports this.");
    browser.click(".answer > button");
    browser.wait_for(".complaint-note");
    browser.assert_no_errors();
}

#[test]
fn what_felt_right_and_what_is_set_decide_what_is_found() {
    let browser = open(1440, 900, false);
    // Compared with a run that felt right.
    browser.wait_for_text_within(".usual", "Run 2", LOADING);
    let ready = "return ![...document.querySelectorAll('.usual input')].some((tick) => tick.disabled);";
    browser.wait_until(ready, LOADING);
    browser.click(".usual .tick:nth-child(2) input");
    browser.wait_for_text_within(".how-sure", "clear", LOADING);
    let made_of = browser.attribute(".how-sure", "title").unwrap();
    assert!(made_of.contains("compared with Run 2"), "{made_of}");
    // A limit that it does not go beyond takes the finding away, its default brings it back.
    browser.click(".limits summary");
    let limit = format!("input[aria-label=\"{}\"]", Limit::ReboundSlower.name());
    browser.set(&limit, "0.01");
    browser.wait_for_text_within(".finding h3", "hangs deep", LOADING);
    assert!(text(&browser, ".limits").contains("set by you"));
    browser.set(&limit, "much");
    browser.wait_for(&format!("{limit}[aria-invalid=\"true\"]"));
    browser.set(&limit, "");
    browser.wait_for_text_within(".finding h3", "The rear comes back too slowly", LOADING);
    browser.assert_no_errors();
}

#[test]
fn the_last_runs_finding_is_planned_in_one_click() {
    let browser = open(1440, 900, false);
    assert_eq!(browser.texts(".plan-step").len(), 0, "run 1 was followed by others");
    browser.set("#run", "5");
    browser.wait_for_text_within(".findings", "Nothing beyond the limits", LOADING);
    // Nothing is wrong with the last run, unless its owner asks for less sag.
    browser.click(".limits summary");
    browser.set(&format!("input[aria-label=\"{}\"]", Limit::FrontSagMost.name()), "5");
    browser.wait_for_text_within(".remedy", "front: a little more air pressure", LOADING);
    browser.click(".plan-step");
    browser.wait_for(".coming");
    let words = run(&browser, "return document.querySelector('.coming textarea').value;");
    assert!(words.as_str().unwrap().starts_with("front: a little more air pressure"), "{words}");
    assert!(text(&browser, ".coming .question").contains("ride height (travel used), front"));
    browser.assert_no_errors();
}
