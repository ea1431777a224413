//! Coverage-guided fuzzing of every parser.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::program::{output, run};
use crate::{Failure, checkout};

/// Tries of each parser where nothing else is said: eleven parsers make ten million and more.
const EXECUTIONS: u64 = 1_000_000;
/// What makes the compiler count which branches were taken, on any toolchain; sums that overflow are faults too.
const RUSTFLAGS: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1 -Cdebug-assertions -Coverflow-checks \
    --cfg=fuzzing";
/// An input has at most 16 KiB, and takes a millisecond or so; the clock also runs while other programs have the
/// processor, so that only a hang lasts ten seconds.
const LIMITS: [&str; 4] = ["-max_len=16384", "-timeout=10", "-rss_limit_mb=1024", "-print_final_stats=1"];
/// How the fuzzer says how often it tried, the longest that one took, s, and the memory that all took, MB.
const TOLD: [&str; 3] =
    ["stat::number_of_executed_units:", "stat::slowest_unit_time_sec:", "stat::peak_rss_mb:"];

/// Tries each parser, or those named, so many times, and prints how often it did; stops at the first fault.
pub fn fuzz(words: &[&str]) -> Result<(), Failure> {
    let (executions, named) = match words.split_first() {
        Some((first, rest)) if first.starts_with(|c: char| c.is_ascii_digit()) => {
            (first.parse().map_err(|_| format!("`{first}` is no number of tries"))?, rest)
        }
        _ => (EXECUTIONS, words),
    };
    let corpus = checkout::root().join("tests/corpus");
    let mut parsers = folders(&corpus)?;
    if let Some(unknown) = named.iter().find(|name| !parsers.iter().any(|parser| parser == *name)) {
        return Err(format!("there is no parser `{unknown}`; these there are: {}", parsers.join(", ")));
    }
    parsers.retain(|parser| named.is_empty() || named.contains(&parser.as_str()));
    let work = checkout::target()?.join("fuzz");
    let program = build(&work)?;
    let mut total = 0;
    for parser in parsers {
        let [tried, slowest_s, memory_mb] =
            try_one(&program, &parser, executions, &corpus.join(&parser), &work)?;
        total += tried;
        println!(
            "{parser:<16} {tried:>12} executions, no fault; slowest {slowest_s} s, at most {memory_mb} MB"
        );
    }
    println!("{:<16} {total:>12} executions", "together");
    Ok(())
}

fn folders(of: &Path) -> Result<Vec<String>, Failure> {
    let entries = fs::read_dir(of).map_err(|error| format!("{} cannot be read: {error}", of.display()))?;
    let mut names: Vec<String> =
        entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok()).collect();
    names.sort();
    Ok(names)
}

fn build(work: &Path) -> Result<PathBuf, Failure> {
    let version = output(checkout::rustc().arg("-vV")).ok_or("rustc does not say what it builds for")?;
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap_or_default();
    let mut cargo = checkout::cargo();
    // With a target named, the flags are for the parsers alone and not for what builds them.
    cargo.args(["build", "--locked", "--release", "--package", "evenkeel-fuzz", "--features", "engine"]);
    cargo.args(["--bin", "fuzz", "--target", host]);
    cargo.env("CARGO_TARGET_DIR", work).env("RUSTFLAGS", RUSTFLAGS);
    run(&mut cargo)
        .map_err(|failure| format!("{failure}; the fuzzer's engine needs a C++ compiler (Debian: g++)"))?;
    Ok(work.join(host).join("release").join(format!("fuzz{}", std::env::consts::EXE_SUFFIX)))
}

fn try_one(
    program: &Path,
    parser: &str,
    executions: u64,
    examples: &Path,
    work: &Path,
) -> Result<[u64; 3], Failure> {
    let (grown, found) = (work.join("corpus").join(parser), work.join("found").join(parser));
    for folder in [&grown, &found] {
        fs::create_dir_all(folder)
            .map_err(|error| format!("{} cannot be made: {error}", folder.display()))?;
    }
    let mut command = Command::new(program);
    command.env("EVENKEEL_PARSER", parser).stdin(Stdio::null());
    command.args(LIMITS).arg(format!("-runs={executions}"));
    // What it finds on the way goes to the first folder, what is to be tried comes from both.
    command.arg(format!("-artifact_prefix={}/", found.display())).arg(&grown).arg(examples);
    let ended = command.output().map_err(|error| format!("the fuzzer could not be started: {error}"))?;
    let said = String::from_utf8_lossy(&ended.stderr);
    if !ended.status.success() {
        let lines: Vec<&str> = said.lines().collect();
        let last = lines[lines.len().saturating_sub(40)..].join("\n");
        return Err(format!(
            "{last}\n{parser} has a fault: the input is in {}. Mend it, and keep the input in tests/corpus/{parser}.",
            found.display()
        ));
    }
    let number = |stat: &str| said.lines().find_map(|line| line.strip_prefix(stat)?.trim().parse().ok());
    let [Some(tried), Some(slowest_s), Some(memory_mb)] = TOLD.map(number) else {
        return Err("the fuzzer did not say how often it tried".to_owned());
    };
    Ok([tried, slowest_s, memory_mb])
}
