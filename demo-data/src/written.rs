//! The demo day as its owner has it: the app's day file, the linkage table, video times jotted down.
//! No truth in here.

use std::fmt::Write;
use std::sync::Arc;

use evenkeel_core::align::{self, FrameRate, Moment, moment};
use evenkeel_core::calibrate::{Linkage, Mount};
use evenkeel_core::decide::{self, Archive, ArchivedDay, Direction, RunSummary, Scale};
use evenkeel_core::import::{self, ImportError};
use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::setup::{Entry, Item, Named, NamedPlan, Part, SetupSheet, SheetUnit, Typed};
use evenkeel_core::track::{Course, RunDistance, RunTrack, read_splits, sections_from_splits};
use evenkeel_core::{Day, End, Log, Profile, RunSheet, Unit, Video, Wheel, analyse_now};

use crate::archive::{self, Earlier};
use crate::bike::{Bike, Setup};
use crate::camera::{Anchor, FRAME_HZ};
use crate::day::{Plan, Recording};
use crate::logger::motion::MotionLogger;
use crate::logger::suspension::SuspensionLogger;
use crate::sensor::{self, Clock};
use crate::track::Track;
use crate::truth::RECORD_HZ;

/// Name of the linkage table.
pub const LINKAGE_FILE: &str = "linkage.csv";
/// Name of the camera times.
pub const CAMERA_FILE: &str = "camera-times.txt";
/// Name of the split list.
pub const SPLITS_FILE: &str = "splits.csv";
/// Name of the archive.
pub const ARCHIVE_FILE: &str = "archive.json";
/// Runs of the day in all, of which the last is not ridden.
const PRACTICE_RUNS: usize = 7;
/// Name of the day file.
pub const DAY_FILE: &str = "day.json";

/// The day file: bike, how both loggers' files are read, and each run with the rider's words and what was
/// seen on the video. Roles are those that the headers suggest; only how the units lie is added. Clocks are
/// left to be found.
///
/// # Errors
/// If the app cannot read what the loggers wrote.
pub fn day(runs: &[(Plan, Recording)]) -> Result<Day, Box<dyn std::error::Error>> {
    let bike = bike("The demo bike", &Bike::new(&Setup::default()))?;
    let mut day = Day {
        name: "Harrowdean Bank, practice".to_owned(),
        bike,
        practice_runs: Some(PRACTICE_RUNS),
        ..Day::default()
    };
    for (plan, recording) in runs {
        let files = [plan.suspension_file(), plan.motion_file()];
        for (file, text) in files.iter().zip([&recording.suspension_text, &recording.motion_text]) {
            if let Some(profile) = profile(file, text)? {
                day.keep_profile(profile);
            }
        }
        day.runs.push(RunSheet {
            name: plan.name.to_owned(),
            time_of_day: plan.time_of_day.to_owned(),
            words: plan.words.to_owned(),
            setup: setup_sheet(plan),
            plan: question(plan).map(|plan| NamedPlan { plan, named: Named::BeforeTheRun }),
            logs: files.map(|file| Log { file, ..Log::default() }).into(),
            video: Video {
                frame_rate: FrameRate::near(FRAME_HZ),
                anchors: recording.anchors.iter().map(typed).collect(),
                ..Video::default()
            },
            ..RunSheet::default()
        });
    }
    Ok(day)
}

/// What the mechanic wrote down of the bike.
fn setup_sheet(plan: &Plan) -> SetupSheet {
    let Setup {
        fork_pressure_bar,
        fork_rebound_clicks,
        fork_slow_compression_clicks,
        shock_spring_n_per_mm,
        shock_rebound_clicks,
        shock_slow_compression_clicks,
        front_tyre_bar,
        rear_tyre_bar,
    } = plan.setup;
    let mut sheet = SetupSheet::default().with_words(plan.change);
    for (end, part, value, unit) in [
        (End::Front, Part::Spring, fork_pressure_bar, SheetUnit::Bar),
        (End::Front, Part::SlowCompression, fork_slow_compression_clicks.into(), SheetUnit::Click),
        (End::Front, Part::Rebound, fork_rebound_clicks.into(), SheetUnit::Click),
        (End::Front, Part::TyrePressure, front_tyre_bar, SheetUnit::Bar),
        (End::Rear, Part::Spring, shock_spring_n_per_mm, SheetUnit::NewtonPerMillimetre),
        (End::Rear, Part::SlowCompression, shock_slow_compression_clicks.into(), SheetUnit::Click),
        (End::Rear, Part::Rebound, shock_rebound_clicks.into(), SheetUnit::Click),
        (End::Rear, Part::TyrePressure, rear_tyre_bar, SheetUnit::Bar),
    ] {
        sheet.set(Item::At(end, part), Some(Entry::Number(Typed { value, unit })));
    }
    sheet
}

/// The question that a run of the day was to answer, on the rough parts of the track.
fn question(plan: &Plan) -> Option<decide::Plan> {
    let (metric, direction, worth_having) = match plan.name {
        "Run 2" | "Run 3" => ("rear.not_recovered_share", Direction::Less, 0.05),
        "Run 4" => ("vibration.hand_arm_rms_mps2", Direction::Less, 1.0),
        "Run 5" | "Run 6" => ("front.travel_p95_m", Direction::More, 0.01),
        _ => return None,
    };
    let sections = ["Rooty traverse", "Rock garden", "Braking-bump chute"].map(str::to_owned).into();
    Some(decide::Plan { metric: metric.to_owned(), direction, scale: Scale::Plain, sections, worth_having })
}

/// What the app makes of a run, read as the day's runs are.
///
/// # Errors
/// If the app cannot read what the loggers wrote.
pub fn analysed(day: &Day, plan: &Plan, recording: &Recording) -> Result<Ride, Box<dyn std::error::Error>> {
    let files =
        [(plan.suspension_file(), &recording.suspension_text), (plan.motion_file(), &recording.motion_text)];
    let mut sources = Vec::new();
    for (file, text) in &files {
        sources.extend(import::read(file, text.as_bytes())?.parts.into_iter().map(Arc::new));
    }
    let logs = files.map(|(file, _)| Log { file, ..Log::default() });
    let mut sheet = RunSheet { name: plan.name.to_owned(), logs: logs.into(), ..RunSheet::default() };
    let motion = sheet.logs[1].file.clone();
    sheet.logs[1].clock = align::match_clock(day, &sheet, &sources, &motion)?.clock;
    Ok(analyse_now(day, &sheet, &sources))
}

/// `archive.json`: the numbers of the earlier days' runs, read with the day's bike and sections.
///
/// # Errors
/// If the app cannot read what the loggers wrote.
pub fn archive(day: &Day) -> Result<Archive, Box<dyn std::error::Error>> {
    let mut archive = Archive::default();
    for earlier in archive::runs() {
        let summary = summary(day, &earlier)?;
        match archive.days.last_mut() {
            Some(last) if last.date == earlier.date => last.runs.push(summary),
            _ => archive.days.push(ArchivedDay {
                name: earlier.day.to_owned(),
                date: earlier.date.to_owned(),
                runs: vec![summary],
            }),
        }
    }
    Ok(archive)
}

/// One earlier run in numbers.
///
/// # Errors
/// If the app cannot read what the loggers wrote.
pub fn summary(day: &Day, earlier: &Earlier) -> Result<RunSummary, Box<dyn std::error::Error>> {
    let ride = analysed(day, &earlier.plan, &earlier.plan.record())?;
    Ok(RunSummary::of(&ride.readout, archive::SETUP_NAMES[earlier.setup]))
}

/// Makes the track's sections in the day's first run, from its split list.
///
/// # Errors
/// If the app cannot read what the loggers wrote, or where the run lies on the track.
pub fn add_sections(day: &mut Day, runs: &[(Plan, Recording)]) -> Result<(), Box<dyn std::error::Error>> {
    let Some((plan, recording)) = runs.first() else { return Ok(()) };
    let traces = analysed(day, plan, recording)?.traces.ok_or("the first run has no channel")?;
    let distance = RunDistance::of(&traces)?;
    let splits = read_splits(SPLITS_FILE, &splits_text(recording))?;
    let course = Course::along(&distance, traces.get(Trace::YawRate));
    day.sections = sections_from_splits(&splits, &RunTrack::reference(distance, &course))?;
    day.course = Some(course);
    Ok(())
}

/// `splits.csv`: when the first run came to the end of each section, from leaving the gate, as read off its
/// video.
pub fn splits_text(first: &Recording) -> String {
    // A wheel that only just turns shows no speed yet.
    const MOVING_MPS: f32 = 0.25;
    let truth = &first.truth;
    let left = truth.speed_mps.iter().position(|speed| *speed > MOVING_MPS).unwrap_or(0);
    let mut text = "section,ends after\n".to_owned();
    for section in Track::harrowdean_bank().sections {
        if let Some(time_s) = truth.time_at_distance_s(section.end_m) {
            let time = moment::format(time_s - left as f64 / RECORD_HZ, 0.01);
            let _ = writeln!(text, "{},{time}", section.name);
        }
    }
    text
}

/// A bike as its owner measures it, to the millimetre and a tenth of a degree.
///
/// # Errors
/// If the app cannot read the linkage table.
pub fn bike(name: &str, model: &Bike) -> Result<evenkeel_core::Bike, Box<dyn std::error::Error>> {
    let geometry = model.geometry;
    let clock = Clock { offset_s: 0.0, drift_ppm: 0.0 };
    let rounded = |value: f64, step: f64| (value / step).round() * step;
    let wheel = |pulses_per_turn| Wheel {
        circumference_m: rounded(std::f64::consts::TAU * geometry.wheel_radius_m, 1e-3),
        pulses_per_turn,
    };
    Ok(evenkeel_core::Bike {
        name: name.to_owned(),
        head_angle_rad: rounded(geometry.head_angle_rad.to_degrees(), 0.1).to_radians(),
        wheelbase_m: rounded(geometry.wheelbase_m, 1e-3),
        front_travel_m: rounded(geometry.front_travel_m, 1e-3),
        rear_travel_m: rounded(geometry.rear_travel_m, 1e-3),
        linkage: Some(Linkage::from_text(LINKAGE_FILE, linkage_text_of(model).as_bytes(), Unit::Millimetre)?),
        front_wheel: wheel(1.0),
        rear_wheel: wheel(SuspensionLogger::new(clock).pulses_per_turn),
        ..evenkeel_core::Bike::default()
    })
}

fn profile(file: &str, text: &str) -> Result<Option<Profile>, ImportError> {
    let motion = MotionLogger::new(Clock { offset_s: 0.0, drift_ppm: 0.0 });
    let imported = import::read(file, text.as_bytes())?;
    Ok(imported.parts.first().map(|source| Profile {
        frame_mount: mount(&motion.frame_mount),
        bar_mount: mount(&motion.bar_mount),
        ..Profile::guess(source)
    }))
}

/// The square mount that sees the bike's axes as the model's unit does, its small tilt left out.
fn mount(model: &sensor::Mount) -> Mount {
    let square = sensor::Mount { pitch_error_rad: 0.0, roll_error_rad: 0.0, ..*model };
    let vectors = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let same = |mount: &Mount| vectors.iter().all(|&vector| mount.apply(square.seen(vector)) == vector);
    Mount::all().find(same).unwrap_or_default()
}

fn typed(anchor: &Anchor) -> align::Anchor {
    align::Anchor {
        log: Moment { seconds: anchor.log_s, resolution_s: anchor.log_resolution_s },
        video: Moment { seconds: anchor.video_s, resolution_s: anchor.video_resolution_s },
    }
}

/// `camera-times.txt`: the anchors as a person jots them down.
pub fn camera_text(runs: &[(Plan, Recording)]) -> String {
    let mut text =
        "Helmet camera, 29.97 frames a second. Video time against the suspension log.\n".to_owned();
    for (plan, recording) in runs {
        let _ = write!(text, "\n{}\n", plan.name);
        for anchor in &recording.anchors {
            let _ =
                writeln!(text, "  {:<10} {} (log {:.3} s)", anchor.video_text, anchor.event, anchor.log_s);
        }
    }
    text
}

/// `linkage.csv`: shock stroke to rear axle travel every 2.5 mm.
pub fn linkage_text() -> String {
    linkage_text_of(&Bike::new(&Setup::default()))
}

fn linkage_text_of(model: &Bike) -> String {
    let linkage = model.linkage;
    let mut text = "shock stroke [mm],axle travel [mm]\n".to_owned();
    for step in 0..=30 {
        let stroke_mm = 2.5 * f64::from(step);
        let _ = writeln!(text, "{stroke_mm:.1},{:.2}", 1000.0 * linkage.axle_travel_m(1e-3 * stroke_mm));
    }
    text
}
