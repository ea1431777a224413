//! A run as the page draws it: its samples, and what the analysis says of them once it is done.

use std::collections::HashMap;
use std::sync::Arc;

use evenkeel_core::ride::Trace;
use evenkeel_core::{Log, NotMeasured, RunReadout};
use evenkeel_plot::Pyramid;

use crate::worker::{Analysed, Series};

/// The samples of one trace, and the extremes of their blocks.
pub struct Samples {
    values: Vec<f32>,
    pyramid: Pyramid,
}

impl Samples {
    pub fn new(values: Vec<f32>) -> Self {
        let pyramid = Pyramid::new(&values);
        Self { values, pyramid }
    }

    pub fn values(&self) -> &[f32] {
        &self.values
    }

    pub fn pyramid(&self) -> &Pyramid {
        &self.pyramid
    }
}

/// A run in view. Its logged channels are there before it is analysed.
#[derive(Clone)]
pub struct RideView {
    /// Which showing of a run this is: another one for every time its channels were sent anew.
    pub showing: u32,
    /// Whether the analysis is done; until then the read-out is empty.
    pub analysed: bool,
    /// The files of its analysis, with the clocks they had then.
    pub logs: Vec<Log>,
    pub readout: Arc<RunReadout>,
    pub attitude: Result<(), NotMeasured>,
    pub start_s: f64,
    pub rate_hz: f64,
    pub len: usize,
    traces: HashMap<Trace, Arc<Samples>>,
}

/// What is shown is replaced as a whole: two are the same if they are one.
impl PartialEq for RideView {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

impl RideView {
    /// A run with its logged channels alone. What an earlier analysis of the same run on the same grid said is
    /// kept until the new one is there.
    pub fn shown(
        showing: u32,
        name: String,
        series: Series,
        buffers: Vec<Vec<f32>>,
        before: Option<&Self>,
    ) -> Self {
        let same = |before: &&Self| {
            before.readout.name == name
                && (before.start_s, before.rate_hz, before.len)
                    == (series.start_s, series.rate_hz, series.len)
        };
        let mut ride = before.filter(same).cloned().unwrap_or_else(|| {
            let not_yet = NotMeasured::because("the run is still being analysed");
            Self {
                showing,
                analysed: false,
                logs: Vec::new(),
                readout: Arc::new(RunReadout {
                    name,
                    sources: Vec::new(),
                    channels: Vec::new(),
                    sections: Vec::new(),
                    track: None,
                    findings: Vec::new(),
                }),
                attitude: Err(not_yet),
                start_s: series.start_s,
                rate_hz: series.rate_hz,
                len: series.len,
                traces: HashMap::new(),
            }
        });
        ride.showing = showing;
        ride.traces.retain(|trace, _| !matches!(trace, Trace::Logged(_)));
        ride.add(&series.traces, buffers);
        ride
    }

    /// A piece of a run without its log: there is nothing more to come.
    pub fn without_log(self) -> Self {
        let lies = self.get(Trace::Pitch).is_some() || self.get(Trace::Roll).is_some();
        let no_attitude = || NotMeasured::because("no attitude came with this piece of the run");
        Self { analysed: true, attitude: lies.then_some(()).ok_or_else(no_attitude), ..self }
    }

    /// The same run, analysed.
    pub fn analysed(&self, analysed: Analysed, buffers: Vec<Vec<f32>>, logs: Vec<Log>) -> Self {
        let mut ride = Self {
            analysed: true,
            logs,
            readout: Arc::new(analysed.readout),
            attitude: analysed.attitude,
            ..self.clone()
        };
        ride.traces.retain(|trace, _| matches!(trace, Trace::Logged(_)));
        ride.add(&analysed.series.traces, buffers);
        ride
    }

    /// Takes the samples and the pyramid of each trace, in turn.
    fn add(&mut self, traces: &[Trace], buffers: Vec<Vec<f32>>) {
        let mut buffers = buffers.into_iter();
        for (&trace, (values, blocks)) in
            traces.iter().zip(std::iter::from_fn(|| buffers.next().zip(buffers.next())))
        {
            let pyramid = Pyramid::of_blocks(blocks, values.len()).unwrap_or_else(|| Pyramid::new(&values));
            self.traces.insert(trace, Arc::new(Samples { values, pyramid }));
        }
    }

    /// Time of the last sample, s.
    pub fn end_s(&self) -> f64 {
        self.start_s + self.len.saturating_sub(1) as f64 / self.rate_hz
    }

    /// The samples of a trace with their pyramid, if the run has it.
    pub fn samples(&self, trace: Trace) -> Option<&Samples> {
        self.traces.get(&trace).map(AsRef::as_ref)
    }

    pub fn get(&self, trace: Trace) -> Option<&[f32]> {
        self.samples(trace).map(Samples::values)
    }

    /// A few numbers of a trace among which are its lowest and its highest sample.
    pub fn extremes(&self, trace: Trace) -> Option<&[f32]> {
        self.samples(trace).map(|samples| samples.pyramid().topmost())
    }

    /// The sample nearest to a time, if it is there.
    pub fn at(&self, trace: Trace, t_s: f64) -> Option<f64> {
        let index = ((t_s - self.start_s) * self.rate_hz).round();
        let sample = *self.get(trace)?.get(if index < 0.0 { return None } else { index as usize })?;
        (!sample.is_nan()).then_some(f64::from(sample))
    }
}
