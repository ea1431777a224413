//! A piece of a run: chosen channels over a chosen time.

use serde::{Deserialize, Serialize};

use super::{damaged, samples};
use crate::day::MarkedMoment;
use crate::handover::{Refused, Remarks, RunName};
use crate::measured::NotMeasured;
use crate::ride::{Trace, Traces};
use crate::role::Role;
use crate::signal::resample;
use crate::unit::Quantity;

/// Most channels of an extract.
const MAX_CHANNELS: usize = 64;
/// Most samples of a channel: more do not fit a link.
const MAX_SAMPLES: usize = super::MAX_INFLATED as usize;
/// What is taken on both sides of the range, so that the filter of a lower rate has settled, samples at that rate.
const SETTLING: f64 = 40.0;

/// A piece of a run that can be looked at without its log.
///
/// In a link each sample is a whole number of its channel's quanta, nearest to what it was: it is off by half a
/// quantum at most, and by the last bit of an `f32`.
///
/// As JSON it has no samples: they travel beside it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Extract {
    /// Tells the day from any other.
    pub id: String,
    /// What the day is called.
    pub day: String,
    /// The run.
    pub run: RunName,
    /// What the rider said.
    pub words: String,
    /// Where the cursor was, on the day's clock, s.
    pub cursor_s: Option<f64>,
    /// Parts of the range by name.
    pub sections: Vec<Stretch>,
    /// Moments marked within it.
    pub marks: Vec<MarkedMoment>,
    /// What was said of it.
    pub remarks: Remarks,
    /// The channels.
    pub channels: Vec<ExtractChannel>,
}

/// A named stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// What it is called.
    pub name: String,
    /// Its start and end on the day's clock, s.
    pub range_s: [f64; 2],
}

/// One channel of an extract.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExtractChannel {
    /// What it is.
    pub trace: Trace,
    /// Day time of the first sample, s.
    pub start_s: f64,
    /// Samples a second, Hz.
    pub rate_hz: f64,
    /// The step to which samples are rounded in a link, SI.
    pub quantum: f64,
    /// To be added to every sample; 0 for all but latitude and longitude.
    pub origin: f64,
    /// Samples, SI, NaN where one is missing.
    #[serde(skip)]
    pub samples: Vec<f32>,
}

/// An extract without its samples, as it stands in a link.
#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Head {
    id: String,
    day: String,
    run: RunName,
    #[serde(skip_serializing_if = "String::is_empty")]
    words: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    cursor_s: Option<f64>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sections: Vec<Stretch>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    marks: Vec<MarkedMoment>,
    #[serde(skip_serializing_if = "Remarks::is_empty")]
    remarks: Remarks,
    channels: Vec<ChannelHead>,
}

#[derive(Debug, Serialize, Deserialize)]
struct ChannelHead {
    trace: Trace,
    start_s: f64,
    rate_hz: f64,
    quantum: f64,
    #[serde(default, skip_serializing_if = "is_zero")]
    origin: f64,
    count: usize,
}

fn is_zero(number: &f64) -> bool {
    *number == 0.0
}

/// The step to which a trace is rounded in a link, SI: below what its sensor tells apart or a picture shows (common
/// practice: 0.1 mm of travel, 0.01 bar, 0.01 m/s, a twentieth of a degree, half a degree per second, 0.005 g).
pub fn quantum(trace: Trace) -> f64 {
    match trace {
        Trace::Slip(_) => 0.005,
        Trace::AxleSpeed(_) | Trace::Speed => 0.01,
        Trace::RideHeight(_) | Trace::Heave => 1e-4,
        Trace::ChordPitch | Trace::Pitch | Trace::Roll | Trace::Yaw => 1e-3,
        Trace::YawRate => 0.01,
        // A centimetre and a half on the ground.
        Trace::Logged(Role::Latitude | Role::Longitude) => 2.5e-9,
        Trace::Logged(Role::Height) => 0.1,
        Trace::Logged(role) => match role.quantity() {
            Quantity::Length => 1e-4,
            Quantity::Pressure => 1000.0,
            Quantity::Speed => 0.01,
            Quantity::Acceleration => 0.05,
            Quantity::AngularRate => 0.01,
            Quantity::Angle => 1e-3,
            Quantity::MagneticField => 1e-7,
            Quantity::Temperature => 0.1,
            Quantity::Time | Quantity::Count | Quantity::Other => 1e-3,
        },
    }
}

impl ExtractChannel {
    /// A trace of a run from one day time to another, s, at `rate_hz` where it has more: it is low-passed as on the way to any
    /// slower grid ([`resample`]).
    ///
    /// # Errors
    /// The run has no such trace, or not there; a rate that is none.
    pub fn of(traces: &Traces, trace: Trace, range_s: [f64; 2], rate_hz: f64) -> Result<Self, NotMeasured> {
        let samples = traces.get(trace).ok_or_else(|| NotMeasured::because("this run has no such trace"))?;
        if !(rate_hz > 0.0 && rate_hz.is_finite()) {
            return Err(NotMeasured::because("the rate asked for is no number of samples a second"));
        }
        let grid = traces.grid();
        if !(range_s[0] <= grid.time_s(grid.len) && range_s[1] >= grid.start_s) {
            return Err(NotMeasured::because("the run does not reach there"));
        }
        let index = |time_s: f64| ((time_s - grid.start_s) * grid.rate_hz).clamp(0.0, grid.len as f64);
        let [from, to] = [index(range_s[0]).ceil() as usize, (index(range_s[1]) + 1.0).floor() as usize];
        let inside = samples.get(from..to.min(grid.len)).filter(|inside| !inside.is_empty());
        let inside = inside.ok_or_else(|| NotMeasured::because("the run does not reach there"))?;
        let origin = match trace {
            Trace::Logged(role) => traces.logged().get(role).map_or(0.0, |channel| channel.origin),
            _ => 0.0,
        };
        let channel = Self {
            trace,
            start_s: grid.time_s(from),
            rate_hz: rate_hz.min(grid.rate_hz),
            quantum: quantum(trace),
            origin,
            samples: inside.to_vec(),
        };
        if rate_hz >= grid.rate_hz {
            return Ok(channel);
        }
        let margin = (SETTLING * grid.rate_hz / rate_hz).ceil().min(grid.len as f64) as usize;
        let wide = from.saturating_sub(margin)..(from + inside.len() + margin).min(grid.len);
        let times_s: Vec<f64> = wide.clone().map(|k| grid.time_s(k)).collect();
        let len = ((inside.len() - 1) as f64 / grid.rate_hz * rate_hz + 1e-6) as usize + 1;
        let values = samples.get(wide).unwrap_or_default();
        Ok(Self { samples: resample(&times_s, values, channel.start_s, rate_hz, len), ..channel })
    }

    /// The step that its samples need: its own, or a coarser one where they are beyond all measure.
    fn needed_quantum(&self) -> f64 {
        let largest = self
            .samples
            .iter()
            .filter(|s| s.is_finite())
            .fold(0.0_f64, |most, &s| most.max(f64::from(s).abs()));
        let smallest = largest / samples::MOST_STEPS;
        // Not above 0, or no number: any would do, since a stated step must be one.
        let own =
            if self.quantum > 0.0 && self.quantum.is_finite() { self.quantum } else { quantum(self.trace) };
        own.max(smallest)
    }
}

impl Extract {
    /// The head with the quanta used, and the samples of all channels, one after another.
    pub(super) fn quantised(&self) -> (Head, Vec<u8>) {
        let mut bytes = Vec::new();
        let channels = self.channels.iter().map(|channel| {
            let quantum = channel.needed_quantum();
            samples::write(&channel.samples, quantum, &mut bytes);
            let &ExtractChannel { trace, start_s, rate_hz, origin, .. } = channel;
            ChannelHead { trace, start_s, rate_hz, quantum, origin, count: channel.samples.len() }
        });
        let head = Head {
            channels: channels.collect(),
            id: self.id.clone(),
            day: self.day.clone(),
            run: self.run.clone(),
            words: self.words.clone(),
            cursor_s: self.cursor_s,
            sections: self.sections.clone(),
            marks: self.marks.clone(),
            remarks: self.remarks.clone(),
        };
        (head, bytes)
    }

    pub(super) fn read(head: Head, mut bytes: &[u8]) -> Result<Self, Refused> {
        let Head { id, day, run, words, cursor_s, sections, marks, remarks, channels } = head;
        if channels.len() > MAX_CHANNELS {
            return Err(damaged("it has more channels than any link"));
        }
        let mut channel = |head: ChannelHead| {
            let ChannelHead { trace, start_s, rate_hz, quantum, origin, count } = head;
            let positive = |number: f64| number > 0.0 && number.is_finite();
            if !(positive(rate_hz) && positive(quantum) && count <= MAX_SAMPLES) {
                return Err(damaged("a channel in it has no rate or step"));
            }
            let samples = samples::read(count, quantum, &mut bytes);
            let samples = samples.ok_or_else(|| damaged("samples in it are missing"))?;
            Ok(ExtractChannel { trace, start_s, rate_hz, quantum, origin, samples })
        };
        let channels = channels.into_iter().map(&mut channel).collect::<Result<_, _>>()?;
        Ok(Self { id, day, run, words, cursor_s, sections, marks, remarks, channels })
    }
}
