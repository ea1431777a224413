//! Frame rates of cameras, and the labels that time code gives to frames (SMPTE ST 12-1).

use std::fmt;

use serde::{Deserialize, Serialize};

/// Frames a second, as an exact ratio: 29.97 is 30000/1001.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "(u32, u32)", try_from = "(u32, u32)")]
pub struct FrameRate {
    frames: u32,
    seconds: u32,
}

impl FrameRate {
    /// The rates that cameras offer, slowest first.
    pub const ALL: [Self; 14] = [
        Self::thousandth_less(24),
        Self::whole(24),
        Self::whole(25),
        Self::thousandth_less(30),
        Self::whole(30),
        Self::whole(48),
        Self::whole(50),
        Self::thousandth_less(60),
        Self::whole(60),
        Self::whole(100),
        Self::thousandth_less(120),
        Self::whole(120),
        Self::thousandth_less(240),
        Self::whole(240),
    ];

    const fn whole(frames: u32) -> Self {
        Self { frames, seconds: 1 }
    }

    const fn thousandth_less(nominal: u32) -> Self {
        Self { frames: nominal * 1000, seconds: 1001 }
    }

    /// The camera rate that a rounded number means (29.97, 59.94, 23.98, 60, ...); `None` if it is none.
    pub fn near(rate_hz: f64) -> Option<Self> {
        let off = |rate: &Self| (rate.hz() / rate_hz - 1.0).abs();
        let nearest = Self::ALL.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        // 23.98 for 23.976 is the coarsest rounding in use; 24 and 24000/1001 are 1000 ppm apart.
        (off(&nearest) < 300e-6).then_some(nearest)
    }

    /// Frames a second.
    pub fn hz(self) -> f64 {
        f64::from(self.frames) / f64::from(self.seconds)
    }

    /// Time of a frame counted from 0, s.
    pub fn time_s(self, frame: u64) -> f64 {
        frame as f64 * f64::from(self.seconds) / f64::from(self.frames)
    }

    /// Labels in a label second: 30 at 29.97.
    pub fn nominal(self) -> u32 {
        self.frames.div_ceil(self.seconds)
    }

    /// Labels left out at the start of each minute but every tenth, in drop-frame time code: 2 at 29.97, 4
    /// at 59.94, `None` at rates that have no drop-frame form.
    pub fn dropped_labels(self) -> Option<u32> {
        match (self.frames, self.seconds) {
            (30_000, 1001) => Some(2),
            (60_000, 1001) => Some(4),
            _ => None,
        }
    }

    /// Non-drop label `hh:mm:ss:ff` of a frame counted from 0. Hours run on past 24.
    pub fn label(self, frame: u64) -> String {
        self.digits(frame, ':')
    }

    /// Drop-frame label `hh:mm:ss;ff` of a frame counted from 0; `None` at rates that have none.
    pub fn drop_frame_label(self, frame: u64) -> Option<String> {
        let dropped = u64::from(self.dropped_labels()?);
        let minute = 60 * u64::from(self.nominal()) - dropped;
        let ten_minutes = 10 * minute + dropped;
        let (tens, rest) = (frame / ten_minutes, frame % ten_minutes);
        // The first of ten minutes is `dropped` frames longer than the other nine.
        let minutes = rest.saturating_sub(dropped) / minute;
        Some(self.digits(frame + dropped * (9 * tens + minutes), ';'))
    }

    fn digits(self, label: u64, last_separator: char) -> String {
        let nominal = u64::from(self.nominal());
        let (seconds, frames) = (label / nominal, label % nominal);
        let (h, m, s) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        // Above 100 frames a second the frame takes three digits.
        let width = if nominal > 100 { 3 } else { 2 };
        format!("{h:02}:{m:02}:{s:02}{last_separator}{frames:0width$}")
    }
}

impl fmt::Display for FrameRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.seconds == 1 {
            write!(f, "{}", self.frames)
        } else {
            let text = format!("{:.3}", self.hz());
            f.write_str(text.trim_end_matches('0'))
        }
    }
}

impl From<FrameRate> for (u32, u32) {
    fn from(rate: FrameRate) -> Self {
        (rate.frames, rate.seconds)
    }
}

impl TryFrom<(u32, u32)> for FrameRate {
    type Error = String;

    fn try_from((frames, seconds): (u32, u32)) -> Result<Self, String> {
        let rate = Self::ALL.into_iter().find(|rate| (rate.frames, rate.seconds) == (frames, seconds));
        rate.ok_or_else(|| format!("{frames}/{seconds} is not a camera's frame rate"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_numbers_mean_exact_rates() {
        let shown = |hz| FrameRate::near(hz).map(|rate| rate.to_string());
        for (hz, text) in [
            (23.976, "23.976"),
            (23.98, "23.976"),
            (24.0, "24"),
            (29.97, "29.97"),
            (30.0, "30"),
            (59.94, "59.94"),
            (119.88, "119.88"),
            (240.0, "240"),
        ] {
            assert_eq!(shown(hz).as_deref(), Some(text));
        }
        assert_eq!([29.985, 0.0, -30.0, f64::NAN, f64::INFINITY].map(shown), [const { None }; 5]);
        assert_eq!(FrameRate::near(29.97).map(|rate| rate.time_s(30_000)), Some(1001.0));
    }

    #[test]
    fn stored_as_a_ratio() {
        let rate = FrameRate::near(59.94).unwrap();
        let json = serde_json::to_string(&rate).unwrap();
        assert_eq!(json, "[60000,1001]");
        assert_eq!(serde_json::from_str::<FrameRate>(&json).unwrap(), rate);
        assert!(serde_json::from_str::<FrameRate>("[30,0]").is_err());
    }
}
