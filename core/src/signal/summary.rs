//! Lowest, highest and mean of any stretch of a signal, without reading it again each time.

use std::ops::Range;

/// Samples that are summed up together; a stretch reads at most two of these blocks sample by sample,
/// and one or two more to find where its extremes are.
const BLOCK: usize = 1024;

/// What a signal comes to, block by block.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    blocks: Vec<Option<Stretch>>,
}

/// What a stretch of a signal comes to; missing samples do not count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Lowest sample.
    pub min: f32,
    /// Highest sample.
    pub max: f32,
    /// Index of the first lowest sample.
    pub min_at: usize,
    /// Index of the first highest sample.
    pub max_at: usize,
    /// How many samples are there.
    pub n: usize,
    /// Their sum.
    pub sum: f64,
}

impl Stretch {
    /// Mean of the samples that are there.
    pub fn mean(&self) -> f64 {
        self.sum / self.n as f64
    }

    fn of(samples: &[f32], first: usize) -> Option<Self> {
        let finite = samples.iter().enumerate().filter(|(_, v)| v.is_finite());
        finite.fold(None, |found: Option<Self>, (i, &v)| {
            Some(match found {
                None => {
                    Self { min: v, max: v, min_at: first + i, max_at: first + i, n: 1, sum: f64::from(v) }
                }
                Some(mut all) => {
                    if v < all.min {
                        (all.min, all.min_at) = (v, first + i);
                    }
                    if v > all.max {
                        (all.max, all.max_at) = (v, first + i);
                    }
                    all.n += 1;
                    all.sum += f64::from(v);
                    all
                }
            })
        })
    }

    /// With one that follows it.
    fn and(self, next: Self) -> Self {
        let (min, min_at) =
            if next.min < self.min { (next.min, next.min_at) } else { (self.min, self.min_at) };
        let (max, max_at) =
            if next.max > self.max { (next.max, next.max_at) } else { (self.max, self.max_at) };
        Self { min, max, min_at, max_at, n: self.n + next.n, sum: self.sum + next.sum }
    }
}

impl Summary {
    /// Reads a signal once.
    pub fn of(samples: &[f32]) -> Self {
        let block = |(i, block)| Stretch::of(block, i * BLOCK);
        Self { blocks: samples.chunks(BLOCK).enumerate().map(block).collect() }
    }

    /// A stretch of the same signal, as far as the signal goes; `None` where no sample of it is there.
    pub fn over(&self, samples: &[f32], range: Range<usize>) -> Option<Stretch> {
        let (start, end) = (range.start, range.end.min(samples.len()));
        let read = |from: usize, to: usize| Stretch::of(samples.get(from..to)?, from);
        // Whole blocks, and what is left at either end.
        let (first, last) = (start.div_ceil(BLOCK), end / BLOCK);
        if first >= last {
            return read(start, end.max(start));
        }
        let whole = self.blocks.get(first..last).unwrap_or_default().iter().copied();
        let parts = std::iter::once(read(start, first * BLOCK)).chain(whole);
        parts.chain([read(last * BLOCK, end)]).flatten().reduce(Stretch::and)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Random;
    use super::*;

    /// Against reading every sample, over random stretches of a signal with gaps.
    #[test]
    fn any_stretch_is_what_its_samples_are() {
        let mut random = Random::seeded(7);
        let mut uniform = || random.share();
        let mut samples: Vec<f32> = (0..20_000).map(|_| (uniform() * 200.0 - 100.0) as f32).collect();
        samples[5_000..8_000].fill(f32::NAN);
        for i in (0..samples.len()).step_by(37) {
            samples[i] = f32::NAN;
        }
        let summary = Summary::of(&samples);
        for i in 0..2_000 {
            let a = (uniform() * 20_100.0) as usize;
            let length = if i % 2 == 0 { uniform() * 50.0 } else { uniform() * 20_000.0 };
            let range = a..a + length as usize;
            let there: Vec<f32> =
                samples.iter().skip(a).take(range.len()).copied().filter(|v| !v.is_nan()).collect();
            let found = summary.over(&samples, range.clone());
            assert_eq!(found.is_some(), !there.is_empty(), "{range:?}");
            let Some(found) = found else { continue };
            assert_eq!(found.n, there.len());
            assert_eq!(found.min, there.iter().copied().fold(f32::INFINITY, f32::min), "{range:?}");
            assert_eq!(found.max, there.iter().copied().fold(f32::NEG_INFINITY, f32::max), "{range:?}");
            assert_eq!((samples[found.min_at], samples[found.max_at]), (found.min, found.max));
            assert!(range.contains(&found.min_at) && range.contains(&found.max_at));
            let mean = there.iter().map(|v| f64::from(*v)).sum::<f64>() / there.len() as f64;
            assert!((found.mean() - mean).abs() < 1e-9, "{} is not {mean}", found.mean());
        }
    }

    #[test]
    fn nothing_comes_to_nothing() {
        let missing = vec![f32::NAN; 3_000];
        let summary = Summary::of(&missing);
        assert_eq!(summary.over(&missing, 0..3_000), None);
        assert_eq!(summary.over(&missing, 2_999..9_000), None);
        assert_eq!(summary.over(&missing, 8_000..9_000), None);
        assert_eq!(Summary::of(&[]).over(&[], 0..1), None);
    }
}
