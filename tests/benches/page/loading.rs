//! From a file to columns, to a picture, to numbers; and how long the page is held up meanwhile.

use std::time::Duration;

use super::app::{App, Watched, best, worst};
use super::logs::LogFile;
use super::peers::Peers;
use super::table::{Line, Table, mb, ms};

const SECONDS: f64 = 180.0;
const CHANNELS: usize = 20;
const ROUNDS: usize = 3;
const PATIENCE: Duration = Duration::from_secs(60);

pub fn measure(table: &mut Table) {
    let log = LogFile::new(SECONDS, CHANNELS);
    table.part(&format!("A log of {SECONDS} s, {CHANNELS} channels at 1 kHz, {}", mb(log.bytes as f64)));

    let mut rounds = Vec::new();
    let (mut udsv, mut papa) = (Vec::new(), Vec::new());
    let mut udsv_cold = f64::INFINITY;
    let peers = Peers::open(log.path());
    let mut memory = None;
    for _ in 0..ROUNDS {
        let app = App::fresh();
        app.load(log.path());
        rounds.push(app.settle(PATIENCE));
        memory = Some(app.memory());
        drop(app);
        if let Some(peers) = &peers {
            let measured = peers.udsv(3);
            assert_eq!((measured.rows, measured.columns), (180_000, CHANNELS + 1));
            udsv_cold = udsv_cold.min(measured.cold);
            udsv.extend(measured.warm);
            papa.extend(peers.papa(1));
        }
    }
    let (udsv, papa) = (best(udsv), best(papa));
    drop(peers);

    let since = |round: &Watched, end: Option<f64>| {
        end.zip(round.chosen).map_or(f64::INFINITY, |(end, from)| end - from)
    };
    let opened = best(rounds.iter().map(|round| since(round, round.first("Open"))));
    table.line(against(
        Line::new("text to typed columns, the first file, with reading", ms(opened)),
        ("uDSV warm, text in hand", udsv),
        opened,
        "at least 2.0x as fast",
        |ratio| ratio >= 2.0,
    ));
    table.line(against(
        Line::new("same", ms(opened)),
        ("PapaParse, text in hand", papa),
        opened,
        "at least 10x as fast",
        |ratio| ratio >= 10.0,
    ));
    table.line(Line::new("uDSV cold, with reading", "").with(ms(udsv_cold)));
    let listed = best(rounds.iter().map(|round| since(round, round.listed)));
    table.line(Line::new("file chosen until the run is listed", ms(listed)));
    let drawn = best(rounds.iter().map(|round| round.since_chosen("evenkeel:drawn")));
    table.line(drawn_line("file chosen until its rows are drawn, the first file", drawn, udsv));
    let at_once = App::begun();
    at_once.load(log.path());
    let round = at_once.settle(PATIENCE);
    let [opened, drawn] = [since(&round, round.first("Open")), round.since_chosen("evenkeel:drawn")];
    let before = "chosen as soon as the page is there, before it has rehearsed: until read, until drawn";
    table.line(Line::new(before, format!("{}, {}", ms(opened), ms(drawn))));
    drop(at_once);
    let (rows, drawn) = drawn_again(&log);
    table.line(drawn_line(&format!("file chosen until its {rows} rows are drawn"), drawn, udsv));
    let analysed = best(rounds.iter().flat_map(|round| round.took("Analyse")));
    table.line(Line::new("whole read-out in the worker", ms(analysed)).goal("< 1500 ms", analysed < 1500.0));
    let numbers = best(
        rounds
            .iter()
            .map(|round| since(round, round.calls.iter().filter_map(|call| call.done).reduce(f64::max))),
    );
    table.line(Line::new("file chosen until everything is answered", ms(numbers)));

    let app = App::fresh();
    app.browser.run("watch.ping();", Vec::new());
    app.load(log.path());
    let round = app.settle(PATIENCE);
    let from = round.chosen.unwrap_or_default();
    let held = |held: &[super::app::Held]| {
        worst(held.iter().filter(|held| held.at >= from - 100.0).map(|held| held.ms))
    };
    let (gap, task) = (held(&round.gaps), held(&round.long_tasks));
    table.line(Line::new("page held up at most, by ping", ms(gap)).goal("<= 50 ms", gap <= 50.0));
    table.line(Line::new("page held up at most, longest task", ms(task)).goal("<= 50 ms", task <= 50.0));
    print_story(&round);

    if let Some(memory) = memory {
        let line = Line::new("all memories and arrays", mb(memory.sum())).with(memory.parts());
        table.line(line.goal("< 80 MB", memory.sum() < 80e6));
    }
}

/// A log drawn in the rows that were chosen for the one before it: how many, and the time from choosing the file.
fn drawn_again(log: &LogFile) -> (usize, f64) {
    let app = App::fresh();
    let before = LogFile::new(5.0, CHANNELS);
    app.load(before.path());
    app.settle(PATIENCE);
    let rows = app.every_channel_apart();
    app.load(log.path());
    (rows, app.settle(PATIENCE).since_chosen("evenkeel:drawn"))
}

fn drawn_line(what: &str, drawn_ms: f64, udsv_ms: f64) -> Line {
    let line = Line::new(what, ms(drawn_ms));
    if !udsv_ms.is_finite() {
        return line.untried("at most 0.8x uDSV's time");
    }
    let ratio = drawn_ms / udsv_ms;
    line.beside(format!("uDSV warm {}", ms(udsv_ms)), ratio).goal("at most 0.8x the time", ratio <= 0.8)
}

/// Faster than a peer by a factor.
fn against(line: Line, (peer, peer_ms): (&str, f64), ours_ms: f64, goal: &str, met: fn(f64) -> bool) -> Line {
    if !peer_ms.is_finite() {
        return line.untried(goal);
    }
    let ratio = peer_ms / ours_ms;
    line.beside(format!("{peer} {}", ms(peer_ms)), ratio).goal(goal, met(ratio))
}

/// What happened when, ms after the file was chosen: for finding what takes long.
fn print_story(round: &Watched) {
    let from = round.chosen.unwrap_or_default();
    for call in &round.calls {
        println!(
            "    {:>6.0} {:<14} answered after {:>6.0} ms {}; {:>7.0} kB answer, {:>6.0} kB samples, then held up {:.0} ms",
            call.sent - from,
            call.what,
            call.done.unwrap_or(f64::NAN) - call.sent,
            call.outcome.as_deref().unwrap_or("not"),
            call.answer_bytes.unwrap_or_default() / 1e3,
            call.buffer_bytes.unwrap_or_default() / 1e3,
            call.held_up.unwrap_or_default(),
        );
    }
    for held in round.long_tasks.iter().filter(|held| held.at >= from - 100.0) {
        println!("    {:>6.0} a task of {:.0} ms on the page's thread", held.at - from, held.ms);
    }
    for mark in round.marks.iter().filter(|mark| mark.at >= from) {
        println!("    {:>6.0} {}", mark.at - from, mark.name);
    }
}
