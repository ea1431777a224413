//! Named parts of the track, and how their places are given.

use serde::{Deserialize, Serialize};

use super::RunDistance;
use crate::align::Mapping;
use crate::measured::NotMeasured;

/// A named part of the track: the same stretch of ground in every run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// What it is called.
    pub name: String,
    /// Where it begins along the reference run, m.
    pub start_m: f64,
    /// Where it ends along the reference run, m.
    pub end_m: f64,
    /// Nobody should brake here, so that any braking is told.
    #[serde(default)]
    pub no_braking: bool,
}

/// One place of the reference run, as a person gives it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Distance from the start, m.
    DistanceM(f64),
    /// Time on the run's clock, s.
    LogS(f64),
    /// Time on the video, s.
    VideoS(f64),
}

impl Mark {
    /// Its distance along the run, m.
    ///
    /// # Errors
    /// Outside of the run; a video time without a match of video and log.
    pub fn distance_m(self, run: &RunDistance, video: Option<&Mapping>) -> Result<f64, NotMeasured> {
        let at_time = |time_s: f64| {
            run.at_time_m(time_s).ok_or_else(|| NotMeasured::because("the mark lies outside of the run"))
        };
        let distance_m = match self {
            Self::DistanceM(distance_m) => distance_m,
            Self::LogS(time_s) => at_time(time_s)?,
            Self::VideoS(time_s) => at_time(
                video
                    .ok_or_else(|| {
                        NotMeasured::because(
                            "a video time needs one moment that is seen in both video and log",
                        )
                    })?
                    .log_from_video(time_s),
            )?,
        };
        if (0.0..=run.length_m()).contains(&distance_m) {
            Ok(distance_m)
        } else {
            Err(NotMeasured::because("the mark lies outside of the run"))
        }
    }
}

impl Section {
    /// A section between two marks of the reference run.
    ///
    /// # Errors
    /// Where a mark cannot be placed, or the end does not follow the start.
    pub fn between(
        name: impl Into<String>,
        [start, end]: [Mark; 2],
        run: &RunDistance,
        video: Option<&Mapping>,
    ) -> Result<Self, NotMeasured> {
        let (start_m, end_m) = (start.distance_m(run, video)?, end.distance_m(run, video)?);
        if end_m > start_m {
            Ok(Self { name: name.into(), start_m, end_m, no_braking: false })
        } else {
            Err(NotMeasured::because("the end of a section must come after its start"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::{Anchor, Grid, Moment, fit};

    /// Stands for 2 s, then 5 m/s for 20 s.
    pub fn run() -> RunDistance {
        let grid = Grid { start_s: 100.0, rate_hz: 10.0, len: 221 };
        let distance_m = (0..grid.len).map(|k| 0.5 * k.saturating_sub(20) as f64).collect();
        RunDistance { grid, distance_m, range: 20..221 }
    }

    #[test]
    fn marks_of_every_kind_give_the_same_place() {
        let moment = |seconds| Moment { seconds, resolution_s: 0.01 };
        let mapping = fit(&[Anchor { log: moment(104.0), video: moment(50.0) }]).unwrap();
        for mark in [Mark::DistanceM(30.0), Mark::LogS(108.0), Mark::VideoS(54.0)] {
            assert!((mark.distance_m(&run(), Some(&mapping)).unwrap() - 30.0).abs() < 1e-9, "{mark:?}");
        }
        let why = |mark: Mark| mark.distance_m(&run(), None).unwrap_err().0;
        assert!(why(Mark::VideoS(54.0)).contains("video"));
        assert!(why(Mark::LogS(99.0)).contains("outside"));
        assert!(
            why(Mark::DistanceM(101.0)).contains("outside")
                && why(Mark::DistanceM(f64::NAN)).contains("outside")
        );
    }

    #[test]
    fn a_section_goes_forward() {
        let section =
            Section::between("rocks", [Mark::DistanceM(10.0), Mark::LogS(110.0)], &run(), None).unwrap();
        assert_eq!((section.start_m, section.end_m), (10.0, 40.0));
        assert!(
            Section::between("back", [Mark::DistanceM(50.0), Mark::DistanceM(50.0)], &run(), None).is_err()
        );
    }
}
