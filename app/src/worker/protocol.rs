//! What page and worker say to each other: JSON, with samples beside it as transferred buffers.

use evenkeel_core::import::Layout;
use evenkeel_core::ride::Trace;
use evenkeel_core::{Day, NotMeasured, Place, Profile, Report, RunReadout, Unit};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

/// A call from the page; answered once, with the same id, after any number of [`Progress`] reports.
#[derive(Serialize, Deserialize)]
pub struct Call {
    pub id: u32,
    pub request: Request,
}

#[derive(Serialize, Deserialize)]
pub enum Request {
    /// Read the file that comes with the call, by its own look or by a corrected layout.
    /// Answer: [`Opened`].
    Open { name: String, layout: Option<Layout> },
    /// Forget a source. Answer: `()`.
    Close { source: String },
    /// Draw every channel of a source small. Answer: [`Vec<Picture>`], a buffer each.
    Pictures { source: String, profile: Profile },
    /// Find how the unit at a place lies. Answer: `Result<Mount, NotMeasured>`, levelled.
    FindMount { day: Day, run: usize, place: Place },
    /// Find a source's clock against that of the run's first. Answer: `Result<ClockMatch, NotMeasured>`.
    FindClock { day: Day, run: usize, source: String },
    /// Bring the logged channels of a run onto its grid. Answer: [`Series`].
    Show { day: Day, run: usize },
    /// Analyse a run. Answer: [`Analysed`], with what was derived from the logged channels.
    Analyse { day: Day, run: usize },
    /// Read a linkage table from the file that comes with the call. Answer: [`evenkeel_core::calibrate::Linkage`].
    ReadLinkage { name: String, unit: Unit },
    /// Call off the call with this id. Not answered itself.
    Cancel { call: u32 },
}

/// What the worker posts back.
#[derive(Serialize, Deserialize)]
pub struct Reply {
    pub id: u32,
    pub news: News,
}

#[derive(Serialize, Deserialize)]
pub enum News {
    Progress(Progress),
    /// The answer, as the request says.
    Done(Box<RawValue>),
    Cancelled,
    Failed(String),
}

#[derive(Clone, Serialize, Deserialize)]
pub struct Progress {
    /// What is being done, in words.
    pub what: String,
    /// Share done, 0..1.
    pub done: f64,
}

/// What became of a file.
#[derive(Serialize, Deserialize)]
pub enum Opened {
    /// Its parts: more than one where the logger restarted.
    Read(Vec<SourceInfo>),
    /// Nothing in it says how time passes; its owner must.
    WithoutTime(Layout),
}

/// A source as the page knows it; its samples stay in the worker.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct SourceInfo {
    pub name: String,
    /// The file it came from.
    pub file: String,
    pub layout: Layout,
    pub report: Report,
    pub start_s: f64,
    pub end_s: f64,
    /// What its columns are taken for at first sight.
    pub guess: Profile,
}

impl SourceInfo {
    /// Header of each column.
    pub fn headers(&self) -> impl Iterator<Item = &str> + Clone {
        self.guess.channels.iter().map(|channel| channel.header.as_str())
    }
}

/// One channel drawn small: its buffer holds minimum and maximum of each of equal steps of time.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct Picture {
    /// Whether it is calibrated, in SI; a column that is not used or cannot be calibrated is raw.
    pub si: bool,
    /// Median of the first second.
    pub still: Option<f64>,
    /// Lowest and highest sample, if there is any.
    pub range: Option<[f64; 2]>,
}

/// Traces of a run on one grid: two buffers each, the samples and their pyramid.
#[derive(Serialize, Deserialize)]
pub struct Series {
    /// Grid start, s, rate, Hz, and number of samples.
    pub start_s: f64,
    pub rate_hz: f64,
    pub len: usize,
    pub traces: Vec<Trace>,
}

/// An analysed run.
#[derive(Serialize, Deserialize)]
pub struct Analysed {
    pub readout: RunReadout,
    pub attitude: Result<(), NotMeasured>,
    /// What was derived; the logged channels are those of [`Request::Show`].
    pub series: Series,
}
