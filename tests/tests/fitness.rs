//! Each channel in turn taken away, dead, or clipped: what depends on it is not measured and says why, nothing else
//! changes its mind, and nothing panics.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use evenkeel_core::Bike;
use evenkeel_demo_data::day::plans;
use evenkeel_tests::logged::Logged;
use evenkeel_tests::numbers::{Found, numbers};

/// The start straight and the roots of a simulated ride, at 250 Hz.
fn log() -> &'static Logged {
    static LOG: OnceLock<Logged> = OnceLock::new();
    LOG.get_or_init(|| {
        let mut run = plans()[1].run();
        run.until_s = 45.0;
        Logged::of(&run.ride(), 4)
    })
}

fn read(log: &Logged) -> BTreeMap<String, Found> {
    numbers(&log.ride(&Bike::default()).readout.sections[0])
}

/// Every path that is not measured, with its reason.
fn silent(numbers: &BTreeMap<String, Found>) -> BTreeMap<&str, &str> {
    numbers
        .iter()
        .filter_map(|(path, found)| match found {
            Found::Not(reason) => Some((path.as_str(), reason.as_str())),
            Found::Number(_) => None,
        })
        .collect()
}

/// A channel, what must go with it (beginnings of paths), and what must stay.
const NEEDED: [(&str, &[&str], &[&str]); 8] = [
    (
        "front travel",
        &["front.ride_height_m", "front.compression_speed_p95_mps", "level.pitch_chord_rms_rad", "airborne"],
        &["rear.ride_height_m", "attitude.lean_max_rad", "distance_m"],
    ),
    (
        "rear travel",
        &["rear.ride_height_m", "rear.rebound_speed_p95_mps", "level.heave_rms_m", "airborne"],
        &["front.ride_height_m", "attitude.lean_max_rad", "distance_m"],
    ),
    (
        "frame gyro y",
        &["level.pitch_rate_rms_radps", "attitude.lean_max_rad"],
        &["front.ride_height_m", "distance_m"],
    ),
    ("frame gyro x", &["attitude.lean_max_rad", "attitude.pitch_rms_rad"], &["level.pitch_rate_rms_radps"]),
    ("frame gyro z", &["attitude.lean_max_rad", "attitude.pitch_rms_rad"], &["level.pitch_rate_rms_radps"]),
    ("frame acc x", &["attitude.lean_max_rad"], &["level.pitch_rate_rms_radps", "front.ride_height_m"]),
    ("frame acc y", &["attitude.lean_max_rad"], &["level.pitch_rate_rms_radps", "front.ride_height_m"]),
    ("frame acc z", &["attitude.lean_max_rad"], &["level.pitch_rate_rms_radps", "front.ride_height_m"]),
];

fn check(what: &str, header: &str, changed: &Logged) -> BTreeMap<String, Found> {
    let now = read(changed);
    let silent_now = silent(&now);
    for (path, reason) in &silent_now {
        assert!(reason.len() > 10, "{header} {what}: {path} gives no reason");
    }
    let needed = NEEDED.iter().find(|(channel, _, _)| *channel == header);
    let Some((_, gone, kept)) = needed else { return now };
    for path in *gone {
        assert!(silent_now.contains_key(path), "{header} {what}: {path} is still {:?}", now.get(*path));
    }
    for path in *kept {
        assert!(
            matches!(now.get(*path), Some(Found::Number(_))),
            "{header} {what}: {path} is {:?}",
            now.get(*path)
        );
    }
    now
}

#[test]
fn a_channel_that_is_missing_dead_or_clipped_takes_only_its_own_with_it() {
    for (header, values) in &log().channels {
        let header = header.split(" [").next().unwrap();
        let missing = check("missing", header, &log().clone().without(header));

        let mut dead = log().clone();
        dead.channel(header).fill(2.5);
        let mut clipped = log().clone();
        // A range too small by a little: four of a hundred samples lie beyond it, on either side.
        let mut size: Vec<f64> = values.iter().map(|value| value.abs()).collect();
        size.sort_by(f64::total_cmp);
        let range = size[size.len() * 96 / 100];
        clipped.channel(header).iter_mut().for_each(|value| *value = value.clamp(-range, range));

        for (what, changed) in [("dead", dead), ("clipped", clipped)] {
            // Positions and speeds have no end of their range at which they could rest.
            let has_range = ["travel", "brake", "acc", "gyro"].iter().any(|kind| header.contains(kind));
            if what == "clipped" && !has_range {
                continue;
            }
            let now = check(what, header, &changed);
            let now = silent(&now);
            let told: BTreeSet<_> =
                silent(&missing).into_keys().filter(|path| !now.contains_key(path)).collect();
            assert!(told.is_empty(), "{header} {what}, yet these are told: {told:?}");
        }
    }
}
