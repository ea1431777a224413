//! Each channel in turn taken away, dead, or clipped: what depends on it is not measured and says why, nothing else
//! changes its mind, and nothing panics.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use evenkeel_core::ride::{Doubt, Ride};
use evenkeel_core::{Bike, Log, analyse_now, import};
use evenkeel_demo_data::day::plans;
use evenkeel_tests::logged::{Logged, day};
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

/// What is read from travel of one end alone.
const OF_TRAVEL: [&str; 19] = [
    "ride_height_m",
    "ride_height_share",
    "ride_height_slope_m_per_min",
    "travel_p95_m",
    "travel_max_m",
    "time_in_tenths",
    "travel_histogram",
    "bottom_outs",
    "top_outs",
    "sag_m",
    "compression_speed_p95_mps",
    "rebound_fast_share",
    "recovery_p50_s",
    "not_recovered_share",
    "rebound_rate_per_s",
    "overshoot_p50_m",
    "sink_m",
    "harshness_per_s",
    "unweighted_s",
];
/// What needs travel of both ends.
const OF_BOTH: [&str; 9] = [
    "level.pitch_chord_rms_rad",
    "level.pitch_at_ride_height_rad",
    "level.ride_height_offset_share",
    "level.heave_rms_m",
    "level.evenness_share",
    "level.evenness_gain",
    "level.hit_ratio",
    "level.hit_pairs",
    "airborne",
];
/// What is read from one brake alone.
const OF_BRAKE: [&str; 6] =
    ["applications", "area_pa_s", "on_s", "usual_peak_pa", "residual_rms_pa", "zero_start_pa"];
const ATTITUDE: [&str; 3] = ["attitude.lean_max_rad", "attitude.pitch_rms_rad", "attitude.corners"];
const BODY: [&str; 2] = ["vibration.whole_run_rms_mps2", "vibration.whole_run_vdv_mps175"];
const HANDS: [&str; 2] = ["vibration.hand_arm_rms_mps2", "vibration.hand_arm_a8_mps2"];
const SHAKE: [&str; 2] = ["lateral.shake_rms_mps2", "lateral.shake_rms_p95_mps2"];
const PUSHES: [&str; 2] = ["rider.pushes", "rider.push_list"];
const ARMS: [&str; 2] = ["rider.hand_load_rms_mps2", "rider.hand_load_p95_mps2"];
const PITCHING: [&str; 2] = ["level.pitch_rate_rms_radps", "level.kick_p50_radps"];
const DIVE: [&str; 3] = ["dive.gain_m_per_pa", "dive.rise_m", "dive.bump_rise_m"];
const WHEELS: [&str; 3] = ["lockups", "slides", "episodes"];

fn of(end: &str, paths: &[&str]) -> Vec<String> {
    paths.iter().map(|path| format!("{end}.{path}")).collect()
}

/// What goes with a channel; everything else that the whole log tells must stay.
fn needed(header: &str) -> Vec<String> {
    let own = |lists: &[&[&str]]| -> Vec<String> {
        lists.iter().flat_map(|list| list.iter().map(|path| (*path).to_owned())).collect()
    };
    match header {
        "front travel" => [of("front", &OF_TRAVEL), own(&[&OF_BOTH, &PUSHES, &DIVE])].concat(),
        // Kick is what the rear does to the frame.
        "rear travel" => {
            [of("rear", &OF_TRAVEL), own(&[&OF_BOTH, &PITCHING[1..], &["dive.pitch_rad"]])].concat()
        }
        "front brake" => {
            [of("brakes.front", &OF_BRAKE), own(&[&PUSHES, &DIVE, &["brakes.overlap_s"]])].concat()
        }
        "rear brake" => [of("brakes.rear", &OF_BRAKE), own(&[&["brakes.overlap_s"]])].concat(),
        "front wheel speed" => of("front_wheel", &WHEELS),
        "rear wheel speed" => of("rear_wheel", &WHEELS),
        "frame acc x" => own(&[&ATTITUDE, &SHAKE]),
        "frame acc y" => own(&[&ATTITUDE, &SHAKE]),
        "frame acc z" => [
            of("front", &["harshness_per_s"]),
            of("rear", &["harshness_per_s"]),
            own(&[&ATTITUDE, &SHAKE, &BODY, &ARMS]),
        ]
        .concat(),
        "frame gyro x" | "frame gyro z" => own(&[&ATTITUDE, &SHAKE]),
        "frame gyro y" => own(&[&ATTITUDE, &SHAKE, &PITCHING]),
        "bar acc x" | "bar acc y" => own(&[&HANDS]),
        "bar acc z" => own(&[&HANDS, &ARMS]),
        // Nothing is read from how the bar turns, and places are the track's.
        _ => Vec::new(),
    }
}

/// What else may go: it needs the channel in some rides, or for a part of what it tells.
fn may_go(header: &str, path: &str) -> bool {
    let group = path.split('.').next().unwrap_or_default();
    let any = |words: &[&str]| words.iter().any(|word| path.contains(word));
    match header {
        "front travel" | "rear travel" => {
            let end = header.split(' ').next().unwrap_or_default();
            group == end
                || ["dive", "airborne", "rider", "level"].contains(&group)
                    && path != "level.pitch_rate_rms_radps"
                    && !any(&["rider.hand"])
                || any(&["skitter"])
                || path.starts_with("attitude.corners") && path.contains(end)
        }
        "front brake" | "rear brake" => {
            let end = header.split(' ').next().unwrap_or_default();
            path.starts_with(&format!("brakes.{end}"))
                || any(&["overlap", "balance", "push", "_wheel"])
                || group == "dive" && end == "front"
                || path.starts_with("attitude.corners") && path.contains(end)
        }
        // Without a speed it cannot be said where the other wheel slips.
        "front wheel speed" | "rear wheel speed" => group.ends_with("_wheel"),
        "frame acc x" | "frame acc y" | "frame acc z" | "frame gyro x" | "frame gyro y" | "frame gyro z" => {
            group == "attitude"
                || any(&["shake", "lean", "lateral_correlation", "lateral_size", "whole_run", "hand_load"])
                || any(&["harshness", "pitch_rate", "kick", "push"])
        }
        "bar acc x" | "bar acc y" | "bar acc z" => any(&["hand", "push"]),
        _ => false,
    }
}

fn under(stem: &str, path: &str) -> bool {
    path.strip_prefix(stem).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

fn check(what: &str, header: &str, changed: &Logged) -> BTreeMap<String, Found> {
    static WHOLE: OnceLock<BTreeMap<String, Found>> = OnceLock::new();
    let whole = WHOLE.get_or_init(|| read(log()));
    let now = read(changed);
    for (path, reason) in &silent(&now) {
        assert!(reason.len() > 10, "{header} {what}: {path} gives no reason");
    }
    for stem in needed(header) {
        let here = || now.iter().filter(|(path, _)| under(&stem, path));
        let told = here().any(|(_, found)| matches!(found, Found::Number(_)));
        assert!(!told && here().next().is_some(), "{header} {what}: {stem} is {:?}", here().next());
    }
    // Entries of lists come and go with what is found.
    let listed = |path: &str| path.split('.').any(|part| part.parse::<usize>().is_ok());
    for (path, found) in whole.iter().filter(|(path, _)| !listed(path) && !may_go(header, path)) {
        if let (Found::Number(_), Some(Found::Not(reason))) = (found, now.get(path)) {
            panic!("{header} {what}: {path} has gone: {reason}");
        }
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

/// Twice the upper end of the band, at the least: no number may say more than its channel's rate carries.
#[test]
fn what_is_logged_too_slowly_is_not_measured() {
    let speeds = |end: &str| {
        let paths = [
            "compression_speed_p95_mps",
            "rebound_speed_max_mps",
            "rebound_rate_per_s",
            "top_outs",
            "early_top_outs",
        ];
        of(end, &paths)
    };
    let strokes = |end: &str| {
        let paths = [
            "compression_fast_share",
            "rebound_histogram",
            "recovery_p50_s",
            "overshoot_p50_m",
            "sink_m",
            "travel_max_m",
            "bottom_outs",
        ];
        of(end, &paths)
    };
    let own = |paths: &[&str]| -> Vec<String> { paths.iter().map(|path| (*path).to_owned()).collect() };
    let ends = |of: &dyn Fn(&str) -> Vec<String>| [of("front"), of("rear")].concat();
    let under_200 = ends(&speeds);
    let under_100 = [
        ends(&strokes),
        own(&["level.hit_ratio", "level.hit_pairs", "rider.pushes", "rider.hand_load_rms_mps2"]),
        own(&[
            "front.harshness_per_s",
            "rear.harshness_per_s",
            "lateral.shake_rms_mps2",
            "level.kick_p50_radps",
        ]),
        own(&["vibration.hand_arm_rms_mps2", "vibration.whole_run_vdv_mps175", "vibration.whole_run_crest"]),
    ]
    .concat();
    let under_40 = own(&[
        "front.unweighted_s",
        "rear.skitter_s",
        "level.pitch_rate_rms_radps",
        "level.evenness_share",
        "vibration.whole_run_rms_mps2",
        "attitude.lean_max_rad",
    ]);
    let kept = own(&[
        "front.ride_height_m",
        "rear.travel_p95_m",
        "brakes.front.on_s",
        "level.heave_rms_m",
        "distance_m",
    ]);
    let mut run = plans()[1].run();
    run.until_s = 45.0;
    let truth = run.ride();
    let cases = [
        (10, vec![&under_200]),
        (20, vec![&under_200, &under_100]),
        (50, vec![&under_200, &under_100, &under_40]),
    ];
    for (step, gone) in cases {
        let log = Logged::of(&truth, step);
        let hz = log.rate_hz;
        let now = read(&log);
        for stem in gone.into_iter().flatten() {
            let found: Vec<_> = now.iter().filter(|(path, _)| under(stem, path)).collect();
            assert!(!found.is_empty(), "there is no {stem}");
            for (path, found) in found {
                let Found::Not(reason) = found else { panic!("{hz} Hz: {path} is {found:?}") };
                assert!(reason.contains("Hz"), "{hz} Hz: {path}: {reason}");
            }
        }
        for path in &kept {
            assert!(
                matches!(now.get(path), Some(Found::Number(_))),
                "{hz} Hz: {path} is {:?}",
                now.get(path)
            );
        }
    }
}

/// What is told of a slow log is what a fast one tells.
#[test]
fn a_number_of_a_slow_log_is_that_of_a_fast_one() {
    let mut run = plans()[1].run();
    run.until_s = 70.0;
    let truth = run.ride();
    let fast = read(&Logged::of(&truth, 1));
    // Sizes with enough behind them to be compared, and how far a slow log may be off, as a share.
    let compared = |path: &str| {
        let ends = [
            "ride_height_m",
            "travel_p5_m",
            "travel_p95_m",
            "recovery_p50_s",
            "recovery_p90_s",
            "fast_share",
        ];
        let level = [
            "pitch_chord_rms_rad",
            "heave_rms_m",
            "evenness_share",
            "pitch_rate_rms_radps",
            "kick_p50_radps",
        ];
        let others =
            ["hand_load_rms_mps2", "shake_rms_mps2", "whole_run_rms_mps2", "whole_run_crest", "vdv_mps175"];
        let more = [
            "harshness_per_s",
            "dive.rise_m",
            "distance_m",
            "on_s",
            "area_pa_s",
            "travel_max_m",
            "speed_p95_mps",
        ];
        !path.contains("by_stroke")
            && [&ends[..], &level, &others, &more].concat().iter().any(|end| path.ends_with(end))
    };
    for step in [4, 10, 20, 50] {
        let now = read(&Logged::of(&truth, step));
        for (path, found) in now.iter().filter(|(path, _)| compared(path)) {
            if let (Found::Number(slow), Some(Found::Number(fast))) = (found, fast.get(path)) {
                let off = (slow / fast - 1.0).abs();
                assert!(off < 0.13 || slow == fast, "{} Hz: {path} is {slow}, not {fast}", 1000 / step);
            }
        }
    }
}

/// Two files log the same: the one that lives is read, whichever comes first and however fast the dead one is.
#[test]
fn of_two_files_the_living_channel_is_read() {
    let mut dead = log().clone();
    for header in ["front travel", "front wheel speed", "frame gyro y"] {
        dead.channel(header).fill(2.5);
    }
    dead.channels.retain(|(header, _)| !header.starts_with("latitude") && !header.starts_with("longitude"));
    let mut living = log().clone();
    for (_, values) in &mut living.channels {
        *values = values.iter().copied().step_by(2).collect();
    }
    living.rate_hz /= 2.0;
    let alone = read(&living);
    let import = |name: &str, log: &Logged| {
        import::read(name, log.text().as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect::<Vec<_>>()
    };
    for order in [["dead.csv", "living.csv"], ["living.csv", "dead.csv"]] {
        let sources = [import("dead.csv", &dead), import("living.csv", &living)].concat();
        let mut day = day(&Bike::default());
        day.runs[0].logs = order.map(|file| Log { file: file.to_owned(), ..Log::default() }).into();
        let ride = analyse_now(&day, &day.runs[0], &sources);
        let both = numbers(&ride.readout.sections[0]);
        for path in [
            "front.ride_height_m",
            "level.pitch_rate_rms_radps",
            "attitude.lean_max_rad",
            "front_wheel.lockups",
        ] {
            let (Some(Found::Number(one)), Some(Found::Number(two))) = (alone.get(path), both.get(path))
            else {
                panic!("{order:?}: {path} is {:?}, alone {:?}", both.get(path), alone.get(path));
            };
            assert!((one - two).abs() <= 0.02 * one.abs(), "{order:?}: {path} is {two}, alone {one}");
        }
        let of = |file: &str, header: &str| {
            let mut channels = ride.readout.channels.iter();
            channels.find(|channel| channel.source == file && channel.header.starts_with(header)).unwrap()
        };
        assert!(of("living.csv", "front travel").used && !of("dead.csv", "front travel").used);
        assert_eq!(of("dead.csv", "front travel").flags, [Doubt::Constant]);
        // What lives in both comes from the faster one.
        assert!(of("dead.csv", "rear travel").used && !of("living.csv", "rear travel").used);
    }
}

/// A third measure of speed in the log.
fn with_gps() -> Logged {
    let mut log = log().clone();
    let mut run = plans()[1].run();
    run.until_s = 45.0;
    let speed = run.ride().speed_mps.iter().step_by(4).map(|v| f64::from(*v)).collect();
    log.channels.push(("GPS speed [m/s]", speed));
    log
}

fn flags(ride: &Ride, header: &str) -> Vec<Doubt> {
    let mut channels = ride.readout.channels.iter();
    channels.find(|channel| channel.header.starts_with(header)).unwrap().flags.clone()
}

#[test]
fn a_wheel_speed_that_another_speed_contradicts_is_not_measured() {
    let gps = with_gps();
    let first = gps.ride(&Bike::default());
    let right = numbers(&first.readout.sections[0]);
    let metres = |numbers: &BTreeMap<String, Found>| match numbers.get("distance_m") {
        Some(Found::Number(metres)) => *metres,
        other => panic!("distance is {other:?}"),
    };
    for (end, other) in [("front", "rear"), ("rear", "front")] {
        let (wheel, opposite) = (format!("{end} wheel"), format!("{other} wheel"));
        assert_eq!(flags(&first, &wheel), []);
        let mut wrong = gps.clone();
        wrong.channel(&wheel).iter_mut().for_each(|v| *v *= 0.7);
        let mut standing = gps.clone();
        standing.channel(&wheel).iter_mut().skip(5000).for_each(|v| *v = 0.0);
        for (what, log, word) in [("wrong", wrong, "GPS"), ("standing", standing, "stands")] {
            let ride = log.ride(&Bike::default());
            let found = flags(&ride, &wheel);
            let meant = matches!(
                (what, &found[..]),
                ("wrong", [Doubt::WrongSpeed { .. }]) | ("standing", [Doubt::Standing { .. }])
            );
            assert!(meant, "{end} {what}: {found:?}");
            assert_eq!(flags(&ride, &opposite), [], "{end} {what}");
            let now = numbers(&ride.readout.sections[0]);
            let Some(Found::Not(reason)) = now.get(&format!("{end}_wheel.lockups")) else {
                panic!("{end} {what}: {:?}", now.get(&format!("{end}_wheel.lockups")));
            };
            assert!(reason.contains(word), "{end} {what}: {reason}");
            // The bike's speed comes from the wheel that is right.
            assert!(
                (metres(&now) / metres(&right) - 1.0).abs() < 0.02,
                "{end} {what}: {} m, not {}",
                metres(&now),
                metres(&right)
            );
        }
    }
}

#[test]
fn where_nothing_says_which_wheel_is_right_both_are_doubted() {
    let mut log = log().clone();
    log.channel("rear wheel").iter_mut().for_each(|v| *v *= 0.7);
    let ride = log.ride(&Bike::default());
    for wheel in ["front wheel", "rear wheel"] {
        let found = flags(&ride, wheel);
        assert!(matches!(found[..], [Doubt::SpeedsDisagree { .. }]), "{wheel}: {found:?}");
    }
    let now = numbers(&ride.readout.sections[0]);
    for path in ["distance_m", "front_wheel.lockups", "rear_wheel.lockups"] {
        assert!(matches!(now.get(path), Some(Found::Not(_))), "{path} is {:?}", now.get(path));
    }
    // Whether it rolls they do agree on.
    assert!(matches!(now.get("front.ride_height_m"), Some(Found::Number(_))));
}
