//! Ten times the length, and a long wide log: time, memory, and whether it still pans.

use std::time::Duration;

use super::app::{App, Memory, best};
use super::logs::{LogFile, RATE_HZ};
use super::table::{Line, Table, mb, ms};

const SHORT_S: f64 = 180.0;
const LONG_S: f64 = 1800.0;
const PATIENCE: Duration = Duration::from_secs(200);
const FRAMES: usize = 300;

struct Loaded {
    app: App,
    opened_ms: f64,
    analysed_ms: f64,
    memory: Memory,
}

fn load(seconds: f64, channels: usize) -> Loaded {
    let log = LogFile::new(seconds, channels);
    let app = App::fresh();
    app.load(log.path());
    let watched = app.settle(PATIENCE);
    let memory = Memory { worker: watched.highest, ..app.memory() };
    Loaded { app, opened_ms: best(watched.took("Open")), analysed_ms: best(watched.took("Analyse")), memory }
}

pub fn measure(table: &mut Table) {
    table.part(&format!("{SHORT_S} s and {LONG_S} s of 20 channels, {LONG_S} s of 24"));
    let short = load(SHORT_S, 20);
    let (short_opened, short_analysed, short_memory) = (short.opened_ms, short.analysed_ms, short.memory);
    drop(short);
    let long = load(LONG_S, 20);
    for (what, short, long) in
        [("read", short_opened, long.opened_ms), ("analysed", short_analysed, long.analysed_ms)]
    {
        let ratio = long / short;
        let line = Line::new(format!("ten times the length, {what}"), ms(long))
            .beside(format!("ours, short: {}", ms(short)), ratio);
        table.line(line.goal("at most 11x the time", ratio <= 11.0));
    }
    let ratio = long.memory.sum() / short_memory.sum();
    let line = Line::new("ten times the length, all memories and arrays", mb(long.memory.sum()))
        .beside(format!("ours, short: {}", mb(short_memory.sum())), ratio);
    table.line(line.goal("in step: at most 11x", ratio <= 11.0));
    drop(long);

    let wide = load(LONG_S, 24);
    let columns = LONG_S * RATE_HZ * 24.0 * 4.0;
    let limit = 2.5 * columns + 32e6;
    let line = Line::new(
        "30 minutes, 24 channels: all memories and arrays, at their highest",
        mb(wide.memory.sum()),
    );
    let goal = format!("< 2.5x {} of columns + 32 MB", mb(columns));
    table.line(line.with(wide.memory.parts()).goal(goal.as_str(), wide.memory.sum() < limit));
    let rested = wide.app.memory_at_rest(wide.memory);
    let line = Line::new("  the same, when the worker has made room", mb(rested.sum()));
    table.line(line.with(rested.parts()).goal(goal.as_str(), rested.sum() < limit));
    table.line(Line::new("  read, analysed", format!("{}, {}", ms(wide.opened_ms), ms(wide.analysed_ms))));
    for (seconds, goal) in [(1500.0, 12.0), (150.0, 12.0), (10.0, 8.0)] {
        wide.app.show_seconds(seconds);
        for act in ["pan", "zoom"] {
            let times = wide.app.frames(act, FRAMES);
            table.line(
                Line::new(format!("  {act}, {seconds} s in view"), times.text())
                    .goal(format!("p95 < {goal} ms"), times.p95 < goal),
            );
        }
    }
}
