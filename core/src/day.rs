//! One day's runs as their owner describes them: everything that is typed, nothing that is measured.

use serde::{Deserialize, Serialize};

use crate::align::{Anchor, Clock, FrameRate};
use crate::bike::Bike;
use crate::channel::Profile;
use crate::source::Source;
use crate::track::{Course, Passage, Section};

/// The runs of one day, the bike, and how its loggers' files are read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Day {
    /// What the day is called.
    pub name: String,
    /// The bike.
    pub bike: Bike,
    /// How each kind of file is read, found by its headers.
    #[serde(default)]
    pub profiles: Vec<Profile>,
    /// The runs, in order.
    pub runs: Vec<RunSheet>,
    /// The named parts of the track, by distance along the course.
    #[serde(default)]
    pub sections: Vec<Section>,
    /// How the run bends in which the sections were made: the others are laid over it.
    #[serde(default)]
    pub course: Option<Course>,
}

/// One descent as its owner describes it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RunSheet {
    /// What the run is called.
    pub name: String,
    /// What the rider said.
    #[serde(default)]
    pub words: String,
    /// What was changed on the bike before it.
    #[serde(default)]
    pub setup: String,
    /// The files that belong to it.
    pub logs: Vec<Log>,
    /// The helmet video.
    #[serde(default)]
    pub video: Video,
    /// Places of the course that were found by hand in this run.
    #[serde(default)]
    pub passages: Vec<Passage>,
    /// Moments marked while looking, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarkedMoment>,
}

/// A moment of a run that its reader wants to find again.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MarkedMoment {
    /// On the day's clock, s.
    pub time_s: f64,
    /// What is there; may be empty.
    pub name: String,
}

/// One logger's file in a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Log {
    /// Name of the file, with the part where the logger restarted.
    pub file: String,
    /// From the logger's clock to the day's.
    #[serde(default)]
    pub clock: Clock,
}

/// The helmet video of a run: no file is needed, its times are typed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Video {
    /// What turns frames of a time code into seconds.
    #[serde(default)]
    pub frame_rate: Option<FrameRate>,
    /// Moments seen both on the video and in the log; log times are on the day's clock.
    #[serde(default)]
    pub anchors: Vec<Anchor>,
}

impl Day {
    /// How a source is read: by the profile kept for its headers, else as they suggest.
    pub fn profile_for(&self, source: &Source) -> Profile {
        self.kept_profile(source.headers().collect::<Vec<_>>())
            .cloned()
            .unwrap_or_else(|| Profile::guess(source))
    }

    /// The profile kept for files with these headers, if there is one.
    pub fn kept_profile<'a>(&self, headers: impl IntoIterator<Item = &'a str> + Clone) -> Option<&Profile> {
        self.profiles.iter().find(|profile| profile.fits(headers.clone()))
    }

    /// Keeps a profile, in place of the one for the same headers.
    pub fn keep_profile(&mut self, profile: Profile) {
        let headers = || profile.channels.iter().map(|channel| channel.header.as_str());
        match self.profiles.iter_mut().find(|known| known.fits(headers())) {
            Some(known) => *known = profile,
            None => self.profiles.push(profile),
        }
    }
}
