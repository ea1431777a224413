//! The whole read-out of a three-minute run of 20 channels at 1 kHz, one thread, beside a SciPy script that does no
//! more than the filters, derivatives, spectra and histograms of the same data.
//!
//! Five interleaved rounds, the best of each, since the machine has other things to do.

use std::time::Instant;

use evenkeel_core::{Bike, analyse_now};
use evenkeel_demo_data::day::plans;
use evenkeel_tests::logged::{Logged, day};
use evenkeel_tests::python::reference;

const ROUNDS: usize = 5;
const RUN_S: f64 = 180.0;

fn main() {
    // `cargo test --benches` only asks whether it runs.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let mut run = plans()[1].run();
    run.until_s = RUN_S;
    let log = Logged::of(&run.ride(), 1);
    let sources = log.sources();
    let day = day(&Bike::default());
    let inputs: Vec<(&str, &[f64])> =
        log.channels.iter().map(|(header, values)| (name(header), values.as_slice())).collect();

    let (mut ours_s, mut theirs_s) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..ROUNDS {
        let start = Instant::now();
        let ride = analyse_now(&day, &day.runs[0], &sources);
        ours_s = ours_s.min(start.elapsed().as_secs_f64());
        assert!(ride.traces.is_some());
        theirs_s = theirs_s.min(reference("readout_bench", &inputs)["seconds"][0]);
    }
    println!("read-out, {} channels, {} rows", inputs.len(), inputs[0].1.len());
    println!("  ours, all of it:                             {ours_s:.3} s");
    println!("  SciPy, filters, slopes, spectra, histograms: {theirs_s:.3} s");
    println!("  ratio ours / SciPy: {:.2} (goal: at most 1)", ours_s / theirs_s);
}

/// The header without its unit.
fn name(header: &str) -> &str {
    header.split(" [").next().unwrap_or(header)
}
