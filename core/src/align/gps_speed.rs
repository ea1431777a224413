//! A GPS receiver's clock, from its speed: the last resort, since a receiver is late by its own smoothing.

use super::{Clock, Grid, Recording};
use crate::NotMeasured;
use crate::signal::{Sos, correlate, highest_peak};

/// Both speeds are compared at this rate, Hz.
const RATE_HZ: f64 = 4.0;
/// Slower changes of speed are no event, faster ones a receiver does not follow, Hz.
const BAND_HZ: [f64; 2] = [0.02, 0.4];
/// Shortest recording that has enough braking and gaining speed to be told, s.
const SHORTEST_S: f64 = 30.0;
/// Longest recording compared, s: a receiver may run all day.
const LONGEST_S: f64 = 86_400.0;
/// Speeds that correlate less are not of one ride.
const LEAST_CORRELATION: f64 = 0.8;
/// Another place further away than this, s, ...
const ELSEWHERE_S: f64 = 5.0;
/// ... must fit worse by this, or no one can say which run of the day it is.
const CLEARER_BY: f64 = 0.1;
/// A receiver is late by its smoothing, s: up to a second for small ones (common practice).
const LATE_S: f64 = 1.0;
/// Half of what the comparison itself leaves open, s: half a step.
const STEP_S: f64 = 0.5 / RATE_HZ;

/// What two speeds say about their clocks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GpsLag {
    /// From the second clock to the reference.
    pub clock: Clock,
    /// Bounds of its offset, s, the receiver's delay between none and a second.
    pub offset_interval_s: [f64; 2],
}

/// Which of two speeds is a receiver's, and therefore late.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Late {
    /// The reference.
    pub reference: bool,
    /// The second.
    pub second: bool,
}

/// Offset of the second clock against the reference's from bike speed, the shorter recording looked for in
/// the longer one. The drift of the clocks is left out.
///
/// # Errors
/// Where a recording is too short or has no samples, or the two do not clearly fit in one place.
pub fn gps_lag(reference: Recording<'_>, second: Recording<'_>, late: Late) -> Result<GpsLag, NotMeasured> {
    let (reference_grid, reference) = evened(reference)?;
    let (second_grid, second) = evened(second)?;
    let swapped = second.len() > reference.len();
    let (piece, searched) = if swapped { (&reference, &second) } else { (&second, &reference) };
    // A run that begins before the other recording does is found too.
    let margin = piece.len() / 2;
    let mut padded = vec![0.0; searched.len() + 2 * margin];
    padded[margin..margin + searched.len()].copy_from_slice(searched);
    let fit = correlate(piece, &padded);
    let refuse = |what: String| {
        NotMeasured::because(format!(
            "the two loggers share only GPS speed, and {what}; set the clock by hand"
        ))
    };
    let peak = highest_peak(&fit).ok_or_else(|| refuse("it never changes".to_owned()))?;
    if peak.height < LEAST_CORRELATION {
        return Err(refuse(format!("the speeds fit by {:.2} at best", peak.height)));
    }
    let far = |k: usize| (k as f64 - peak.position).abs() > ELSEWHERE_S * RATE_HZ;
    let next = (0..fit.len()).filter(|&k| far(k)).map(|k| fit[k]).fold(0.0, f64::max);
    if next > peak.height - CLEARER_BY {
        return Err(refuse("the speeds fit in more than one place".to_owned()));
    }
    let shift_s = (peak.position - margin as f64) / RATE_HZ;
    let apart_s = if swapped { -shift_s } else { shift_s };
    let offset_s = reference_grid.start_s + apart_s - second_grid.start_s;
    let lateness = |late: bool| if late { LATE_S } else { 0.0 };
    Ok(GpsLag {
        clock: Clock { offset_s, drift: 0.0 },
        offset_interval_s: [
            offset_s - STEP_S - lateness(late.reference),
            offset_s + STEP_S + lateness(late.second),
        ],
    })
}

/// The speed at even steps, its slow changes only, 0 where it is missing.
fn evened(trace: Recording<'_>) -> Result<(Grid, Vec<f64>), NotMeasured> {
    let known = || trace.times_s.iter().zip(trace.values).filter(|(_, v)| v.is_finite()).map(|(t, _)| *t);
    let (Some(first_s), Some(last_s)) = (known().reduce(f64::min), known().reduce(f64::max)) else {
        return Err(NotMeasured::because("one of the two has no speed to compare clocks by"));
    };
    let duration_s = last_s - first_s;
    if !(SHORTEST_S..=LONGEST_S).contains(&duration_s) {
        return Err(NotMeasured::because(format!(
            "a recording of {duration_s:.0} s: clocks are compared by speed over {SHORTEST_S} s to a day"
        )));
    }
    let grid = Grid::covering(first_s, last_s, RATE_HZ);
    let [low, high] = BAND_HZ;
    let band = Sos::band_pass(2, low, high, RATE_HZ)
        .map_err(|_| NotMeasured::because("the speeds cannot be compared"))?;
    let even = band.zero_phase_stretches(&grid.resample(trace.times_s, trace.values, &Clock::default()));
    Ok((grid, even.into_iter().map(|v| if v.is_finite() { f64::from(v) } else { 0.0 }).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ride with irregular braking, m/s.
    fn speed(t: f64) -> f64 {
        let t = t.max(0.0);
        let ride = 8.0 + 2.5 * (0.41 * t).sin() + 1.7 * (0.23 * t + 0.01 * t * t.sqrt()).cos();
        ride * (t / 8.0).clamp(0.0, 1.0) * ((170.0 - t) / 8.0).clamp(0.0, 1.0)
    }

    fn recording(rate_hz: f64, from_s: f64, to_s: f64, shown: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f32>) {
        let count = ((to_s - from_s) * rate_hz) as u32;
        let times: Vec<f64> = (0..count).map(|k| from_s + f64::from(k) / rate_hz).collect();
        let values = times.iter().map(|&t| shown(t) as f32).collect();
        (times, values)
    }

    fn found(a: &(Vec<f64>, Vec<f32>), b: &(Vec<f64>, Vec<f32>), late: Late) -> Result<GpsLag, NotMeasured> {
        let of = |(times_s, values): &'_ (Vec<f64>, Vec<f32>)| (times_s.clone(), values.clone());
        let (a, b) = (of(a), of(b));
        gps_lag(Recording { times_s: &a.0, values: &a.1 }, Recording { times_s: &b.0, values: &b.1 }, late)
    }

    #[test]
    fn a_receiver_that_runs_all_morning_is_found_with_its_delay_in_the_interval() {
        let wheel = recording(100.0, 0.0, 180.0, speed);
        // 1 Hz; its clock shows 5000 s where the wheel's shows 0, and it is late by 0.4 s.
        let gps = recording(1.0, 0.0, 12_000.0, |t| speed(t - 5000.4));
        let late = Late { reference: false, second: true };
        let lag = found(&wheel, &gps, late).unwrap();
        assert!((lag.clock.offset_s + 5000.4).abs() < 0.15, "{lag:?}");
        let [low, high] = lag.offset_interval_s;
        assert!((low..high).contains(&-5000.0) && high - low < 1.3, "{lag:?}");
        // The other way round.
        let lag = found(&gps, &wheel, Late { reference: true, second: false }).unwrap();
        let [low, high] = lag.offset_interval_s;
        assert!((lag.clock.offset_s - 5000.4).abs() < 0.15 && (low..high).contains(&5000.0), "{lag:?}");
    }

    #[test]
    fn what_does_not_fit_or_fits_twice_is_refused() {
        let wheel = recording(50.0, 0.0, 180.0, speed);
        let late = Late { reference: false, second: true };
        let other = recording(1.0, 0.0, 180.0, |t| 6.0 + 3.0 * (0.17 * t).sin() + (1.3 * t).cos());
        assert!(found(&wheel, &other, late).unwrap_err().0.contains("at best"));
        let twice = recording(1.0, 0.0, 900.0, |t| speed(t - 100.0) + speed(t - 600.0));
        assert!(found(&wheel, &twice, late).unwrap_err().0.contains("more than one place"));
        let short = recording(1.0, 0.0, 20.0, speed);
        assert!(found(&wheel, &short, late).unwrap_err().0.contains("19 s"));
    }
}
