//! Generic signal tools: no bike in them. Samples come as `f32` with `NaN` for missing, or as `f64`;
//! everything inside is `f64`.

mod butterworth;
mod correlation;
mod decay;
mod interval;
mod kaplan_meier;
mod percentile;
mod rainflow;
mod resample;
mod savgol;
mod sos;
mod spectrum;
mod stretches;
mod strokes;
mod theil_sen;

pub use butterworth::FilterError;
pub use correlation::{Peak, correlate, highest_peak};
pub use decay::{damping_ratio, logarithmic_decrement};
pub use interval::{median_interval, wilson};
pub use kaplan_meier::{Duration, KaplanMeier};
pub use percentile::{median, percentile, percentiles};
pub use rainflow::{Cycle, rainflow};
pub use resample::{GAP_STEPS, median_step, resample};
pub use savgol::SavitzkyGolay;
pub use sos::Sos;
pub use spectrum::{CrossSpectrum, Spectrum, Welch};
pub use stretches::{map_stretches, stretches};
pub use strokes::{Stroke, strokes};
pub use theil_sen::{theil_sen, theil_sen_interval};
