//! Video time to log time, from moments that a person found in both.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::line::Line;
use super::{Clock, Moment};

/// Drift is believed only if it is known better than this.
const USABLE_DRIFT_SD: f64 = 50e-6;
/// Clocks do not drift more than this; a larger drift is a mistake.
const LARGEST_DRIFT: f64 = 500e-6;
/// How near to a thousandth a drift must be to look like a wrong frame rate.
const NEAR_A_THOUSANDTH: f64 = 150e-6;
/// Half of a 95 % interval, in standard deviations of a normal distribution.
const HALF_95: f64 = 1.96;

/// One moment, seen in the log and in the video.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Anchor {
    /// On the log's clock.
    pub log: Moment,
    /// On the video's clock.
    pub video: Moment,
}

/// Why anchors give no mapping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AnchorError {
    /// There is none.
    None,
    /// A time is not a finite number, or a resolution is not above zero.
    Unusable {
        /// Index of the anchor.
        anchor: usize,
    },
    /// The clocks would drift apart more than clocks do.
    Mistyped {
        /// Drift of the video against the log.
        drift: f64,
        /// Its standard deviation.
        drift_sd: f64,
    },
    /// The drift looks like a video of 29.97 (59.94, ...) frames a second taken for 30 (60, ...), or the reverse.
    FrameRate {
        /// Drift of the video against the log.
        drift: f64,
        /// Its standard deviation.
        drift_sd: f64,
    },
}

impl fmt::Display for AnchorError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::None => f.write_str("no anchor yet: give one moment that is seen in both video and log"),
            Self::Unusable { anchor } => {
                write!(f, "anchor {} has a time that cannot be used: type it again", anchor + 1)
            }
            Self::Mistyped { drift, drift_sd } => write!(
                f,
                "the clocks would drift by {:.0} +- {:.0} ppm, more than clocks do: one of the anchors is \
                 probably mistyped",
                drift * 1e6,
                drift_sd * 2e6
            ),
            Self::FrameRate { drift, drift_sd } => {
                let (real, taken) = if drift > 0.0 {
                    ("29.97 (or 59.94, 119.88)", "30 (60, 120)")
                } else {
                    ("30 (or 60, 120)", "29.97 (59.94, 119.88)")
                };
                write!(
                    f,
                    "the clocks would drift by {:.0} +- {:.0} ppm, which is what a frame rate of {real} taken for \
                     {taken} does: check the video's frame rate, then the anchors",
                    drift * 1e6,
                    drift_sd * 2e6
                )
            }
        }
    }
}

impl std::error::Error for AnchorError {}

/// Video time to log time and back, with how far it can be trusted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mapping {
    /// From the video's clock to the log's.
    pub clock: Clock,
    /// Standard deviation of the drift; infinity cannot be stored and becomes `None`: nothing known.
    pub drift_sd: Option<f64>,
    /// Log time of each anchor less what the mapping makes of its video time, s.
    pub residuals_s: Vec<f64>,
    /// Log time that the anchors know best, s.
    pivot_log_s: f64,
    /// Standard deviation there, s.
    pivot_sd_s: f64,
}

/// The mapping from anchors, each weighted by the resolution it was typed with (SD = resolution / sqrt 12).
///
/// One anchor gives the offset. Two or more give offset and drift by weighted least squares, the drift only
/// if its standard deviation is under 50 ppm and it exceeds two of them, else it is 0 and the offset is the
/// weighted mean. Three or more that scatter beyond their resolutions widen the standard deviations.
///
/// # Errors
/// A drift beyond 500 ppm + 2 SD is refused as a mistyped anchor, near 1000 ppm as a wrong frame rate.
pub fn fit(anchors: &[Anchor]) -> Result<Mapping, AnchorError> {
    if anchors.is_empty() {
        return Err(AnchorError::None);
    }
    let points = points(anchors)?;
    let line = Line::through(&points);
    let (drift, drift_sd) = (line.slope, line.slope_sd);
    if drift.abs() > LARGEST_DRIFT + 2.0 * drift_sd {
        let thousandth = (drift.abs() - 1e-3).abs() <= NEAR_A_THOUSANDTH + 2.0 * drift_sd;
        return Err(if thousandth {
            AnchorError::FrameRate { drift, drift_sd }
        } else {
            AnchorError::Mistyped { drift, drift_sd }
        });
    }
    let line = line.with_believable_slope(&points, USABLE_DRIFT_SD);
    let clock = line.clock();
    Ok(Mapping {
        clock,
        drift_sd: Some(line.slope_sd).filter(|sd| sd.is_finite()),
        residuals_s: anchors.iter().map(|a| a.log.seconds - clock.day_s(a.video.seconds)).collect(),
        pivot_log_s: clock.day_s(line.pivot),
        pivot_sd_s: line.level_sd,
    })
}

/// Video time, log minus video, and its standard deviation.
fn points(anchors: &[Anchor]) -> Result<Vec<(f64, f64, f64)>, AnchorError> {
    let point = |(anchor, a): (usize, &Anchor)| {
        let sd = a.log.resolution_s.hypot(a.video.resolution_s) / 12.0_f64.sqrt();
        let usable = a.log.seconds.is_finite() && a.video.seconds.is_finite() && sd > 0.0 && sd.is_finite();
        if usable {
            Ok((a.video.seconds, a.log.seconds - a.video.seconds, sd))
        } else {
            Err(AnchorError::Unusable { anchor })
        }
    };
    anchors.iter().enumerate().map(point).collect()
}

impl Mapping {
    /// Log time of a video time, s.
    pub fn log_from_video(&self, video_s: f64) -> f64 {
        self.clock.day_s(video_s)
    }

    /// Video time of a log time, s.
    pub fn video_from_log(&self, log_s: f64) -> f64 {
        self.clock.source_s(log_s)
    }

    /// Half-width of the 95 % interval of the mapping at a log time, s.
    ///
    /// It grows away from the anchors by what is not known of the drift, 50 ppm (what crystals keep, common
    /// practice) where the anchors know less.
    pub fn interval_at(&self, log_s: f64) -> f64 {
        let drift_sd = self.drift_sd.unwrap_or(f64::INFINITY).min(USABLE_DRIFT_SD);
        HALF_95 * self.pivot_sd_s.hypot(drift_sd * (log_s - self.pivot_log_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::{FrameRate, moment};

    fn anchor(log: &str, video: &str) -> Anchor {
        let rate = FrameRate::near(30.0);
        Anchor { log: moment::parse(log, rate).unwrap(), video: moment::parse(video, rate).unwrap() }
    }

    #[test]
    fn one_anchor_gives_the_offset() {
        let mapping = fit(&[anchor("12.000", "0:41.250")]).unwrap();
        let typed = moment::parse("1:23.400", None).unwrap();
        assert!((mapping.log_from_video(typed.seconds) - 54.150).abs() < 1e-9);
        assert!((mapping.video_from_log(54.150) - 83.400).abs() < 1e-9);
        assert_eq!((mapping.clock.drift, mapping.drift_sd), (0.0, None));
        assert!(mapping.residuals_s[0].abs() < 1e-12);
        // Two millisecond steps, then 50 ppm of the 100 s away from the anchor.
        assert!((mapping.interval_at(12.0) - 1.96 * (2.0_f64 / 12.0).sqrt() * 1e-3).abs() < 1e-9);
        assert!((mapping.interval_at(112.0) - 1.96 * 5e-3).abs() < 1e-4);
    }

    #[test]
    fn a_drift_known_well_is_used() {
        // 100 ppm over 200 s is 20 ms; a millisecond at each end knows it to 3 ppm.
        let mapping = fit(&[anchor("10.000", "0:00.000"), anchor("210.020", "3:20.000")]).unwrap();
        assert!((mapping.clock.drift - 100e-6).abs() < 1e-12);
        assert!((mapping.log_from_video(100.0) - 110.010).abs() < 1e-9);
        assert!(mapping.residuals_s.iter().all(|r| r.abs() < 1e-9));
        let expected_sd = (2.0_f64 / 12.0).sqrt() * 1e-3 * 2.0_f64.sqrt() / 200.0;
        assert!((mapping.drift_sd.unwrap() / expected_sd - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_drift_known_badly_or_smaller_than_its_doubt_is_zero() {
        // Tenths over 200 s know 289 ppm.
        let mapping = fit(&[anchor("10.000", "0:00.0"), anchor("210.060", "3:20.0")]).unwrap();
        assert_eq!(mapping.clock.drift, 0.0);
        assert!((mapping.clock.offset_s - 10.030).abs() < 1e-9);
        assert!(
            (mapping.residuals_s[0] + 0.030).abs() < 1e-9 && (mapping.residuals_s[1] - 0.030).abs() < 1e-9
        );
        // 5 ppm with 2.9 ppm of doubt.
        let mapping = fit(&[anchor("10.000", "0:00.000"), anchor("210.001", "3:20.000")]).unwrap();
        assert_eq!(mapping.clock.drift, 0.0);
        // The same place twice says nothing of drift.
        let mapping = fit(&[anchor("10.000", "0:05.000"), anchor("10.002", "0:05.000")]).unwrap();
        assert_eq!((mapping.clock.drift, mapping.drift_sd), (0.0, None));
        assert!((mapping.clock.offset_s - 5.001).abs() < 1e-9);
    }

    #[test]
    fn a_finer_anchor_counts_for_more() {
        let mapping = fit(&[anchor("10.00", "0:00.00"), anchor("110.1", "1:40.0")]).unwrap();
        // Weights 100 : 1 on offsets of 10.0 and 10.1.
        assert!((mapping.clock.offset_s - (10.0 + 0.1 / 101.0)).abs() < 1e-9);
    }

    #[test]
    fn scatter_beyond_the_typed_resolution_widens_the_interval() {
        let spread = |logs: [&str; 4]| {
            let videos = ["0:00.000", "1:00.000", "2:00.000", "3:00.000"];
            let anchors: Vec<Anchor> =
                logs.iter().zip(videos).map(|(log, video)| anchor(log, video)).collect();
            fit(&anchors).unwrap()
        };
        let fine = spread(["5.000", "65.000", "125.000", "185.000"]);
        let rough = spread(["5.050", "64.950", "124.950", "185.050"]);
        assert!(rough.interval_at(95.0) > 50.0 * fine.interval_at(95.0));
    }

    #[test]
    fn impossible_drifts_are_refused() {
        // Ten seconds mistyped.
        let wrong = fit(&[anchor("10.000", "0:00.000"), anchor("200.000", "3:20.000")]).unwrap_err();
        assert!(matches!(wrong, AnchorError::Mistyped { .. }));
        assert!(wrong.to_string().contains("mistyped"));
        // 29.97 taken for 30: the video's times come out a thousandth short; and the reverse.
        let slow = fit(&[anchor("10.000", "0:00.000"), anchor("210.200", "3:20.000")]).unwrap_err();
        assert!(matches!(slow, AnchorError::FrameRate { .. }));
        assert!(slow.to_string().contains("29.97 (or 59.94, 119.88) taken for 30"), "{slow}");
        let fast = fit(&[anchor("10.000", "0:00.000"), anchor("209.800", "3:20.000")]).unwrap_err();
        assert!(fast.to_string().contains("30 (or 60, 120) taken for 29.97"), "{fast}");
        // Within the doubt of whole seconds, nothing is refused.
        assert!(fit(&[anchor("10", "0:00"), anchor("211", "3:20")]).is_ok());
        assert_eq!(fit(&[]), Err(AnchorError::None));
        let mut broken = anchor("10", "0:00");
        broken.log.seconds = f64::NAN;
        assert_eq!(fit(&[anchor("1", "1"), broken]), Err(AnchorError::Unusable { anchor: 1 }));
    }
}
