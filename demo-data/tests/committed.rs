//! The committed files are what the generator writes, byte for byte.

use std::fs;
use std::path::Path;

use evenkeel_core::Day;
use evenkeel_core::align::Clock;
use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::written::{DAY_FILE, LINKAGE_FILE, day, linkage_text};

fn committed(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("harrowdean").join(name);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

#[test]
fn the_first_run_comes_out_again() {
    let plan = &plans()[0];
    let recording = plan.record();
    // Not assert_eq: two megabytes of text help nobody.
    assert!(
        recording.suspension_text == committed(&plan.suspension_file()),
        "suspension log differs: regenerate"
    );
    assert!(recording.motion_text == committed(&plan.motion_file()), "motion log differs: regenerate");
    assert_eq!(linkage_text(), committed(LINKAGE_FILE));
    let written: Day = serde_json::from_str(&committed(DAY_FILE)).unwrap();
    let made = day(&[(plan.clone(), recording)]).unwrap();
    assert_eq!(
        (&written.bike, &written.profiles, &written.runs[0]),
        (&made.bike, &made.profiles, &made.runs[0])
    );
}

/// The day file is the owner's; the clocks' truth is for tests only.
#[test]
fn no_truth_is_given_away() {
    let written: Day = serde_json::from_str(&committed(DAY_FILE)).unwrap();
    assert!(written.runs.iter().flat_map(|run| &run.logs).all(|log| log.clock == Clock::default()));
    let text = committed(DAY_FILE).to_lowercase();
    for word in ["ppm", "seed", "pace", "bias"] {
        assert!(!text.contains(word), "{word}");
    }
}
