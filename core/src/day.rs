//! One day's runs as their owner describes them: everything that is typed, nothing that is measured.

use serde::{Deserialize, Serialize};

use crate::align::{Anchor, Clock, FrameRate, fit};
use crate::bike::Bike;
use crate::channel::Profile;
use crate::findings::FindingSettings;
use crate::setup::{NamedPlan, SetupSheet};
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
    /// What findings are judged by.
    #[serde(default, skip_serializing_if = "FindingSettings::is_default")]
    pub findings: FindingSettings,
    /// The runs that are planned and not ridden yet, in order: the next log that begins a run takes the first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub coming: Vec<RunSheet>,
    /// How many runs there are in all before it counts, where that was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub practice_runs: Option<usize>,
}

/// One descent as its owner describes it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RunSheet {
    /// What the run is called.
    pub name: String,
    /// When it was ridden, as its owner writes it; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub time_of_day: String,
    /// What the rider said.
    #[serde(default)]
    pub words: String,
    /// How the bike was set up.
    #[serde(default)]
    pub setup: SetupSheet,
    /// The question it is to answer, if one was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plan: Option<NamedPlan>,
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
    /// The file, if one was chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<Film>,
    /// Further clips of the same run, each with its own clock: cameras split long takes. They have none
    /// themselves.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further: Vec<Self>,
}

/// A video file as it is known again: the day keeps none of its pictures.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Film {
    /// File name.
    pub name: String,
    /// Size of the file, bytes.
    pub bytes: u64,
    /// When the file was last changed, ms since 1970, UTC.
    pub changed_ms: i64,
    /// How long it plays, s, once that is known.
    #[serde(default)]
    pub length_s: Option<f64>,
}

impl Film {
    /// Whether it is this file, or a copy of it: copying may change the date, cutting anew changes the size.
    pub fn is(&self, other: &Self) -> bool {
        (&self.name, self.bytes) == (&other.name, other.bytes)
    }
}

impl Video {
    /// Every clip, the first included.
    pub fn clips(&self) -> impl Iterator<Item = &Self> {
        std::iter::once(self).chain(&self.further)
    }

    /// A clip, 0 being the first.
    pub fn clip_mut(&mut self, clip: usize) -> Option<&mut Self> {
        match clip.checked_sub(1) {
            None => Some(self),
            Some(further) => self.further.get_mut(further),
        }
    }

    /// The clip of a file: the one that it was chosen for before; else the first, if that has typed times only;
    /// else a new one.
    pub fn take(&mut self, film: Film) -> usize {
        let known = |clip: &Self| clip.file.as_ref().is_some_and(|known| known.is(&film));
        let place = self.clips().position(known);
        match place {
            Some(clip) => clip,
            None if self.file.is_none() => {
                self.file = Some(film);
                0
            }
            None => {
                // One camera keeps its rate from file to file.
                self.further.push(Self { frame_rate: self.frame_rate, file: Some(film), ..Self::default() });
                self.further.len()
            }
        }
    }

    /// Takes a clip's file away: typed times stay with the first, a further one goes.
    pub fn remove(&mut self, clip: usize) {
        match clip.checked_sub(1) {
            None => self.file = None,
            Some(further) if further < self.further.len() => drop(self.further.remove(further)),
            Some(_) => {}
        }
    }

    /// The clip that shows a log time, of those that are matched and whose length is known.
    pub fn clip_at(&self, log_s: f64) -> Option<usize> {
        self.clips().position(|clip| {
            let length_s = clip.file.as_ref().and_then(|file| file.length_s);
            let video_s = fit(&clip.anchors).map(|mapping| mapping.video_from_log(log_s));
            matches!((length_s, video_s), (Some(length), Ok(video)) if (0.0..length).contains(&video))
        })
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::Moment;

    fn film(name: &str, bytes: u64) -> Film {
        Film { name: name.to_owned(), bytes, changed_ms: 7, length_s: Some(600.0) }
    }

    fn anchor(log_s: f64, video_s: f64) -> Anchor {
        let moment = |seconds| Moment { seconds, resolution_s: 0.001 };
        Anchor { log: moment(log_s), video: moment(video_s) }
    }

    #[test]
    fn a_video_written_before_files_were_kept_still_reads() {
        let old = r#"{"frame_rate":[30000,1001],"anchors":[{"log":{"seconds":80.5,"resolution_s":0.004},"video":{"seconds":29.4,"resolution_s":0.1}}]}"#;
        let video: Video = serde_json::from_str(old).unwrap();
        assert_eq!((video.anchors.len(), video.clips().count(), &video.file), (1, 1, &None));
        // Without files it is written as it was.
        assert_eq!(serde_json::to_string(&video).unwrap(), old);
        assert_eq!(serde_json::from_str::<Video>("{}").unwrap(), Video::default());
    }

    #[test]
    fn a_day_written_before_there_was_a_sheet_still_reads() {
        let old = r#"{"name":"","bike":BIKE,"runs":[{"name":"Run 2","words":"Better.","setup":"rebound 2 clicks faster","logs":[]}]}"#;
        let old = old.replace("BIKE", &serde_json::to_string(&Bike::default()).unwrap());
        let day: Day = serde_json::from_str(&old).unwrap();
        assert_eq!(day.runs[0].setup.words, "rebound 2 clicks faster");
        assert_eq!((day.coming.len(), day.practice_runs, &day.runs[0].plan), (0, None, &None));
        assert_eq!(serde_json::from_str::<Day>(&serde_json::to_string(&day).unwrap()).unwrap(), day);
    }

    #[test]
    fn a_file_is_known_again_by_name_and_size() {
        let mut video = Video { anchors: vec![anchor(80.0, 30.0)], ..Video::default() };
        // The first file is the one whose times were typed.
        assert_eq!(video.take(film("a.mp4", 100)), 0);
        assert_eq!(video.take(film("b.mp4", 100)), 1);
        assert_eq!(video.take(film("a.mp4", 99)), 2, "cut anew, it has another clock");
        assert_eq!(video.take(Film { changed_ms: 9, length_s: None, ..film("b.mp4", 100) }), 1);
        let again: Video = serde_json::from_str(&serde_json::to_string(&video).unwrap()).unwrap();
        assert_eq!(again, video);
        video.remove(1);
        video.remove(7);
        assert_eq!(video.clips().count(), 2);
        video.remove(0);
        assert_eq!((video.file.is_none(), video.anchors.len()), (true, 1));
    }

    #[test]
    fn the_clip_of_a_moment_is_the_one_that_covers_it() {
        let mut video = Video { anchors: vec![anchor(80.0, 30.0)], ..Video::default() };
        video.take(film("a.mp4", 1));
        let second = video.take(film("b.mp4", 2));
        assert_eq!((video.clip_at(650.5), video.clip_at(49.9)), (None, None));
        video.clip_mut(second).unwrap().anchors.push(anchor(650.0, 0.0));
        assert_eq!([60.0, 649.9, 650.5].map(|log_s| video.clip_at(log_s)), [Some(0), Some(0), Some(1)]);
        assert!(video.clip_mut(2).is_none());
    }
}
