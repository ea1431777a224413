//! What one end's travel did over a stretch: ride height, share used, bottom-outs, top-outs.

use serde::{Deserialize, Serialize};

use super::contact::EXTENDED_M;
use crate::measured::{Measured, NotMeasured};
use crate::signal::{percentiles, theil_sen};

/// Reaching this share of full travel is a bottom-out.
const BOTTOM_OUT_SHARE: f32 = 0.97;
/// A bottom-out ends below this share, so that one knock is not counted twice.
const BOTTOM_OUT_OVER_SHARE: f32 = 0.94;
/// The speed of a bottom-out is read this long before it, s.
const BEFORE_BOTTOM_S: f64 = 0.02;
/// Extending faster than this when reaching full extension is a top-out, m/s.
const TOP_OUT_MPS: f32 = 0.2;
/// Peaks of speed need a channel logged at least this fast, Hz.
pub const PEAK_SPEED_RATE_HZ: f64 = 200.0;

/// Travel of one end over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TravelReadout {
    /// Dynamic ride height: median travel while rolling on the ground, m.
    pub ride_height_m: Measured,
    /// The same as a share of full travel.
    pub ride_height_share: Measured,
    /// Robust slope (Theil-Sen) of the 0.5 Hz ride height, m per minute, + sinking.
    pub ride_height_slope_m_per_min: Measured,
    /// 5th percentile while rolling on the ground, m.
    pub travel_p5_m: Measured,
    /// 95th percentile while rolling on the ground, m.
    pub travel_p95_m: Measured,
    /// Deepest travel of the section, m.
    pub travel_max_m: Measured,
    /// The same as a share of full travel.
    pub travel_max_share: Measured,
    /// Share of the rolling time in each tenth of full travel, shallowest first.
    pub time_in_tenths: Measured<Vec<f64>>,
    /// Share of the rolling time in each fortieth of full travel, shallowest first.
    pub travel_histogram: Measured<Vec<f64>>,
    /// How often 97 % of full travel was reached.
    pub bottom_outs: Measured<usize>,
    /// Axle speed 20 ms before each bottom-out, m/s.
    pub bottom_out_speeds_mps: Measured<Vec<f64>>,
    /// How often full extension was reached at more than 0.2 m/s.
    pub top_outs: Measured<usize>,
}

/// One end's travel on the run's grid, with what is needed to judge it.
#[derive(Clone, Debug)]
pub struct TravelInput<'a> {
    /// Axle travel, m.
    pub travel_m: &'a [f32],
    /// Axle speed, m/s, + compression, or why neither it nor peaks of travel can be read.
    pub speed_mps: Result<&'a [f32], NotMeasured>,
    /// Travel below 0.5 Hz, m.
    pub slow_m: &'a [f32],
    /// Rolling on the ground.
    pub grounded: &'a [bool],
    /// Full travel of this end, m.
    pub full_m: f64,
    /// Grid rate, Hz.
    pub rate_hz: f64,
}

impl TravelReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        Self {
            ride_height_m: Measured::not(reason.clone()),
            ride_height_share: Measured::not(reason.clone()),
            ride_height_slope_m_per_min: Measured::not(reason.clone()),
            travel_p5_m: Measured::not(reason.clone()),
            travel_p95_m: Measured::not(reason.clone()),
            travel_max_m: Measured::not(reason.clone()),
            travel_max_share: Measured::not(reason.clone()),
            time_in_tenths: Measured::not(reason.clone()),
            travel_histogram: Measured::not(reason.clone()),
            bottom_outs: Measured::not(reason.clone()),
            bottom_out_speeds_mps: Measured::not(reason.clone()),
            top_outs: Measured::not(reason.clone()),
        }
    }

    /// Reads one end's travel.
    pub fn of(input: TravelInput<'_>) -> Self {
        let TravelInput { travel_m, grounded, full_m, .. } = input;
        let rolling: Vec<f32> =
            travel_m.iter().zip(grounded).filter(|(t, on)| **on && !t.is_nan()).map(|(t, _)| *t).collect();
        let Some([p5, p50, p95]) = percentiles(&rolling, [5.0, 50.0, 95.0]) else {
            return Self::not(&NotMeasured::because(
                "the bike never rolls on the ground while travel is logged",
            ));
        };
        let n = rolling.len();
        let peaks = input.speed_mps.clone().map(|speed_mps| {
            let bottoms = bottom_outs(travel_m, full_m as f32);
            let before = (BEFORE_BOTTOM_S * input.rate_hz).round() as usize;
            let bottom_speeds = bottoms
                .iter()
                .filter_map(|&i| speed_mps.get(i.saturating_sub(before)))
                .filter(|speed| !speed.is_nan());
            Peaks {
                deepest_m: f64::from(travel_m.iter().copied().fold(f32::NAN, f32::max)),
                bottom_outs: bottoms.len(),
                bottom_out_speeds_mps: bottom_speeds.map(|v| f64::from(*v)).collect(),
                top_outs: top_outs(travel_m, speed_mps).len(),
            }
        });
        let peaks = || peaks.clone();
        Self {
            ride_height_m: Measured::value(p50).with_n(n),
            ride_height_share: Measured::value(p50 / full_m).with_n(n),
            ride_height_slope_m_per_min: ride_height_slope(&input).into(),
            travel_p5_m: Measured::value(p5).with_n(n),
            travel_p95_m: Measured::value(p95).with_n(n),
            travel_max_m: peaks().map(|peaks| peaks.deepest_m).into(),
            travel_max_share: peaks().map(|peaks| peaks.deepest_m / full_m).into(),
            time_in_tenths: Measured::value(time_in_parts(&rolling, full_m, 10)).with_n(n),
            travel_histogram: Measured::value(time_in_parts(&rolling, full_m, 40)).with_n(n),
            bottom_outs: peaks().map(|peaks| peaks.bottom_outs).into(),
            bottom_out_speeds_mps: peaks().map(|peaks| peaks.bottom_out_speeds_mps).into(),
            top_outs: peaks().map(|peaks| peaks.top_outs).into(),
        }
    }
}

/// What single samples show.
#[derive(Clone)]
struct Peaks {
    deepest_m: f64,
    bottom_outs: usize,
    bottom_out_speeds_mps: Vec<f64>,
    top_outs: usize,
}

/// Share of the samples in each of `parts` equal parts of full travel; what lies outside goes to the ends.
fn time_in_parts(travel_m: &[f32], full_m: f64, parts: usize) -> Vec<f64> {
    let mut shares = vec![0.0; parts];
    for travel in travel_m {
        // Below full extension the cast goes to 0.
        let part = (f64::from(*travel) / full_m * parts as f64) as usize;
        shares[part.min(parts - 1)] += 1.0 / travel_m.len() as f64;
    }
    shares
}

/// Samples at which 97 % of full travel is first reached.
fn bottom_outs(travel_m: &[f32], full_m: f32) -> Vec<usize> {
    let mut down = false;
    let mut found = Vec::new();
    for (i, &travel) in travel_m.iter().enumerate() {
        if !down && travel >= BOTTOM_OUT_SHARE * full_m {
            down = true;
            found.push(i);
        } else if down && travel < BOTTOM_OUT_OVER_SHARE * full_m {
            down = false;
        }
    }
    found
}

/// Samples at which full extension is reached at more than 0.2 m/s.
pub fn top_outs(travel_m: &[f32], speed_mps: &[f32]) -> Vec<usize> {
    (1..travel_m.len())
        .filter(|&i| {
            travel_m[i] <= EXTENDED_M && travel_m[i - 1] > EXTENDED_M && speed_mps[i - 1] < -TOP_OUT_MPS
        })
        .collect()
}

/// m per minute, over points half a second apart, which the 0.5 Hz trace does not out-run.
fn ride_height_slope(input: &TravelInput<'_>) -> Result<f64, NotMeasured> {
    let step = (input.rate_hz / 2.0).round().max(1.0) as usize;
    let (minutes, height): (Vec<f64>, Vec<f64>) = (0..input.slow_m.len())
        .step_by(step)
        .filter(|&i| input.grounded[i] && !input.slow_m[i].is_nan())
        .map(|i| (i as f64 / input.rate_hz / 60.0, f64::from(input.slow_m[i])))
        .unzip();
    if height.len() < 40 {
        return Err(NotMeasured::because("the slope of ride height needs 20 s of rolling"));
    }
    theil_sen(&minutes, &height).ok_or_else(|| NotMeasured::because("travel is missing while rolling"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(travel_m: &[f32], speed_mps: &[f32]) -> TravelReadout {
        TravelReadout::of(TravelInput {
            travel_m,
            speed_mps: Ok(speed_mps),
            slow_m: travel_m,
            grounded: &vec![true; travel_m.len()],
            full_m: 0.2,
            rate_hz: 100.0,
        })
    }

    #[test]
    fn constructed_travel_is_read_back() {
        // A slow sink from 50 mm to 62 mm in two minutes, with a dip either side of it.
        let travel: Vec<f32> = (0..12_000).map(|i| 0.05 + 0.012 * i as f32 / 12_000.0).collect();
        let readout = read(&travel, &vec![0.0; travel.len()]);
        assert!((readout.ride_height_m.get().unwrap() - 0.056).abs() < 1e-5);
        assert!((readout.ride_height_share.get().unwrap() - 0.28).abs() < 1e-4);
        assert!((readout.ride_height_slope_m_per_min.get().unwrap() - 0.006).abs() < 1e-6);
        let tenths = readout.time_in_tenths.get().unwrap();
        assert!((tenths[2] - 10.0 / 12.0).abs() < 1e-3 && (tenths[3] - 2.0 / 12.0).abs() < 1e-3);
        // 50 to 55, 55 to 60 and 60 to 62 mm in parts of 5 mm.
        let histogram = readout.travel_histogram.get().unwrap();
        for (part, share) in [(10, 5.0 / 12.0), (11, 5.0 / 12.0), (12, 2.0 / 12.0)] {
            assert!((histogram[part] - share).abs() < 1e-3, "{histogram:?}");
        }
        assert!((readout.travel_max_share.get().unwrap() - 0.31).abs() < 1e-4);
    }

    #[test]
    fn one_knock_is_one_bottom_out_with_its_speed() {
        let mut travel = vec![0.06_f32; 200];
        let mut speed = vec![0.0_f32; 200];
        travel[100..104].copy_from_slice(&[0.195, 0.19, 0.196, 0.12]);
        speed[98] = 3.5;
        let readout = read(&travel, &speed);
        assert_eq!(readout.bottom_outs.get(), Ok(&1));
        assert_eq!(readout.bottom_out_speeds_mps.get().unwrap(), &[3.5]);
    }

    #[test]
    fn topping_out_needs_speed() {
        let mut travel = vec![0.06_f32; 100];
        let mut speed = vec![0.0_f32; 100];
        travel[50..60].fill(0.001);
        assert_eq!(read(&travel, &speed).top_outs.get(), Ok(&0));
        speed[49] = -0.8;
        assert_eq!(read(&travel, &speed).top_outs.get(), Ok(&1));
    }

    #[test]
    fn never_rolling_is_not_measured() {
        let travel = [0.05_f32; 10];
        let input = TravelInput {
            travel_m: &travel,
            speed_mps: Ok(&travel),
            slow_m: &travel,
            grounded: &[false; 10],
            full_m: 0.2,
            rate_hz: 100.0,
        };
        assert!(TravelReadout::of(input).ride_height_m.get().is_err());
    }
}
