//! What page and worker say to each other: bytes (`evenkeel_wire`), with samples beside them as transferred buffers.

use evenkeel_core::decide::{ArchivedDay, Plan, RunSummary};
use evenkeel_core::handover::{Content, Extract, Manifest, Pointer, View};
use evenkeel_core::import::Layout;
use evenkeel_core::ride::Trace;
use evenkeel_core::track::{AlignmentMethod, Course, Mark, PathSource, Section, Stretch};
use evenkeel_core::{Day, Log, Measured, NotMeasured, Place, Profile, Report, RunReadout, Unit};
use serde::{Deserialize, Serialize};

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
    /// Forget a file that holds one source, and what was found in it. Answer: `()`.
    Forget { file: String },
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
    /// Analyse a run for its numbers alone. Answer: [`RunReadout`].
    ReadOut { day: Day, run: usize },
    /// Say anew what the numbers of a run mean, known by its logs, by the day's limits and bike.
    /// Answer: `Option<Vec<Finding>>`, none before its analysis.
    Findings { day: Day, logs: Vec<Log> },
    /// Sum up a run that felt right. Answer: `Option<Baseline>`, none before its analysis.
    Usual { logs: Vec<Log> },
    /// Say where an analysed run went and where the day's sections lie in it. Answer: [`Option<TrackAnswer>`], none
    /// before its analysis; buffers: s since the first point, metres east, north, and along the track.
    Track { day: Day, run: usize },
    /// Find places of the course in an analysed run. Answer: `Result<PlacesFound, NotMeasured>`.
    Places { day: Day, run: usize, places: Vec<GivenPlace> },
    /// Read the split list that comes with the call, its times taken in an analysed run. Answer: [`SectionsRead`].
    ReadSplits { day: Day, run: usize, name: String },
    /// Read a linkage table from the file that comes with the call. Answer: [`evenkeel_core::calibrate::Linkage`].
    ReadLinkage { name: String, unit: Unit },
    /// Compare two set-ups of a day, by name, with the earlier days known. Answer: [`evenkeel_core::decide::BackToBack`].
    Compare { runs: Vec<RunSummary>, setups: [String; 2], plan: Option<Plan>, sections: Vec<String> },
    /// Lay two runs over each other along the track, with such of these traces as they have. Answer:
    /// `Result<LaidOver, NotMeasured>`; buffers: running time lost and its half-width, s, when each run passes each
    /// place, s since its `start_s`, and the traces of the first and of the second run.
    LayOver { day: Day, runs: [usize; 2], traces: Vec<Trace> },
    /// Take earlier days from the archive file that comes with the call. Answer: [`Vec<EarlierDay>`], all that are
    /// known then.
    ReadArchive { name: String },
    /// Forget all earlier days. Answer: `()`.
    ForgetArchive,
    /// Write an archive of the earlier days with this one among them. Answer: `String`.
    WriteArchive { today: ArchivedDay },
    /// Write a day file of these runs of a day, without its sources in the manifest. Answer: [`Written`], the file
    /// beside it.
    WriteDay { manifest: Manifest, runs: Vec<usize> },
    /// Read the day file that comes with the call, and take its samples if they are to be kept. Answer: [`DayRead`].
    ReadDay { name: String, keep: bool },
    /// Read a day as the browser keeps it, and how its files were read. Answer: [`KeptDay`].
    ReadKept { day: String, layouts: Vec<Option<String>> },
    /// Make a link to a view. Answer: [`Made`].
    MakeView { view: View },
    /// Make a link with these traces of a run from one time to another, s, at the rate given, else at the highest at
    /// which it has no more than so many characters; what else is in it is given without its channels. Answer: [`Made`].
    MakeExtract {
        day: Day,
        run: usize,
        traces: Vec<Trace>,
        range_s: [f64; 2],
        rate_hz: Option<f64>,
        characters: usize,
        extract: Extract,
    },
    /// Make a link to a sealed file. Answer: [`Made`].
    MakePointer { pointer: Pointer },
    /// Read the part of a link behind `#`. Answer: [`LinkRead`], with the buffers of an extract's series.
    ReadLink { fragment: String },
    /// Write every number of the day's runs as a table. Answer: [`Table`], the file beside it.
    WriteNumbers { day: Day },
    /// Write the earlier days and this one for queries. Answer: [`Table`], the file beside it.
    WriteParquet { today: ArchivedDay },
    /// Write what only this worker knows beside the samples, for [`Request::TakeNotes`]. Answer: `()`, the file beside it.
    WriteNotes,
    /// Take over the notes that come with the call from a worker that ends. Answer: `()`.
    TakeNotes,
    /// Read these sources from the file that comes with the call, as soon as they are needed. Answer: `()`.
    Know { name: String, layout: Layout, parts: Vec<String> },
    /// Call off the call with this id. Not answered itself.
    Cancel { call: u32 },
}

/// What the worker posts back.
#[derive(Serialize, Deserialize)]
pub struct Reply {
    pub id: u32,
    pub news: News,
    /// Size of the worker's memory.
    pub memory_bytes: f64,
}

#[derive(Serialize, Deserialize)]
pub enum News {
    Progress(Progress),
    /// The answer is beside it, as the request says.
    Done,
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

/// A day file that was written.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct Written {
    pub contents: Vec<Content>,
}

/// A day file that was read.
#[derive(Serialize, Deserialize)]
pub struct DayRead {
    /// Everything but the samples.
    pub manifest: Manifest,
    /// Its logs, where their samples were kept.
    pub parts: Vec<SourceInfo>,
}

/// A day that was kept, and how its files were read.
#[derive(Serialize, Deserialize)]
pub struct KeptDay {
    pub manifest: Manifest,
    pub layouts: Vec<Option<Layout>>,
}

/// A link that was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Made {
    /// What stands behind `#`.
    pub fragment: String,
    pub contents: Vec<Content>,
    /// The rate of an extract, Hz.
    pub rate_hz: Option<f64>,
}

/// What a link holds.
#[derive(Serialize, Deserialize)]
pub enum LinkRead {
    View(View),
    /// Its traces on one grid, as they are drawn.
    Extract {
        extract: Extract,
        series: Series,
    },
    Pointer(Pointer),
}

/// A table that was written.
#[derive(Serialize, Deserialize)]
pub struct Table {
    /// How many runs are in it.
    pub runs: usize,
}

/// A source as the page knows it; its samples stay in the worker.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
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

/// Where a run went.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrackAnswer {
    pub source: Result<PathSource, NotMeasured>,
    /// Of the run, by its own wheel.
    pub length_m: Result<f64, NotMeasured>,
    /// How it was laid over the day's course, if the day has one; metres along the track are then the course's.
    pub method: Option<Result<AlignmentMethod, NotMeasured>>,
    /// In the day's order.
    pub sections: Vec<PlacedSection>,
    /// Time of the first point, s.
    pub start_s: f64,
}

/// A section of the day, and where it lies in a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacedSection {
    pub section: Section,
    pub stretch: Result<Stretch, NotMeasured>,
}

/// A place of the track, as a person gives it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum GivenPlace {
    Mark(Mark),
    /// A line across the track: latitude and longitude.
    Gate {
        angles_rad: [f64; 2],
        half_width_m: f64,
    },
}

#[derive(Serialize, Deserialize)]
pub struct PlacesFound {
    /// Along the course, m.
    pub places_m: Vec<f64>,
    /// The run's own course, where the day has no section yet.
    pub new_course: Option<Course>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionsRead {
    pub sections: Vec<Section>,
    /// The run's own course, where the day has no section yet.
    pub new_course: Option<Course>,
}

/// Two runs laid over each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidOver {
    /// Steps along the course of times and traces, and of the time lost, m.
    pub step_m: f64,
    pub lost_step_m: f64,
    /// On each run's clock, s: of the first place, and of the moment from which time lost is counted.
    pub start_s: [f64; 2],
    pub from_s: [f64; 2],
    pub methods: [AlignmentMethod; 2],
    /// In the day's order.
    pub sections: Vec<LaidSection>,
    pub traces: [Vec<Trace>; 2],
}

/// One section in two runs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidSection {
    pub section: Section,
    pub times_s: [Measured; 2],
    /// + where the second run is slower.
    pub lost_s: Measured,
}

/// An earlier day, in brief.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EarlierDay {
    pub name: String,
    pub date: String,
    pub runs: usize,
    pub setups: usize,
}
