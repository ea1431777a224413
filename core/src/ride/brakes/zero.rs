//! What a brake's sensor reads with the lever free, and whether that moves through a run.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::measured::{Measured, NotMeasured};
use crate::signal::{median, theil_sen};

/// The level at either end is the median over this much free lever, s.
const LEVEL_S: f64 = 5.0;
/// The slope is taken over medians of this much free lever, s...
const BLOCK_S: f64 = 1.0;
/// ...of which there must be this many.
const LEAST_BLOCKS: usize = 20;

/// The level with the lever free, measured from the zero of the calibration. Told, never subtracted: a zero
/// that followed the pressure would hide a brake that never lets go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZeroReadout {
    /// Median pressure of the first five seconds of free lever, Pa.
    pub zero_start_pa: Measured,
    /// Median pressure of the last five seconds of free lever, Pa.
    pub zero_end_pa: Measured,
    /// Robust slope (Theil-Sen) of the free level, Pa per minute.
    pub zero_slope_pa_per_min: Measured,
}

impl ZeroReadout {
    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        let not = || Measured::not(reason.clone());
        Self { zero_start_pa: not(), zero_end_pa: not(), zero_slope_pa_per_min: not() }
    }

    /// Reads a stretch. `free`: where the lever is free, by sample of the whole run.
    pub fn of(pressure_pa: &[f32], free: &[bool], rate_hz: f64, range: &Range<usize>) -> Self {
        let samples: Vec<usize> = range.clone().filter(|&i| free[i]).collect();
        let level_of = |samples: &[usize]| {
            median(&samples.iter().map(|&i| pressure_pa[i]).collect::<Vec<_>>())
                .ok_or_else(|| NotMeasured::because("pressure is missing"))
        };
        let level = (LEVEL_S * rate_hz).round() as usize;
        if samples.len() < 2 * level {
            return Self::not(&NotMeasured::because("the lever is free for less than 10 s here"));
        }
        let block = (BLOCK_S * rate_hz).round().max(1.0) as usize;
        let (minutes, levels): (Vec<f64>, Vec<f64>) = samples
            .chunks_exact(block)
            .filter_map(|block| {
                let middle = block.iter().sum::<usize>() as f64 / block.len() as f64;
                Some((middle / rate_hz / 60.0, level_of(block).ok()?))
            })
            .unzip();
        let slope = if levels.len() < LEAST_BLOCKS { None } else { theil_sen(&minutes, &levels) };
        Self {
            zero_start_pa: level_of(&samples[..level]).into(),
            zero_end_pa: level_of(&samples[samples.len() - level..]).into(),
            zero_slope_pa_per_min: slope
                .ok_or_else(|| NotMeasured::because("the slope needs the lever free for 20 s"))
                .into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: from 1000 Pa rising 600 Pa a minute, read at 10 Hz for two minutes.
    #[test]
    fn a_zero_that_creeps_is_told() {
        let pressure: Vec<f32> = (0..1200).map(|i| 1000.0 + i as f32).collect();
        let mut free = vec![true; 1200];
        free[300..500].fill(false);
        let zero = ZeroReadout::of(&pressure, &free, 10.0, &(0..1200));
        assert!((zero.zero_start_pa.get().unwrap() - 1024.5).abs() < 1e-6);
        assert!((zero.zero_end_pa.get().unwrap() - 2174.5).abs() < 1e-6);
        assert!((zero.zero_slope_pa_per_min.get().unwrap() - 600.0).abs() < 1e-6);
        let short = ZeroReadout::of(&pressure, &free, 10.0, &(0..99));
        assert!(short.zero_start_pa.get().unwrap_err().0.contains("10 s"));
    }
}
