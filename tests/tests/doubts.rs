//! Faults of sensors put into simulated rides: each is doubted at its own end, silences what it spoils and nothing
//! else, and a healthy ride raises no doubt. Source of every fault: its definition in the model.

use std::sync::OnceLock;

use evenkeel_core::ride::{Doubt, Ride};
use evenkeel_core::{Axis, Day, End, Log, Place, Role, RunSheet, analyse_now};
use evenkeel_demo_data::bike::{Bike, End as ModelEnd, Setup};
use evenkeel_demo_data::day::{Recording, plans};
use evenkeel_demo_data::fault::{Fault, Kind, Severity};
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::ride::Run;
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::track::{Section, Track};
use evenkeel_demo_data::truth::Truth;
use evenkeel_demo_data::written;
use evenkeel_tests::demo_run::read_logs;
use evenkeel_tests::numbers::{Found, numbers};
use evenkeel_tests::simulated::CLOCK;

/// Start straight, roots and two jumps of the demo track.
fn short_track() -> Track {
    let demo = Track::harrowdean_bank();
    let mut sections = demo.sections[..2].to_vec();
    sections.push(Section { start_m: 480.0, end_m: 730.0, ..demo.sections[4] });
    let jumps = demo.jumps.iter().map(|jump| jump.moved(-600.0)).collect();
    Track::new(sections, demo.corners[..5].to_vec(), jumps, demo.drops[..1].to_vec())
}

fn healthy(seed: u64) -> Run {
    let mut run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, seed);
    run.track = short_track();
    run
}

fn truth() -> &'static Truth {
    static TRUTH: OnceLock<Truth> = OnceLock::new();
    TRUTH.get_or_init(|| healthy(8).ride())
}

fn analysed(
    bike: &Bike,
    truth: &Truth,
    suspension: &SuspensionLogger,
    motion: &MotionLogger,
    seed: u64,
) -> Ride {
    let texts = [("suspension.csv", suspension.text(truth, seed)), ("motion.csv", motion.text(truth, seed))];
    let sources = read_logs(&texts);
    // How the units lie is known from the demo day.
    let recording = Recording {
        truth: Truth::new(bike.geometry),
        suspension_text: texts[0].1.clone(),
        motion_text: texts[1].1.clone(),
        suspension_clock: CLOCK,
        motion_clock: CLOCK,
        camera_clock: CLOCK,
        anchors: Vec::new(),
    };
    let bike = written::bike("", bike).unwrap();
    let mut day = Day { bike, ..written::day(&[(plans().swap_remove(0), recording)]).unwrap() };
    let logs = sources.iter().map(|source| Log { file: source.name.clone(), ..Log::default() }).collect();
    day.runs = vec![RunSheet { logs, ..RunSheet::default() }];
    analyse_now(&day, &day.runs[0], &sources)
}

/// The healthy ride, logged with a fault.
fn with(fault: Option<Fault>) -> Ride {
    let mut run = healthy(8);
    let (mut suspension, mut motion) = (SuspensionLogger::new(CLOCK), MotionLogger::new(CLOCK));
    if let Some(fault) = fault {
        fault.apply(&mut run, &mut suspension, &mut motion);
    }
    analysed(&run.bike, truth(), &suspension, &motion, 3)
}

/// Every doubt, as it is written, with the channel that it is about.
fn doubts(ride: &Ride) -> Vec<(Role, String)> {
    let name = |doubt: &Doubt| match serde_json::to_value(doubt).unwrap() {
        serde_json::Value::String(name) => name,
        object => object.as_object().unwrap().keys().next().unwrap().clone(),
    };
    let channels = ride.readout.channels.iter();
    channels.flat_map(|channel| channel.flags.iter().map(move |doubt| (channel.role, name(doubt)))).collect()
}

fn travel(end: ModelEnd) -> Role {
    if end == ModelEnd::Front { Role::Travel(End::Front) } else { Role::ShockStroke }
}

#[test]
fn a_healthy_ride_raises_no_doubt() {
    for seed in [8, 21, 22] {
        let run = healthy(seed);
        let (suspension, motion) = (SuspensionLogger::new(CLOCK), MotionLogger::new(CLOCK));
        let ride = analysed(&run.bike, &run.ride(), &suspension, &motion, seed);
        assert_eq!(doubts(&ride), [], "seed {seed}");
    }
}

#[test]
fn a_faulty_sensor_is_doubted_at_its_own_end_and_alone() {
    let of_sensors = [
        Kind::EndsSwapped,
        Kind::ZeroMoved,
        Kind::TravelDead,
        Kind::TravelClipped,
        Kind::TravelInverted,
        Kind::TravelNoisy,
        Kind::GyroDead,
    ];
    for fault in Fault::all().filter(|fault| of_sensors.contains(&fault.kind)) {
        let found = doubts(&with(Some(fault)));
        let expected: Vec<Role> = match (fault.kind, fault.end) {
            (Kind::EndsSwapped, _) => vec![travel(ModelEnd::Front), travel(ModelEnd::Rear)],
            (Kind::GyroDead, _) => Axis::ALL.map(|axis| Role::Gyro(Place::Frame, axis)).into(),
            (_, end) => vec![travel(end.unwrap_or(ModelEnd::Rear))],
        };
        println!("{fault:?}: {found:?}");
        if fault.severity == Severity::Clear {
            for role in &expected {
                let doubted = found.contains(&(*role, fault.kind.finding().to_owned()));
                assert!(doubted, "{fault:?} at {role:?}: {found:?}");
            }
        }
        if (fault.kind, fault.severity) == (Kind::TravelDead, Severity::Light) {
            assert_eq!(found, [(expected[0], "stuck".to_owned())], "{fault:?}");
        }
        // What is a third of it may be missed, but nobody else is blamed.
        assert!(found.iter().all(|(role, _)| expected.contains(role)), "{fault:?}: {found:?}");
    }
}

/// Beginnings of paths that go, and that stay.
fn check(fault: Fault, gone: &[&str], kept: &[&str]) {
    let ride = with(Some(fault));
    let found = numbers(&ride.readout.sections[0]);
    let below = |stem: &str| {
        let stem = stem.to_owned();
        found.iter().filter(move |(path, _)| **path == stem || path.starts_with(&format!("{stem}.")))
    };
    for stem in gone {
        assert!(below(stem).next().is_some(), "no {stem}");
        for (path, found) in below(stem) {
            let Found::Not(reason) = found else { panic!("{fault:?}: {path} is {found:?}") };
            let named = ["fully extended", "full travel", "noisy"].iter().any(|word| reason.contains(word));
            assert!(named, "{fault:?}: {path}: {reason}");
        }
    }
    for stem in kept {
        let told = below(stem).any(|(_, found)| matches!(found, Found::Number(_)));
        assert!(told, "{fault:?}: {stem} is {:?}", below(stem).collect::<Vec<_>>());
    }
}

const PLACED: [&str; 14] = [
    "ride_height_m",
    "ride_height_share",
    "ride_height_slope_m_per_min",
    "travel_p5_m",
    "travel_p95_m",
    "travel_max_m",
    "travel_max_share",
    "time_in_tenths",
    "travel_histogram",
    "bottom_outs",
    "top_outs",
    "sag_m",
    "unweighted_s",
    "early_top_outs",
];
const SHARP: [&str; 6] = [
    "compression_speed_p95_mps",
    "rebound_fast_share",
    "rebound_rate_per_s",
    "recovery_p50_s",
    "overshoot_p50_m",
    "harshness_per_s",
];

#[test]
fn a_zero_that_moved_spoils_levels_and_leaves_strokes() {
    for (end, name, other) in [(ModelEnd::Front, "front", "rear"), (ModelEnd::Rear, "rear", "front")] {
        let fault = Fault { kind: Kind::ZeroMoved, end: Some(end), severity: Severity::Clear };
        let placed = PLACED.map(|path| format!("{name}.{path}"));
        let mut gone: Vec<&str> = placed.iter().map(String::as_str).collect();
        gone.extend(["level.pitch_at_ride_height_rad", "level.ride_height_offset_share", "airborne"]);
        let sharp = SHARP.map(|path| format!("{name}.{path}"));
        let alone = format!("{other}.ride_height_m");
        let mut kept: Vec<&str> = sharp.iter().map(String::as_str).collect();
        kept.extend([alone.as_str(), "level.hit_ratio", "level.evenness_share", "level.heave_rms_m"]);
        check(fault, &gone, &kept);
    }
}

#[test]
fn noise_spoils_strokes_and_leaves_levels() {
    for (end, name, other) in [(ModelEnd::Front, "front", "rear"), (ModelEnd::Rear, "rear", "front")] {
        let fault = Fault { kind: Kind::TravelNoisy, end: Some(end), severity: Severity::Clear };
        let sharp = SHARP.map(|path| format!("{name}.{path}"));
        let more = ["travel_max_m", "bottom_outs", "top_outs", "sink_m"].map(|path| format!("{name}.{path}"));
        let mut gone: Vec<&str> = sharp.iter().chain(&more).map(String::as_str).collect();
        gone.extend(["level.hit_ratio", "level.hit_pairs"]);
        let level = ["ride_height_m", "travel_p95_m", "time_in_tenths"].map(|path| format!("{name}.{path}"));
        let alone = format!("{other}.rebound_rate_per_s");
        let mut kept: Vec<&str> = level.iter().map(String::as_str).collect();
        kept.extend([alone.as_str(), "level.heave_rms_m"]);
        check(fault, &gone, &kept);
    }
}
