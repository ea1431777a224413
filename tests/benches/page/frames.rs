//! How long a frame takes: pan, zoom, cursor; ours, a chart library with the samples, the same with a ready envelope.

use std::time::Duration;

use serde::Deserialize;
use serde_json::json;

use super::app::{App, WINDOW};
use super::logs::LogFile;
use super::peers::Peers;
use super::table::{Line, Table, ms};

const SECONDS: f64 = 180.0;
const CHANNELS: usize = 20;
const ROW_PX: f64 = 40.0;
const FRAMES: usize = 300;
const ROUNDS: usize = 3;
const LOADING: Duration = Duration::from_secs(60);

/// Milliseconds of the frames of one round.
#[derive(Clone, Copy, Debug)]
pub struct Times {
    pub median: f64,
    pub p95: f64,
    worst: f64,
}

impl Times {
    fn of(mut times: Vec<f64>) -> Self {
        times.sort_by(f64::total_cmp);
        let at = |share: f64| times[((times.len() - 1) as f64 * share).round() as usize];
        Self { median: at(0.5), p95: at(0.95), worst: at(1.0) }
    }

    fn none() -> Self {
        Self { median: f64::INFINITY, p95: f64::INFINITY, worst: f64::INFINITY }
    }

    fn or_better(&mut self, other: Self) {
        if other.median < self.median {
            *self = other;
        }
    }

    pub fn text(&self) -> String {
        format!("{:.1} p95 {:.1} max {:.0}", self.median, self.p95, self.worst)
    }
}

/// What the plot shows.
#[derive(Debug, Deserialize)]
pub struct Facts {
    pub width: f64,
    pub rows: usize,
    #[serde(rename = "rowHeight")]
    pub row_px: f64,
    pub lines: usize,
}

impl App {
    pub fn frames(&self, act: &str, count: usize) -> Times {
        let times = self.browser.run_long("return hand.time(...arguments);", vec![json!(act), json!(count)]);
        Times::of(serde_json::from_value(times).unwrap())
    }

    /// Zooms until about so many seconds are in view, and says how many are.
    pub fn show_seconds(&self, seconds: f64) -> f64 {
        let shown = self.browser.run_long("return hand.showSeconds(...arguments);", vec![json!(seconds)]);
        let shown = shown.as_f64().unwrap();
        assert!((shown / seconds - 1.0).abs() < 0.05, "{shown} s in view, not {seconds} s");
        shown
    }

    pub fn facts(&self) -> Facts {
        serde_json::from_value(self.browser.run("return hand.facts();", Vec::new())).unwrap()
    }

    /// Loads a log, waits for all its numbers, and shows every channel in a row of its own where the app can.
    pub fn ready(log: &LogFile, patience: Duration) -> Self {
        let app = Self::fresh();
        app.load(log.path());
        app.settle(patience);
        app.every_channel_apart();
        app
    }
}

impl Peers {
    fn frames(&self, how: &str, seconds: f64, width: f64, count: usize) -> Times {
        let script = format!("return peers.{how}(...arguments);");
        Times::of(self.ask(&script, vec![json!(seconds), json!(width), json!(count)]))
    }
}

/// Best rounds of one stretch in view.
struct Measured {
    ours: [(&'static str, Times); 3],
    raw: Times,
    envelope: Times,
}

pub fn measure(table: &mut Table) {
    let log = LogFile::new(SECONDS, CHANNELS);
    let app = App::ready(&log, LOADING);
    let facts = app.facts();
    let peers = Peers::open(log.path());
    table.part(&format!(
        "Frames, ms: median, 95th percentile, longest; best of {ROUNDS} rounds of {FRAMES} in turn; {} lines in {} rows of {:.0} px, {:.0} px wide",
        facts.lines, facts.rows, facts.row_px, facts.width
    ));
    if let Some(peers) = &peers {
        peers.udsv(1);
        let made: f64 = peers.ask(
            "return peers.makeCharts(...arguments);",
            vec![json!(facts.width), json!(ROW_PX), json!(CHANNELS)],
        );
        table.line(Line::new(format!("uPlot: {CHANNELS} charts of 180,000 points made"), "").with(ms(made)));
    }
    let mut null = Times::none();
    for (seconds, p95_goal, raw_goal, envelope_goal) in
        [(150.0, 12.0, 8.0, Some(3.0)), (10.0, 8.0, 3.0, None)]
    {
        app.show_seconds(seconds);
        let measured = stretch(&app, peers.as_ref(), seconds, facts.width, &mut null, ROUNDS, FRAMES);
        for (act, times) in measured.ours {
            let what = format!("{act}, {seconds} s in view");
            if act == "cursor" || act == "key" {
                table.line(
                    Line::new(
                        format!(
                            "cursor by {}, {seconds} s in view",
                            if act == "key" { "key" } else { "click" }
                        ),
                        times.text(),
                    )
                    .goal("p95 < 6 ms", times.p95 < 6.0),
                );
                continue;
            }
            table.line(
                Line::new(&what, times.text()).goal(format!("p95 < {p95_goal} ms"), times.p95 < p95_goal),
            );
            let beside = |name: &str, peer: Times, goal: f64| {
                let ratio = peer.median / times.median;
                Line::new(format!("  {what}, beside {name}"), "")
                    .beside(peer.text(), ratio)
                    .goal(format!("median at least {goal}x as fast"), ratio >= goal)
            };
            if peers.is_none() {
                table.line(
                    Line::new(format!("  {what}, beside uPlot"), "")
                        .untried(format!("median at least {raw_goal}x as fast")),
                );
                continue;
            }
            table.line(beside("uPlot with the samples", measured.raw, raw_goal));
            match envelope_goal {
                Some(goal) => table.line(beside("uPlot with the envelope", measured.envelope, goal)),
                None => table.line(
                    Line::new(format!("  {what}, beside uPlot with the envelope"), "")
                        .beside(measured.envelope.text(), measured.envelope.median / times.median),
                ),
            }
        }
    }
    table.line(Line::new("null: an event that draws nothing", null.text()));

    app.browser.resize_at(WINDOW.0, WINDOW.1, 2.0);
    if let Some(peers) = &peers {
        peers.browser.resize_at(WINDOW.0, WINDOW.1, 2.0);
        peers.ask::<f64>(
            "return peers.makeCharts(...arguments);",
            vec![json!(facts.width), json!(ROW_PX), json!(CHANNELS)],
        );
    }
    for seconds in [150.0, 10.0] {
        app.show_seconds(seconds);
        let Measured { ours, raw, envelope } =
            stretch(&app, peers.as_ref(), seconds, facts.width, &mut null, 1, FRAMES / 3);
        for (act, times) in ours {
            table.line(Line::new(
                format!("two pixels to a CSS pixel: {act}, {seconds} s in view"),
                times.text(),
            ));
        }
        if peers.is_some() {
            table.line(Line::new("  uPlot with the samples", "").with(raw.text()));
            table.line(Line::new("  uPlot with the envelope", "").with(envelope.text()));
        }
    }
}

fn stretch(
    app: &App,
    peers: Option<&Peers>,
    seconds: f64,
    width: f64,
    null: &mut Times,
    rounds: usize,
    frames: usize,
) -> Measured {
    let mut measured = Measured {
        ours: ["pan", "zoom", "cursor"].map(|act| (act, Times::none())),
        raw: Times::none(),
        envelope: Times::none(),
    };
    for _ in 0..rounds {
        for (act, times) in &mut measured.ours {
            times.or_better(app.frames(act, frames));
        }
        null.or_better(app.frames("nothing", frames));
        if let Some(peers) = peers {
            measured.raw.or_better(peers.frames("pan", seconds, width, frames));
            measured.envelope.or_better(peers.frames("panEnvelope", seconds, width, frames));
        }
    }
    measured
}
