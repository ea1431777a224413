//! What the app is for, from one end to the other: a run is loaded and read, the next one's sheet is written, that one
//! is ridden and loaded, the two are compared, and it is decided.

use std::path::{Path, PathBuf};
use std::time::Duration;

use evenkeel_demo_data::bike::End;
use evenkeel_demo_data::fault::{Fault, Kind, Severity};
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::truth::{RECORD_HZ, Truth};
use evenkeel_demo_data::variation::Case;
use evenkeel_tests::browser::Browser;
use evenkeel_tests::logged::Logged;
use evenkeel_tests::simulated::{CLOCK, FITTING};

const LOADING: Duration = Duration::from_secs(90);

/// The same bike on the same track, its fork's rebound far too slow or in order.
fn ridden(repeat: u16, slow: bool) -> Truth {
    let case = Case { split: FITTING, number: 3 };
    let fault = Fault { kind: Kind::ReboundTooSlow, end: Some(End::Front), severity: Severity::Clear };
    let ridden = case.ride(repeat, |run| {
        if slow {
            fault.apply(run, &mut SuspensionLogger::new(CLOCK), &mut MotionLogger::new(CLOCK));
        }
    });
    ridden.expect("this rider stays up").1
}

fn log(name: &str, truth: &Truth) -> PathBuf {
    let logged = Logged::of(truth, (RECORD_HZ / 250.0) as usize).without("bar").without("l");
    let folder = std::env::temp_dir().join(format!("evenkeel-loop-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, logged.text()).unwrap();
    path
}

#[test]
fn from_a_log_to_a_decision_that_is_proved() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    // Run 1 comes in, with how the bike stood.
    browser.upload("#files", &[&log("run1.csv", &ridden(1, true))]);
    browser.wait_for_text_within(".files", "250 Hz", LOADING);
    browser.click("#run-0-sheet summary");
    browser.write_over("#run-0-front-rebound", "3");
    browser.write_over("#run-0-rear-rebound", "8");

    // It is read: one sentence, one step, and that step planned.
    browser.click("#place-read-out");
    browser.wait_for_text_within(".finding h3", "comes back too slowly", LOADING);
    browser.wait_for_text(".remedy", "front: one step faster rebound");
    browser.click(".plan-step");
    browser.wait_for(".coming");
    assert_eq!(browser.value("#coming-0-front-rebound"), "4");
    browser.wait_for_text(".coming .when", "it will get the verdict");

    // Run 2 is ridden with it, and takes the planned sheet.
    browser.upload("#files", &[&log("run2.csv", &ridden(2, false))]);
    browser.wait_for_text_within("[aria-label=\"Runs\"] .run:nth-child(2) .files", "250 Hz", LOADING);
    browser.wait_until_gone(".coming");
    browser.wait_for_text(".run:nth-child(2)", "front rebound 3 → 4 clicks");

    // Compared: without a run ridden twice nobody can know; with earlier days it is known.
    browser.click("#place-back-to-back");
    browser.wait_for_text_within(".question-asked", "hits not recovered, front", LOADING);
    browser.wait_for_text_within("#verdict", "No verdict", LOADING);
    let archive = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean/archive.json");
    browser.upload("#archive-file", &[&archive]);
    browser.wait_for_text_within("#verdict", "Better", LOADING);

    // Decided, and nothing of it lost by a reload.
    browser.wait_for_text(".verdict", "Keep it");
    std::thread::sleep(Duration::from_secs(2));
    browser.reload();
    browser.wait_for_text_within(".run:nth-child(2)", "front rebound 3 → 4 clicks", LOADING);
    browser.assert_no_errors();
}
