//! What exactly is in a thing before it leaves, told by looking at the thing itself.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::{DayFile, Link, Remarks, RunName};
use crate::ride::Trace;
use crate::role::Role;

/// One thing that would leave, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Content {
    /// What it is.
    pub what: String,
    /// It says where on earth the ride was.
    pub tells_place: bool,
}

fn plain(what: impl Into<String>) -> Content {
    Content { what: what.into(), tells_place: false }
}

/// What something is, with its name if it has one.
fn called(what: &str, name: &str) -> String {
    if name.trim().is_empty() { what.to_owned() } else { format!("{what} “{name}”") }
}

/// A run, as a link names it.
fn run(run: &RunName) -> String {
    let log = if run.log.is_empty() { String::new() } else { format!(" (log {})", run.log) };
    called("the run", &run.name) + &log
}

fn quoted<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.map(|name| format!("“{name}”")).collect::<Vec<_>>().join(", ")
}

fn remarks_in(remarks: &Remarks) -> Option<Content> {
    let authors: BTreeSet<&str> = remarks.iter().map(|remark| remark.author.as_str()).collect();
    let by = quoted(authors.into_iter());
    let remarks = remarks.iter().len();
    (remarks > 0).then(|| plain(format!("{}, by {by}", counted(remarks, "remark"))))
}

fn counted(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

fn count(count: usize, one: &str) -> Option<Content> {
    (count > 0).then(|| plain(counted(count, one)))
}

impl DayFile {
    /// What is in this file.
    pub fn contents(&self) -> Vec<Content> {
        let day = &self.day;
        if self.manifest().has_remarks_alone() {
            let on = plain(format!("nothing of {} but its name", called("the day", &day.name)));
            return std::iter::once(on).chain(remarks_in(&self.remarks)).collect();
        }
        let mut found = vec![plain(format!(
            "{}, {} and its measures",
            called("the day", &day.name),
            called("the bike", &day.bike.name)
        ))];
        let names = quoted(day.runs.iter().map(|run| run.name.as_str()));
        let runs = counted(day.runs.len(), "run");
        found.push(plain(format!("{runs}, each with its set-up sheet and what the rider said: {names}")));
        found.push(plain("how its log files are read, and the limits that findings are judged by"));
        found.extend(
            day.course.is_some().then(|| plain("how the track bends, metre by metre, but not where it is")),
        );
        found.extend(count(day.coming.len(), "planned run"));
        found.extend(count(day.sections.len(), "section"));
        found.extend(count(day.runs.iter().map(|run| run.marks.len()).sum(), "marked moment"));
        let videos =
            day.runs.iter().flat_map(|run| run.video.clips()).filter(|clip| !clip.anchors.is_empty());
        let videos = videos.count();
        found.extend(
            (videos > 0)
                .then(|| plain(format!("times of {}, without pictures or sound", counted(videos, "video")))),
        );
        found.extend(self.sources.iter().map(|source| {
            let profile = day.profile_for(source);
            let tells_place =
                profile.channels.iter().any(|c| matches!(c.role, Role::Latitude | Role::Longitude));
            let where_to = if tells_place { ", with GPS positions" } else { "" };
            let columns = counted(source.columns.len(), "column");
            let samples = counted(source.time_s.len(), "sample");
            Content { what: format!("{}: {columns} of {samples}{where_to}", source.name), tells_place }
        }));
        found.extend(remarks_in(&self.remarks));
        found
    }
}

impl Link {
    /// What is in this link.
    pub fn contents(&self) -> Vec<Content> {
        let mut found = Vec::new();
        match self {
            Self::View(view) => {
                let day = called("the day", &view.day);
                let what = match &view.run {
                    Some(named) => format!("where to look in {} of {day}", run(named)),
                    None => format!("the name of {day}"),
                };
                found.push(plain(format!("{what}, without a sample")));
                found.extend(count(view.sections.len(), "section"));
                found.extend(count(view.anchors.len(), "moment matched between video and log"));
                found.extend(count(view.marks.len(), "marked moment"));
                found.extend(remarks_in(&view.remarks));
            }
            Self::Extract(extract) => {
                found.push(plain(format!(
                    "a piece of {} of {}",
                    run(&extract.run),
                    called("the day", &extract.day)
                )));
                if !extract.words.is_empty() {
                    found.push(plain("what the rider said of it"));
                }
                found.extend(extract.channels.iter().map(|channel| {
                    let role = Trace::Logged(Role::Latitude) == channel.trace;
                    let tells_place = role || Trace::Logged(Role::Longitude) == channel.trace;
                    let seconds = channel.samples.len() as f64 / channel.rate_hz;
                    let what =
                        format!("{}: {seconds:.1} s at {:.0} Hz", named(channel.trace), channel.rate_hz);
                    Content { what, tells_place }
                }));
                found.extend(count(extract.sections.len(), "section"));
                found.extend(count(extract.marks.len(), "marked moment"));
                found.extend(remarks_in(&extract.remarks));
            }
            Self::Pointer(pointer) => {
                found.push(plain(format!(
                    "the place of the sealed file {}, and the key that opens it",
                    pointer.file
                )));
            }
        }
        found
    }
}

fn named(trace: Trace) -> String {
    let of = |end: crate::role::End, what: &str| format!("{} {what}", end.name());
    match trace {
        Trace::Logged(role) => role.words(),
        Trace::AxleSpeed(end) => of(end, "axle speed"),
        Trace::RideHeight(end) => of(end, "ride height"),
        Trace::Slip(end) => of(end, "wheel slip"),
        Trace::Speed => "speed".to_owned(),
        Trace::ChordPitch => "pitch against the ground".to_owned(),
        Trace::Heave => "heave".to_owned(),
        Trace::Pitch => "pitch".to_owned(),
        Trace::Roll => "lean".to_owned(),
        Trace::Yaw => "heading".to_owned(),
        Trace::YawRate => "turn rate".to_owned(),
    }
}
