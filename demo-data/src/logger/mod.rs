//! Two loggers, as unlike as two makes of logger are.

pub mod motion;
pub mod suspension;

use crate::random::Random;

/// Rows that never reached the card: a few short stretches.
fn lost_rows(random: &mut Random, rows: usize, losses: usize, longest: usize) -> Vec<std::ops::Range<usize>> {
    (0..losses)
        .map(|_| {
            let start = random.between(0.1 * rows as f64, 0.9 * rows as f64) as usize;
            start..start + random.between(3.0, longest as f64) as usize
        })
        .collect()
}
