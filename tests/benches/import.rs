//! A three-minute log of 20 channels at 1 kHz from its file into typed columns, one thread, beside pandas' C reader on
//! the same file with the same types; then ten times the length, and the memory that reading takes.
//!
//! Five interleaved rounds, the best of each, since the machine has other things to do.

use std::fs::{self, File};
use std::io::{BufWriter, Read, Write};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use evenkeel_core::Source;
use evenkeel_core::import::{Reader, SNIFF_BYTES, sniff};
use evenkeel_tests::long_log::write_log;
use evenkeel_tests::python::reference;

const ROUNDS: usize = 5;
const RUN_S: f64 = 180.0;
const CHANNELS: usize = 20;
const RATE_HZ: f64 = 1000.0;
/// How the file is taken in, as by the page, bytes.
const PIECE: usize = 1 << 20;
/// Tells this program, started by itself, to read one file and say what memory that took.
const WEIGH: &str = "--weigh";

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|argument| argument == WEIGH) {
        return weigh(Path::new(&arguments[at + 1]));
    }
    // `cargo test --benches` only asks whether it runs.
    if !arguments.iter().any(|argument| argument == "--bench") {
        return;
    }
    let folder = std::env::temp_dir().join(format!("evenkeel-import-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    let (short, long) = (folder.join("short.csv"), folder.join("long.csv"));
    for (path, seconds) in [(&short, RUN_S), (&long, 10.0 * RUN_S)] {
        let mut file = BufWriter::new(File::create(path).unwrap());
        write_log(&mut file, seconds, CHANNELS, RATE_HZ).unwrap();
        file.flush().unwrap();
    }
    // The script takes arrays of numbers only.
    let path: Vec<f64> = short.to_str().unwrap().bytes().map(f64::from).collect();

    let (mut ours_s, mut long_s) = (f64::INFINITY, f64::INFINITY);
    let mut theirs_s = [f64::INFINITY; 2];
    for _ in 0..ROUNDS {
        ours_s = ours_s.min(timed(&short));
        long_s = long_s.min(timed(&long));
        let pandas = reference("import_bench", &[("path", &path)]);
        for (best, name) in theirs_s.iter_mut().zip(["default", "at_once"]) {
            *best = best.min(pandas[name][0]);
        }
    }
    let size = fs::metadata(&short).unwrap().len() as f64;
    println!("text to typed columns, {CHANNELS} channels, {RUN_S} s at {RATE_HZ} Hz, {:.1} MB", size / 1e6);
    println!("  ours, file included:             {ours_s:.3} s ({:.0} MB/s)", size / 1e6 / ours_s);
    println!("  pandas, C reader:                {:.3} s", theirs_s[0]);
    println!("  pandas, C reader, all at once:   {:.3} s", theirs_s[1]);
    let ratio = theirs_s[0].min(theirs_s[1]) / ours_s;
    println!("  pandas at its best / ours:       {ratio:.1} (goal: at least 1)");
    println!(
        "  ten times the length:            {long_s:.3} s, {:.1} times (goal: at most 11)",
        long_s / ours_s
    );
    for path in [&short, &long] {
        let weigher = Command::new(&arguments[0]).arg(WEIGH).arg(path).output().unwrap();
        assert!(weigher.status.success(), "{}", String::from_utf8_lossy(&weigher.stderr));
        print!("{}", String::from_utf8_lossy(&weigher.stdout));
    }
    fs::remove_dir_all(&folder).unwrap();
}

fn timed(path: &Path) -> f64 {
    let start = Instant::now();
    let source = read(path);
    let took_s = start.elapsed().as_secs_f64();
    assert_eq!(source.columns.len(), CHANNELS);
    took_s
}

/// Reads a log as its bytes arrive.
fn read(path: &Path) -> Source {
    let mut file = File::open(path).unwrap();
    let size = file.metadata().unwrap().len() as f64;
    let mut piece = vec![0; PIECE];
    let mut filled = file.read(&mut piece).unwrap();
    let layout = sniff(&piece[..filled.min(SNIFF_BYTES)], "log.csv").unwrap();
    let mut reader = Reader::new("log.csv", layout).unwrap();
    reader.expect(size);
    while filled > 0 {
        reader.feed(&piece[..filled]).unwrap();
        filled = file.read(&mut piece).unwrap();
    }
    reader.finish().unwrap().parts.remove(0)
}

/// Prints how far reading took the memory of this process, beside what came of it.
fn weigh(path: &Path) {
    let before = resident_bytes("VmRSS:");
    let source = read(path);
    let peak = resident_bytes("VmHWM:");
    let columns: usize = source.columns.iter().map(|column| size_of_val(&column.values[..])).sum();
    let held = (columns + size_of_val(&source.time_s[..])) as f64;
    match before.zip(peak) {
        Some((before, peak)) => println!(
            "  columns and times of {} rows:  {:.1} MB; reading them took {:.1} MB at most ({:.2} times)",
            source.time_s.len(),
            held / 1e6,
            (peak - before) / 1e6,
            (peak - before) / held
        ),
        None => println!("  memory: not measured, this system does not tell"),
    }
}

/// What Linux says of this process, bytes.
fn resident_bytes(line: &str) -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let text = status.lines().find_map(|text| text.strip_prefix(line))?;
    text.trim().strip_suffix("kB")?.trim().parse().ok().map(|kib: f64| kib * 1024.0)
}
