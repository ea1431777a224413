//! Times as people read them from a video or a log, with the resolution they were typed with.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::FrameRate;

/// A typed time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// Seconds from the start of its source.
    pub seconds: f64,
    /// The step it was typed with: a frame, a tenth, a second, s.
    pub resolution_s: f64,
}

/// Why a text is not a time.
#[derive(Clone, Debug, PartialEq)]
pub enum TimeTextError {
    /// Not one of the known forms.
    Unknown(String),
    /// A field beyond its last value, such as 75 seconds after minutes.
    Field {
        /// What the field counts.
        name: &'static str,
        /// What was typed.
        value: u64,
        /// First value that it cannot take.
        limit: u64,
    },
    /// A frame number without a frame rate.
    NoFrameRate,
    /// Drop-frame time code at a rate that has none.
    NoDropFrame(FrameRate),
    /// One of the labels that drop-frame time code leaves out.
    Dropped {
        /// What was typed.
        label: String,
        /// The first label of that minute that exists.
        first: String,
    },
}

impl fmt::Display for TimeTextError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown(text) => write!(
                f,
                "\"{text}\" is not a time: write seconds (83.4), m:ss.mmm (1:23.400), h:mm:ss, or time code \
                 (00:01:23:12)"
            ),
            Self::Field { name, value, limit } => {
                write!(f, "{value} {name}: they run from 0 to {} here", limit - 1)
            }
            Self::NoFrameRate => {
                f.write_str("the last part of a time code counts frames: give the video's frame rate first")
            }
            Self::NoDropFrame(rate) => write!(
                f,
                "time code with ; leaves out labels, which is done at 29.97 and 59.94 frames a second only, not \
                 at {rate}: write : before the frames, or correct the frame rate"
            ),
            Self::Dropped { label, first } => write!(
                f,
                "{label} does not exist: drop-frame time code starts this minute with {first}; check the \
                 number, or write : before the frames if the video counts them all"
            ),
        }
    }
}

impl std::error::Error for TimeTextError {}

/// Reads seconds (`83.4`, `83,4`), `m:ss.mmm`, `h:mm:ss.mmm`, or time code `hh:mm:ss:ff` (every label) or
/// `hh:mm:ss;ff` (drop-frame, SMPTE ST 12-1), which need the frame rate.
///
/// Non-drop time code at 29.97 counts 30 labels a label second, so its seconds are longer than real ones.
pub fn parse(text: &str, frame_rate: Option<FrameRate>) -> Result<Moment, TimeTextError> {
    let text = text.trim();
    let unknown = || TimeTextError::Unknown(text.to_owned());
    let whole = |digits: &str| {
        // Nine digits are thirty years; more is no time.
        let fine = (1..=9).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
        fine.then(|| digits.parse::<u64>().ok()).flatten().ok_or_else(unknown)
    };
    if let Some((clock, frames)) = text.split_once(';') {
        let fields: Vec<&str> = clock.split(':').collect();
        let &[h, m, s] = fields.as_slice() else { return Err(unknown()) };
        return time_code([whole(h)?, whole(m)?, whole(s)?, whole(frames)?], true, frame_rate);
    }
    let fields: Vec<&str> = text.split(':').collect();
    let (h, m, s) = match *fields.as_slice() {
        [s] => (0, None, s),
        [m, s] => (0, Some(whole(m)?), s),
        [h, m, s] => (whole(h)?, Some(below(whole(m)?, 60, "minutes")?), s),
        [h, m, s, frames] => {
            return time_code([whole(h)?, whole(m)?, whole(s)?, whole(frames)?], false, frame_rate);
        }
        _ => return Err(unknown()),
    };
    let (seconds, fraction) = s.split_once(['.', ',']).unwrap_or((s, ""));
    let seconds_typed = whole(seconds)?;
    if m.is_some() {
        below(seconds_typed, 60, "seconds")?;
    }
    let minutes = 60 * h + m.unwrap_or(0);
    // One number of the smallest step, divided once, is rounded once.
    let steps_per_s = 10_u64.pow(fraction.len().min(9) as u32);
    let fraction = if fraction.is_empty() { 0 } else { whole(fraction)? };
    let steps = (60 * minutes + seconds_typed) as f64 * steps_per_s as f64 + fraction as f64;
    Ok(Moment { seconds: steps / steps_per_s as f64, resolution_s: 1.0 / steps_per_s as f64 })
}

fn time_code(
    [h, m, s, frame]: [u64; 4],
    drop: bool,
    rate: Option<FrameRate>,
) -> Result<Moment, TimeTextError> {
    let rate = rate.ok_or(TimeTextError::NoFrameRate)?;
    let nominal = u64::from(rate.nominal());
    let (m, s) = (below(m, 60, "minutes")?, below(s, 60, "seconds")?);
    let frame = below(frame, nominal, "frames")?;
    let minutes = 60 * h + m;
    let mut count = (60 * minutes + s) * nominal + frame;
    if drop {
        let dropped = u64::from(rate.dropped_labels().ok_or(TimeTextError::NoDropFrame(rate))?);
        if s == 0 && m % 10 != 0 && frame < dropped {
            let label = |frame| format!("{h:02}:{m:02}:00;{frame:02}");
            return Err(TimeTextError::Dropped { label: label(frame), first: label(dropped) });
        }
        count -= dropped * (minutes - minutes / 10);
    }
    Ok(Moment { seconds: rate.time_s(count), resolution_s: rate.time_s(1) })
}

fn below(value: u64, limit: u64, name: &'static str) -> Result<u64, TimeTextError> {
    if value < limit { Ok(value) } else { Err(TimeTextError::Field { name, value, limit }) }
}

/// `m:ss.mmm`, with hours from one hour on, and as many decimals as the resolution needs (none to six).
pub fn format(seconds: f64, resolution_s: f64) -> String {
    if !seconds.is_finite() || seconds.abs() > 1e9 {
        return "-:--".to_owned();
    }
    // A step of exactly a tenth must not become two decimals by rounding.
    let decimals = (-resolution_s.log10() - 1e-9).ceil().clamp(0.0, 6.0) as u32;
    let steps_per_s = 10_u64.pow(decimals);
    let steps = (seconds.abs() * steps_per_s as f64).round() as u64;
    let (whole, fraction) = (steps / steps_per_s, steps % steps_per_s);
    let (h, m, s) = (whole / 3600, whole / 60 % 60, whole % 60);
    let sign = if seconds < 0.0 && steps > 0 { "-" } else { "" };
    let clock = if h > 0 { format!("{h}:{m:02}:{s:02}") } else { format!("{m}:{s:02}") };
    match decimals {
        0 => format!("{sign}{clock}"),
        _ => format!("{sign}{clock}.{fraction:0width$}", width = decimals as usize),
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&format(self.seconds, self.resolution_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (f64, f64) {
        let moment = parse(text, None).unwrap();
        (moment.seconds, moment.resolution_s)
    }

    #[test]
    fn forms_that_people_type() {
        assert_eq!(read("1:23.400"), (83.4, 0.001));
        assert_eq!(read(" 1:23.4 "), (83.4, 0.1));
        assert_eq!(read("83,4"), (83.4, 0.1));
        assert_eq!(read("83"), (83.0, 1.0));
        assert_eq!(read("2:01:05"), (7265.0, 1.0));
        assert_eq!(read("75:10"), (4510.0, 1.0));
        assert_eq!(read("0:00:12.000"), (12.0, 0.001));
        assert_eq!(read("12."), (12.0, 1.0));
    }

    #[test]
    fn what_is_no_time_says_why() {
        let rate = FrameRate::near(30.0);
        let reason = |text| parse(text, rate).unwrap_err().to_string();
        for text in
            ["", ":", "1:2:3:4:5", "-3", "1:-3", "1e3", "a", "1:23.4.5", "+5", "9999999999", "1;2", "1:2;3"]
        {
            assert!(reason(text).contains("is not a time"), "{text}: {}", reason(text));
        }
        assert!(reason("1:75").contains("75 seconds"));
        assert!(reason("1:60:00").contains("60 minutes"));
        assert!(reason("00:00:00:30").contains("0 to 29"));
        assert!(reason("00:00:00;10").contains("not at 30"));
        assert!(parse("00:00:00:10", None).unwrap_err().to_string().contains("frame rate"));
    }

    #[test]
    fn written_as_it_was_typed() {
        for text in ["1:23.400", "0:00.5", "12:00", "2:01:05.25", "1:00:00"] {
            assert_eq!(parse(text, None).unwrap().to_string(), text);
        }
        assert_eq!(format(59.9996, 0.001), "1:00.000");
        assert_eq!(format(-61.5, 0.1), "-1:01.5");
        assert_eq!(format(-0.001, 1.0), "0:00");
        assert_eq!(format(1.0, 1.0 / 30.0), "0:01.00");
        assert_eq!(format(f64::NAN, 1.0), "-:--");
        assert_eq!(format(1.0, f64::NAN), "0:01");
    }
}
