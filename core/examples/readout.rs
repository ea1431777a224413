//! Prints what the analysis says about a run: the same result as the app's.
//!
//! ```text
//! cargo run --release -p evenkeel-core --example readout -- LOG... [--day day.json] [--json]
//! ```
//!
//! With a day file its bike, profiles and clocks are used, and each of its runs that has one of the logs
//! is printed. Without one the logs are one run, and roles and units are guessed. Clocks that no one has
//! set are matched to the first file's. An unreadable file ends in status 1 and one line that says where
//! and what to do.

use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

use evenkeel_core::align::{Clock, match_clock};
use evenkeel_core::findings::Finding;
use evenkeel_core::track::AlignmentMethod;
use evenkeel_core::{Day, Log, Measured, Readout, RunReadout, RunSheet, Source, analyse_now, import};

fn main() -> ExitCode {
    match read_out() {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::FAILURE
        }
    }
}

fn read_out() -> Result<(), String> {
    let arguments = Arguments::from(std::env::args().skip(1))?;
    let mut sources = Vec::new();
    for log in &arguments.logs {
        let name = Path::new(log)
            .file_name()
            .map_or_else(|| log.clone(), |name| name.to_string_lossy().into_owned());
        let imported = import::read(&name, &read(log)?).map_err(|error| error.to_string())?;
        sources.extend(imported.parts.into_iter().map(Arc::new));
    }
    let mut day = match &arguments.day {
        Some(path) => serde_json::from_slice(&read(path)?).map_err(|error| {
            format!("{path}:{}:{}: not a day file ({error}); export it again", error.line(), error.column())
        })?,
        None => one_run(&sources),
    };
    match_clocks(&mut day, &sources);
    let has_log =
        |run: &&RunSheet| run.logs.iter().any(|log| sources.iter().any(|source| source.name == log.file));
    let runs = day.runs.iter().filter(has_log).map(|run| analyse_now(&day, run, &sources).readout).collect();
    let readout = Readout { runs };
    if arguments.json {
        println!("{}", serde_json::to_string_pretty(&readout).map_err(|error| error.to_string())?);
    } else {
        readout.runs.iter().for_each(print_run);
    }
    Ok(())
}

fn read(path: &str) -> Result<Vec<u8>, String> {
    std::fs::read(path).map_err(|error| format!("{path}:1: cannot be read ({error}); check the path"))
}

struct Arguments {
    logs: Vec<String>,
    day: Option<String>,
    json: bool,
}

impl Arguments {
    fn from(mut words: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut arguments = Self { logs: Vec::new(), day: None, json: false };
        while let Some(word) = words.next() {
            match word.as_str() {
                "--json" => arguments.json = true,
                "--day" => {
                    arguments.day = Some(words.next().ok_or("--day needs a file; name it after the option")?)
                }
                option if option.starts_with("--") => {
                    return Err(format!("unknown option {option}; known are --day FILE and --json"));
                }
                _ => arguments.logs.push(word),
            }
        }
        if arguments.logs.is_empty() {
            return Err("no log file named; usage: readout LOG... [--day day.json] [--json]".to_owned());
        }
        Ok(arguments)
    }
}

/// All files as one run.
fn one_run(sources: &[Arc<Source>]) -> Day {
    let logs = sources.iter().map(|source| Log { file: source.name.clone(), ..Log::default() }).collect();
    Day { runs: vec![RunSheet { name: "run".to_owned(), logs, ..RunSheet::default() }], ..Day::default() }
}

/// Matches the clocks that no one has set yet, as the app does.
fn match_clocks(day: &mut Day, sources: &[Arc<Source>]) {
    for run in 0..day.runs.len() {
        for log in 1..day.runs[run].logs.len() {
            let Log { file, clock } = day.runs[run].logs[log].clone();
            if clock != Clock::default() || !sources.iter().any(|source| source.name == file) {
                continue;
            }
            match match_clock(day, &day.runs[run], sources, &file) {
                Ok(found) => day.runs[run].logs[log].clock = found.clock,
                Err(reason) => eprintln!("{file}: its clock could not be matched ({})", reason.0),
            }
        }
    }
}

fn print_run(run: &RunReadout) {
    println!("{}", run.name);
    for source in &run.sources {
        let report = &source.report;
        println!(
            "  {}: {} rows, {:.1} Hz, {} gaps, {} dropped",
            source.name, report.rows, report.rate_hz, report.gaps, report.dropped
        );
        for warning in &report.warnings {
            println!("    ! {warning}");
        }
    }
    for channel in &run.channels {
        println!("    {} = {} [{}]", channel.header, channel.role, channel.unit);
        for doubt in channel.problem.iter().cloned().chain(channel.flags.iter().map(ToString::to_string)) {
            println!("      ! {doubt}");
        }
    }
    if let Some(track) = &run.track {
        match track.method.get() {
            Ok(AlignmentMethod::Reference) => println!("  the reference run itself"),
            Ok(AlignmentMethod::Curvature) => {
                println!("  laid over the reference run by how the track bends")
            }
            Ok(AlignmentMethod::Rescaled(why)) => println!("  laid over the reference run: {why}"),
            Err(reason) => println!("  sections: {reason}"),
        }
        print_number("a place is known to", "m", 1.0, &track.uncertainty_p95_m);
        for section in &track.sections {
            print_number(&section.name, "s", 1.0, &section.time_s);
        }
    }
    for finding in &run.findings {
        print_finding(finding);
    }
    for section in &run.sections {
        println!("  {}: {:.2} s", section.name, section.time_s);
        print_number("distance", "m", 1.0, &section.distance_m);
        for (name, end) in [("front", &section.front), ("rear", &section.rear)] {
            print_number(&format!("{name} sag, if the rider was aboard"), "mm", 1e3, &end.sag_m);
            print_number(&format!("{name} ride height"), "mm", 1e3, &end.travel.ride_height_m);
            print_number(&format!("{name} deepest"), "mm", 1e3, &end.travel.travel_max_m);
            print_number(
                &format!("{name} compression speed p95"),
                "m/s",
                1.0,
                &end.axle_speed.compression_speed_p95_mps,
            );
            print_number(
                &format!("{name} rebound speed p95"),
                "m/s",
                1.0,
                &end.axle_speed.rebound_speed_p95_mps,
            );
        }
        for (name, end) in [("front", &section.front), ("rear", &section.rear)] {
            print_number(&format!("{name} recovery, median"), "s", 1.0, &end.recovery.all.recovery_p50_s);
            print_number(&format!("{name} not recovered"), "%", 100.0, &end.recovery.all.not_recovered_share);
            print_number(&format!("{name} rebound rate"), "1/s", 1.0, &end.rebound.rebound_rate_per_s);
            print_number(&format!("{name} harshness"), "1/s", 1.0, &end.harshness_per_s);
        }
        let deg = 1_f64.to_degrees();
        print_number("evenness, 0 same to 1 opposite", "", 1.0, &section.level.evenness.evenness_share);
        print_number("hit pairs, rear for front", "", 1.0, &section.level.hit_pairs.hit_ratio);
        print_number("pitch against the ground, RMS", "deg", deg, &section.level.pitch_chord_rms_rad);
        print_number("pitch rate, RMS", "deg/s", deg, &section.level.pitch_rate_rms_radps);
        print_number("sideways shake, median", "m/s^2", 1.0, &section.lateral.shake_rms_mps2);
        for (name, brake) in [("front", &section.brakes.front), ("rear", &section.brakes.rear)] {
            print_number(&format!("{name} brake area"), "bar s", 1e-5, &brake.area_pa_s);
            print_number(&format!("{name} brake drag"), "s", 1.0, &brake.drag_s);
        }
        print_number("both brakes", "s", 1.0, &section.brakes.overlap_s);
        print_number("rear lock-ups", "s", 1.0, &section.rear_wheel.lockup_s);
        print_number("dive", "mm/bar", 1e8, &section.dive.gain_m_per_pa);
        print_number("hands, weighted", "m/s^2", 1.0, &section.vibration.hand_arm_rms_mps2);
        print_number("most lean, + right", "deg", deg, &section.attitude.lean_max_rad);
        match section.airborne.get() {
            Ok(flights) => println!("    flights: {}", flights.len()),
            Err(reason) => println!("    flights: {reason}"),
        }
    }
}

fn print_finding(finding: &Finding) {
    println!("  > {} [{}, {}]", finding.statement, finding.section, finding.confidence.level.words());
    for evidence in &finding.evidence {
        println!("      {}: {}", evidence.what, evidence.shown());
    }
    println!("      try: {}", finding.advice.step.words());
    for caution in &finding.advice.cautions {
        println!("      {caution}");
    }
}

fn print_number(name: &str, unit: &str, scale: f64, measured: &Measured) {
    match measured.get() {
        Ok(value) => {
            let [low, high] = measured.interval().map_or([f64::NAN; 2], |bounds| bounds.map(|x| x * scale));
            let interval = if low.is_nan() { String::new() } else { format!(" ({low:.3} to {high:.3})") };
            println!("    {name}: {:.3} {unit}{interval}", value * scale);
        }
        Err(reason) => println!("    {name}: {reason}"),
    }
}
