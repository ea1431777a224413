//! What the line through the samples covers of each column of pixels.

use std::hint::black_box;

use crate::extremes::{Extremes, higher, lower};
use crate::pyramid::{BLOCK, Pyramid};

/// The parts of a line in neighbouring columns of pixels, in the samples' unit.
#[derive(Clone, Debug, Default)]
pub struct Columns {
    /// Lowest and highest value of the line in each column, its borders included; the lowest is above the highest
    /// where there is no line.
    pub low: Vec<f32>,
    /// See `low`.
    pub high: Vec<f32>,
    /// Where the line crosses the columns' borders, one more than there are columns; NaN where it does not.
    pub borders: Vec<f32>,
    /// The first sample to the right of each border.
    next: Vec<usize>,
}

impl Columns {
    /// Cuts the line through `samples` at the borders of `count` columns.
    ///
    /// Column 0 begins at `first`, a place in samples, and each covers `per_pixel` of them. The line joins
    /// neighbouring samples straight; a missing sample breaks it. Its extremes lie at samples or at the borders,
    /// so low and high are exact: no sample in a column is lost, and nothing beyond the line is drawn.
    pub fn cut(&mut self, samples: &[f32], pyramid: &Pyramid, first: f64, per_pixel: f64, count: usize) {
        // Four columns at once, and then as many as are asked for.
        let whole = count.next_multiple_of(4);
        self.next.clear();
        self.borders.clear();
        for i in 0..=whole {
            let (next, value) = border(samples, first + i as f64 * per_pixel);
            self.next.push(next);
            self.borders.push(value);
            if per_pixel > BLOCK as f64 {
                // All that will be read of the samples: memory brings the blocks at once if all are asked for
                // before the first is needed.
                let block = next / BLOCK * BLOCK;
                for i in [0, BLOCK / 2, BLOCK - 1] {
                    black_box(samples.get(block + i).copied());
                }
            }
        }
        self.low.resize(whole, 0.0);
        self.high.resize(whole, 0.0);
        let (low, high) = (self.low.as_chunks_mut().0, self.high.as_chunks_mut().0);
        let borders = self.next.windows(5).zip(self.borders.windows(5)).step_by(4);
        for ((low, high), (next, borders)) in low.iter_mut().zip(high).zip(borders) {
            let four = [0, 1, 2, 3].map(|i| pyramid.extremes(samples, next[i]..next[i + 1]));
            let [left, right] = [0, 1].map(|side| [0, 1, 2, 3].map(|i| borders[i + side]));
            let inside = Extremes::ends(&four);
            *low = lower(lower(inside[0], left), right);
            *high = higher(higher(inside[1], left), right);
        }
        self.low.truncate(count);
        self.high.truncate(count);
        self.borders.truncate(count + 1);
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.low.len()
    }

    /// Whether the line is in a column at all.
    pub fn has(&self, column: usize) -> bool {
        self.low.get(column).zip(self.high.get(column)).is_some_and(|(low, high)| low <= high)
    }
}

/// The first sample to the right of a place in samples, and the line at that place; NaN where it is broken, and
/// beyond its ends.
#[inline]
fn border(samples: &[f32], place: f64) -> (usize, f32) {
    // As a cast: below zero is zero.
    let next = (place + 1.0) as usize;
    let share = (place + 1.0 - next as f64) as f32;
    let value = match (samples.get(next.wrapping_sub(1)), samples.get(next)) {
        (Some(&a), _) if share == 0.0 => a,
        (Some(&a), Some(&b)) => a + (b - a) * share,
        _ => f32::NAN,
    };
    (next, value)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A small generator (xorshift), seeded.
    pub struct Random(pub u64);

    impl Random {
        pub fn next(&mut self) -> u64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            self.0
        }

        pub fn below(&mut self, end: usize) -> usize {
            (self.next() % end.max(1) as u64) as usize
        }

        pub fn unit(&mut self) -> f64 {
            (self.next() >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    /// Noise with spikes, single missing samples, long gaps and samples alone between two missing ones.
    pub fn samples(random: &mut Random, len: usize) -> Vec<f32> {
        let mut gap = 0;
        (0..len)
            .map(|_| {
                if gap == 0 && random.below(97) == 0 {
                    gap = [1, 1, 2, 5, 60, 700][random.below(6)];
                }
                if gap > 0 {
                    gap -= 1;
                    return f32::NAN;
                }
                let v = random.unit() as f32 - 0.5;
                if random.below(211) == 0 { v * 400.0 } else { v }
            })
            .collect()
    }

    /// The line between its samples by the definition, in `f64`.
    fn brute(samples: &[f32], place: f64) -> Option<f64> {
        let (below, above) = (place.floor(), place.ceil());
        if below < 0.0 || above > samples.len() as f64 - 1.0 {
            return None;
        }
        let (a, b) = (f64::from(samples[below as usize]), f64::from(samples[above as usize]));
        let v = a + (b - a) * (place - below);
        (!v.is_nan()).then_some(v)
    }

    #[test]
    fn every_column_holds_its_samples_and_nothing_beyond_the_line() {
        let mut random = Random(41);
        let mut drawn = Columns::default();
        for round in 0..300 {
            let len = 1 + random.below(30_000);
            let samples = samples(&mut random, len);
            let pyramid = Pyramid::new(&samples);
            let count = 1 + random.below(900);
            // From a hundredth of a sample a pixel to far more than there are; whole steps too.
            let mut per_pixel = 10_f64.powf(random.unit() * 5.0 - 2.0);
            let mut first = (random.unit() * 1.4 - 0.2) * len as f64;
            if round % 3 == 0 {
                (per_pixel, first) = (per_pixel.ceil(), first.floor());
            }
            drawn.cut(&samples, &pyramid, first, per_pixel, count);
            assert_eq!(drawn.count(), count);
            assert_eq!(drawn.borders.len(), count + 1);
            for i in 0..count {
                let (from, to) = (first + i as f64 * per_pixel, first + (i + 1) as f64 * per_pixel);
                let mut low = f64::INFINITY;
                let mut high = f64::NEG_INFINITY;
                let places = std::iter::once(from).chain(std::iter::once(to));
                let inside = (from.ceil().max(0.0) as usize..).map(|i| i as f64);
                let inside = inside.take_while(|&place| place <= to && place < len as f64);
                for v in places.chain(inside).filter_map(|place| brute(&samples, place)) {
                    (low, high) = (low.min(v), high.max(v));
                }
                let said = format!("column {i} of {count}, {per_pixel} samples each from {first}, of {len}");
                assert_eq!(drawn.has(i), low <= high, "{said}");
                if drawn.has(i) {
                    // Samples are exact; what lies between them is rounded to f32.
                    let near = |a: f32, b: f64| (f64::from(a) - b).abs() <= 1e-4;
                    assert!(
                        near(drawn.low[i], low) && near(drawn.high[i], high),
                        "{said}: {} {}, {low} {high}",
                        drawn.low[i],
                        drawn.high[i]
                    );
                }
            }
        }
    }

    #[test]
    fn a_single_sample_is_its_columns_extreme_at_every_zoom_and_pan() {
        let mut samples = vec![0.0_f32; 180_000];
        samples[73_319] = 9.0;
        samples[73_321] = -9.0;
        let pyramid = Pyramid::new(&samples);
        let mut drawn = Columns::default();
        let mut per_pixel = 180_000.0 / 1282.0;
        while per_pixel > 0.01 {
            for step in 0..7 {
                let first = 73_319.0 - per_pixel * (600.0 + f64::from(step) / 7.0);
                drawn.cut(&samples, &pyramid, first, per_pixel, 1282);
                assert!(drawn.high.contains(&9.0) && drawn.low.contains(&-9.0), "{per_pixel} {step}");
                // Nothing is made up: as much up as down, and only near the spikes.
                let ink = drawn.high.iter().filter(|v| **v > 0.0).count() as f64;
                assert!(ink <= 2.0 / per_pixel + 3.0, "{per_pixel}: {ink} columns");
            }
            per_pixel *= 0.83;
        }
    }

    #[test]
    fn a_gap_is_a_gap_and_beyond_the_ends_is_nothing() {
        let samples = [1.0, 2.0, f32::NAN, f32::NAN, f32::NAN, 3.0];
        let mut drawn = Columns::default();
        drawn.cut(&samples, &Pyramid::new(&samples), -2.0, 1.0, 10);
        let there: Vec<bool> = (0..10).map(|i| drawn.has(i)).collect();
        assert_eq!(there, [false, true, true, true, false, false, true, true, false, false]);
        assert_eq!((drawn.low[2], drawn.high[2]), (1.0, 2.0));
    }
}
