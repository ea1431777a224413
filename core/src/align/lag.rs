//! One logger's clock against another's, from what both measured.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::line::Line;
use super::{Clock, Grid};
use crate::NotMeasured;
use crate::signal::{Sos, correlate, highest_peak, median, median_step};

/// Both are compared at the slower one's rate, at most this.
const LARGEST_RATE_HZ: f64 = 200.0;
/// Slower movement (a drifting zero, gravity) says nothing about time.
const LOWEST_HZ: f64 = 0.5;
/// Share of the rate up to which straight lines between samples do little harm.
const HIGHEST_SHARE: f64 = 0.25;
/// Shortest and longest window to look for, s.
const WINDOW_S: (f64, f64) = (4.0, 10.0);
/// Most windows looked for.
const MOST_WINDOWS: usize = 24;
/// A window that is found with less correlation may be found in the wrong place.
const LEAST_CORRELATION: f64 = 0.5;
/// Windows that agree: within this of the middle one, s, and as far apart as clocks drift.
const AGREE_S: f64 = 0.1;
const AGREE_DRIFT: f64 = 500e-6;
/// Windows needed in the first and in the last third.
const LEAST_WINDOWS_AN_END: usize = 2;
/// Drift is believed only if it is known better than this.
const USABLE_DRIFT_SD: f64 = 50e-6;
/// Longest recording compared, s.
const LONGEST_S: f64 = 3600.0;

/// One channel on its own clock: rising stamps in s, samples with `NaN` for missing.
#[derive(Clone, Copy, Debug)]
pub struct Recording<'a> {
    /// Stamps, s.
    pub times_s: &'a [f64],
    /// Samples, in any unit.
    pub values: &'a [f32],
}

/// How one clock goes against another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lag {
    /// From the second clock to the reference.
    pub clock: Clock,
    /// Standard deviation of the drift, from how much the windows scatter.
    pub drift_sd: f64,
    /// The windows that agree, in order of time.
    pub windows: Vec<WindowLag>,
}

/// Where one window of the second trace was found in the reference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WindowLag {
    /// Middle of the window on the second clock, s.
    pub second_s: f64,
    /// Reference time less the second clock's time of the same moment, s.
    pub lead_s: f64,
    /// Pearson correlation of what the two measured there.
    pub correlation: f64,
}

/// Offset and drift of the second trace's clock against the reference's, from a quantity that both
/// measured (acceleration, wheel speed, travel speed; gain and level may differ, the sign may not).
///
/// Windows of the second trace are looked for in the whole reference by cross-correlation of both, brought
/// to the slower one's rate and between 0.5 Hz and a quarter of it; a line through the places of those that
/// agree gives offset and drift. The drift is 0 unless its standard deviation is under 50 ppm and it exceeds
/// two of them.
///
/// # Errors
/// Not measured where the traces are too short or too slow, or where too few windows at either end are found
/// with a correlation of 0.5 in places that agree.
pub fn lag(reference: Recording<'_>, second: Recording<'_>) -> Result<Lag, NotMeasured> {
    let rate_hz = rate_hz(reference)?.min(rate_hz(second)?).min(LARGEST_RATE_HZ);
    let band = Sos::band_pass(2, LOWEST_HZ, HIGHEST_SHARE * rate_hz, rate_hz).map_err(|_| {
        NotMeasured::because(format!(
            "samples come at {rate_hz:.1} Hz; comparing clocks needs more than {} Hz",
            LOWEST_HZ / HIGHEST_SHARE
        ))
    })?;
    let (reference_grid, reference) = evened(reference, rate_hz, &band)?;
    let (second_grid, second) = evened(second, rate_hz, &band)?;
    // What is missing has no movement to be found in.
    let searched: Vec<f64> =
        reference.iter().map(|&x| if x.is_finite() { f64::from(x) } else { 0.0 }).collect();

    let mut found = Vec::new();
    let mut weak = Vec::new();
    let windows = windows(&second, rate_hz)?;
    for window in &windows {
        let piece: Vec<f64> = second[window.clone()].iter().map(|&x| f64::from(x)).collect();
        let Some(peak) = highest_peak(&correlate(&piece, &searched)) else { continue };
        if peak.height < LEAST_CORRELATION {
            weak.push(peak.height);
            continue;
        }
        let start_s = second_grid.time_s(window.start);
        found.push(WindowLag {
            second_s: start_s + 0.5 * (window.len() - 1) as f64 / rate_hz,
            lead_s: reference_grid.start_s + peak.position / rate_hz - start_s,
            correlation: peak.height,
        });
    }
    let agreeing = agreeing(&found);
    let span = second_grid.time_s(0)..second_grid.time_s(second.len());
    let third_s = (span.end - span.start) / 3.0;
    let early = agreeing.iter().filter(|w| w.second_s < span.start + third_s).count();
    let late = agreeing.iter().filter(|w| w.second_s > span.end - third_s).count();
    if early.min(late) < LEAST_WINDOWS_AN_END {
        let correlation =
            median(&weak).map_or(String::new(), |r| format!(" (the others reach {r:.2} at best)"));
        return Err(NotMeasured::because(format!(
            "of {} windows, {} correlate by {LEAST_CORRELATION} or more{correlation} and {} of these agree, \
             {early} in the first and {late} in the last third: the two do not show the same movement clearly \
             enough to compare their clocks",
            windows.len(),
            found.len(),
            agreeing.len(),
        )));
    }
    // Nothing tells beforehand how well a window is placed, so the scatter itself does.
    let even: Vec<_> = agreeing.iter().map(|w| (w.second_s, w.lead_s, 1e-6)).collect();
    let line = Line::through(&even).with_believable_slope(&even, USABLE_DRIFT_SD);
    Ok(Lag { clock: line.clock(), drift_sd: line.slope_sd, windows: agreeing })
}

/// Rate of the samples that are there, Hz.
fn rate_hz(trace: Recording<'_>) -> Result<f64, NotMeasured> {
    let stamps = trace.times_s.iter().zip(trace.values).filter(|(_, x)| x.is_finite());
    median_step(&stamps.map(|(&t, _)| t).collect::<Vec<_>>())
        .map(f64::recip)
        .ok_or_else(|| NotMeasured::because("one of the two has no samples to compare clocks by"))
}

/// The trace at even steps and without what is too slow or too fast to tell time by.
fn evened(trace: Recording<'_>, rate_hz: f64, band: &Sos) -> Result<(Grid, Vec<f32>), NotMeasured> {
    let first_s = trace.times_s.iter().copied().fold(f64::INFINITY, f64::min);
    let last_s = trace.times_s.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let duration_s = last_s - first_s;
    if !(0.0..=LONGEST_S).contains(&duration_s) {
        return Err(NotMeasured::because(format!(
            "a recording of {duration_s:.0} s: clocks are compared over an hour at most"
        )));
    }
    let grid = Grid { start_s: first_s, rate_hz, len: (duration_s * rate_hz) as usize + 1 };
    let even = grid.resample(trace.times_s, trace.values, &Clock::default());
    Ok((grid, band.zero_phase_stretches(&even)))
}

/// Windows without missing samples, spread over the whole trace.
fn windows(samples: &[f32], rate_hz: f64) -> Result<Vec<Range<usize>>, NotMeasured> {
    let duration_s = samples.len() as f64 / rate_hz;
    // Six windows leave two in each third.
    let window_s = (duration_s / 6.0).min(WINDOW_S.1);
    if window_s < WINDOW_S.0 {
        return Err(NotMeasured::because(format!(
            "{duration_s:.0} s are too short to compare two clocks: it takes {} s",
            6.0 * WINDOW_S.0
        )));
    }
    let length = (window_s * rate_hz) as usize;
    let count = ((duration_s / window_s) as usize).min(MOST_WINDOWS);
    let spare = samples.len() - length;
    let start = |k| if count > 1 { k * spare / (count - 1) } else { 0 };
    let whole = |window: &Range<usize>| samples[window.clone()].iter().all(|x| x.is_finite());
    Ok((0..count).map(|k| start(k)..start(k) + length).filter(whole).collect())
}

/// The windows whose lead is near the middle one, as far as drift allows.
fn agreeing(found: &[WindowLag]) -> Vec<WindowLag> {
    let leads: Vec<f64> = found.iter().map(|w| w.lead_s).collect();
    let Some(middle) = median(&leads) else { return Vec::new() };
    let far = |a: &WindowLag| (a.lead_s - middle).abs();
    let Some(centre) = found.iter().min_by(|a, b| far(a).total_cmp(&far(b))) else { return Vec::new() };
    let near = |w: &&WindowLag| {
        let allowed_s = AGREE_S + AGREE_DRIFT * (w.second_s - centre.second_s).abs();
        (w.lead_s - centre.lead_s).abs() <= allowed_s
    };
    found.iter().filter(near).copied().collect()
}
