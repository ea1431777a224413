//! The app, watched: a browser on the site that writes down what the page does and when.

use std::path::Path;
use std::time::{Duration, Instant};

use evenkeel_tests::browser::Browser;
use serde::Deserialize;
use serde_json::json;

/// The window in which everything is measured, CSS pixels.
pub const WINDOW: (u32, u32) = (1440, 900);

const SCRIPTS: [&str; 3] = [include_str!("watch.js"), include_str!("frames.js"), include_str!("ours.js")];

const PROTOCOL: &str = include_str!("../../../app/src/worker/protocol.rs");

/// The names of an enum's variants, in their order.
fn variants(name: &str) -> Vec<&'static str> {
    let lines = PROTOCOL.lines().skip_while(|line| *line != format!("pub enum {name} {{")).skip(1);
    lines
        .take_while(|line| *line != "}")
        .filter_map(|line| line.strip_prefix("    "))
        .filter(|line| line.starts_with(|first: char| first.is_ascii_uppercase()))
        .filter_map(|line| line.split(|c: char| !c.is_alphanumeric()).next())
        .collect()
}

/// The app in a browser of its own.
pub struct App {
    pub browser: Browser,
}

/// The page says when it has rehearsed.
pub const REHEARSED: &str = "evenkeel:rehearsed";

/// What `watch.js` wrote down, ms since the page was asked for.
#[derive(Debug, Deserialize)]
pub struct Watched {
    pub calls: Vec<Call>,
    #[serde(rename = "longTasks")]
    pub long_tasks: Vec<Held>,
    pub gaps: Vec<Held>,
    pub marks: Vec<Mark>,
    /// The largest a worker's memory was, bytes.
    pub highest: f64,
    pub chosen: Option<f64>,
    pub listed: Option<f64>,
    pub interactive: Option<f64>,
}

/// A call from page to worker.
#[derive(Debug, Deserialize)]
pub struct Call {
    pub what: String,
    pub sent: f64,
    pub done: Option<f64>,
    pub outcome: Option<String>,
    #[serde(rename = "answerBytes")]
    pub answer_bytes: Option<f64>,
    #[serde(rename = "bufferBytes")]
    pub buffer_bytes: Option<f64>,
    #[serde(rename = "heldUp")]
    pub held_up: Option<f64>,
}

/// A time for which the page's thread did not answer.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct Held {
    pub at: f64,
    pub ms: f64,
}

/// A moment that the app marks.
#[derive(Debug, Deserialize)]
pub struct Mark {
    pub name: String,
    pub at: f64,
}

/// Bytes of both WebAssembly memories, which never shrink, and of the arrays the worker sent that the page still holds.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct Memory {
    pub page: f64,
    pub worker: f64,
    pub buffers: f64,
}

impl Memory {
    pub fn sum(self) -> f64 {
        self.page + self.worker + self.buffers
    }

    /// What it is made of, in MB.
    pub fn parts(self) -> String {
        let [page, worker, buffers] = [self.page, self.worker, self.buffers].map(|bytes| bytes / 1e6);
        format!("page {page:.0}, worker {worker:.0}, arrays {buffers:.0}")
    }
}

impl App {
    /// A browser that has never seen the app opens it, and it has rehearsed: sooner than anybody finds a file.
    pub fn fresh() -> Self {
        let app = Self::begun();
        let start = Instant::now();
        while !app.watched().marks.iter().any(|mark| mark.name == REHEARSED) {
            assert!(start.elapsed() < Duration::from_secs(20), "the page has not rehearsed");
            std::thread::sleep(Duration::from_millis(50));
        }
        std::thread::sleep(Duration::from_millis(300));
        app
    }

    /// A browser that has never seen the app opens it: its first button is there.
    pub fn begun() -> Self {
        let browser = Browser::on_site();
        let names = [("REQUESTS", "Request"), ("NEWS", "News")]
            .map(|(list, name)| format!("const {list} = {};", json!(variants(name))));
        let scripts = names.iter().map(String::as_str).chain(SCRIPTS);
        scripts.for_each(|script| browser.run_before_load(script));
        browser.open("", WINDOW.0, WINDOW.1, false);
        browser.wait_for("#demo");
        Self { browser }
    }

    /// Chooses a log, and opens its run in Ride as soon as it is listed.
    pub fn load(&self, log: &Path) {
        self.browser.click("#place-day");
        self.browser.upload("#files", &[log]);
    }

    /// Waits until the worker has answered everything and been idle for a while.
    pub fn settle(&self, patience: Duration) -> Watched {
        let start = Instant::now();
        loop {
            std::thread::sleep(Duration::from_millis(400));
            if self.browser.run("return watch.settled();", Vec::new()) == json!(true) {
                return self.watched();
            }
            assert!(start.elapsed() < patience, "the worker is not done: {:#?}", self.watched());
        }
    }

    pub fn watched(&self) -> Watched {
        let json = self.browser.run("return JSON.stringify(watch);", Vec::new());
        serde_json::from_str(json.as_str().unwrap()).unwrap()
    }

    /// Gives every channel a row of its own, where the app can; says how many rows there are.
    pub fn every_channel_apart(&self) -> usize {
        self.browser.wait_for("#plot");
        self.browser.run("document.querySelector('#rows-apart')?.click();", Vec::new());
        std::thread::sleep(Duration::from_millis(300));
        self.facts().rows
    }

    /// What is held once the worker is smaller than it was: it makes room when it rests and every file is kept.
    pub fn memory_at_rest(&self, highest: Memory) -> Memory {
        let start = Instant::now();
        loop {
            let now = self.memory();
            if now.worker < highest.worker || start.elapsed() > Duration::from_secs(30) {
                return now;
            }
            std::thread::sleep(Duration::from_secs(1));
        }
    }

    pub fn memory(&self) -> Memory {
        for _ in 0..2 {
            self.browser.devtools("HeapProfiler.collectGarbage", json!({}));
        }
        serde_json::from_value(self.browser.run("return watch.memory();", Vec::new())).unwrap()
    }
}

impl Watched {
    /// The worker's answers to calls of this kind, with how long each took after what went before it.
    pub fn took(&self, what: &str) -> Vec<f64> {
        let answered = |call: &&Call| call.outcome.as_deref() == Some("Done");
        let ends: Vec<f64> = self.calls.iter().filter_map(|call| call.done).collect();
        self.calls
            .iter()
            .filter(|call| call.what == what)
            .filter(answered)
            .filter_map(|call| {
                let done = call.done?;
                let before =
                    ends.iter().filter(|end| **end < done).fold(call.sent, |latest, end| latest.max(*end));
                Some(done - before)
            })
            .collect()
    }

    /// When the first answer to a call of this kind came.
    pub fn first(&self, what: &str) -> Option<f64> {
        self.calls
            .iter()
            .filter(|call| call.what == what && call.outcome.as_deref() == Some("Done"))
            .find_map(|call| call.done)
    }

    /// How long after the last file was chosen the app first said this, ms.
    pub fn since_chosen(&self, mark: &str) -> f64 {
        let chosen = self.chosen.unwrap_or(f64::INFINITY);
        let after = |said: &&Mark| said.name == mark && said.at >= chosen;
        self.marks.iter().find(after).map_or(f64::INFINITY, |said| said.at - chosen)
    }
}

/// The smallest of some times.
pub fn best(times: impl IntoIterator<Item = f64>) -> f64 {
    times.into_iter().fold(f64::INFINITY, f64::min)
}

/// The largest of some times.
pub fn worst(times: impl IntoIterator<Item = f64>) -> f64 {
    times.into_iter().fold(0.0, f64::max)
}
