//! Minima and maxima of blocks of samples, of blocks of blocks, and so on: the extremes of any stretch
//! without reading all of it.

use std::ops::Range;

use crate::extremes::Extremes;

/// Samples in a block of the lowest level. Below it the samples themselves are read.
pub const BLOCK: usize = 32;
/// Blocks in a block of the next level.
const FACTOR: usize = 4;

/// The extremes of a line's blocks; a missing sample counts for nothing.
#[derive(Clone, Debug, Default)]
pub struct Pyramid {
    /// Minimum and maximum in turn, level after level, the finest first; NaN where every sample is missing.
    blocks: Vec<f32>,
    /// Number of samples it was made of.
    len: usize,
}

impl Pyramid {
    /// Reads every sample once.
    pub fn new(samples: &[f32]) -> Self {
        let mut blocks = Vec::with_capacity(numbers(samples.len()));
        add_level(samples, BLOCK, &mut blocks);
        let mut levels = levels(samples.len());
        while let (Some(below), Some(_)) = (levels.next(), levels.clone().next()) {
            // What is to be known of a block are its two numbers.
            let below = blocks[2 * below.start..2 * below.end].to_vec();
            add_level(&below, 2 * FACTOR, &mut blocks);
        }
        Self { blocks, len: samples.len() }
    }

    /// One that was made elsewhere, from what [`as_slice`](Self::as_slice) gave there; `None` if it is not
    /// that of so many samples.
    pub fn of_blocks(blocks: Vec<f32>, len: usize) -> Option<Self> {
        (blocks.len() == numbers(len)).then_some(Self { blocks, len })
    }

    /// Its numbers, to send them elsewhere.
    pub fn as_slice(&self) -> &[f32] {
        &self.blocks
    }

    /// Minima and maxima of its topmost blocks: all that is needed for the extremes of the whole.
    pub fn topmost(&self) -> &[f32] {
        levels(self.len).last().map_or(&[], |level| &self.blocks[2 * level.start..2 * level.end])
    }

    /// The extremes of a stretch of the samples it was made of.
    #[inline(always)]
    pub(crate) fn extremes(&self, samples: &[f32], range: Range<usize>) -> Extremes {
        let end = range.end.min(samples.len()).min(self.len);
        let range = range.start.min(end)..end;
        if range.len() < 2 * BLOCK {
            return Extremes::of(&samples[range]);
        }
        let blocks = range.start.div_ceil(BLOCK)..range.end / BLOCK;
        let mut found = Extremes::of(&samples[range.start..blocks.start * BLOCK]);
        found.add(&samples[blocks.end * BLOCK..range.end]);
        self.climb(blocks, &mut found);
        found
    }

    /// Adds blocks of the finest level, as few of all levels read as will do.
    #[inline(always)]
    fn climb(&self, mut range: Range<usize>, found: &mut Extremes) {
        for level in levels(self.len) {
            let mut add = |range: Range<usize>| {
                found.add(&self.blocks[2 * (level.start + range.start)..2 * (level.start + range.end)]);
            };
            // Too few blocks to fill one of the next level, or there is no next level.
            if range.len() < 2 * FACTOR {
                return add(range);
            }
            let above = range.start.div_ceil(FACTOR)..range.end / FACTOR;
            add(range.start..above.start * FACTOR);
            add(above.end * FACTOR..range.end);
            range = above;
        }
    }
}

/// Where each level lies, in blocks from the first.
fn levels(samples: usize) -> impl Iterator<Item = Range<usize>> + Clone {
    let finest = samples.div_ceil(BLOCK);
    std::iter::successors(Some(0..finest), |below| {
        (below.len() >= 2 * FACTOR).then(|| below.end..below.end + below.len().div_ceil(FACTOR))
    })
}

/// Minima and maxima of all levels.
fn numbers(samples: usize) -> usize {
    levels(samples).map(|level| 2 * level.len()).sum()
}

/// Minimum and maximum of every so many numbers.
fn add_level(numbers: &[f32], size: usize, blocks: &mut Vec<f32>) {
    let mut chunks = numbers.chunks(size);
    while chunks.len() > 0 {
        let count = chunks.len();
        let [low, high] = Extremes::ends(&[(); 4].map(|()| Extremes::of(chunks.next().unwrap_or_default())));
        let ends = low.into_iter().zip(high).take(count);
        blocks.extend(ends.flat_map(|(low, high)| if low <= high { [low, high] } else { [f32::NAN; 2] }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::{Random, samples};

    /// By brute force.
    fn extremes<'a>(numbers: impl Iterator<Item = &'a f32>) -> [f32; 2] {
        let none = [f32::INFINITY, f32::NEG_INFINITY];
        numbers.filter(|v| !v.is_nan()).fold(none, |[low, high], &v| [low.min(v), high.max(v)])
    }

    #[test]
    fn any_stretch_has_the_extremes_of_its_samples() {
        let mut random = Random(7);
        for len in [0, 1, 31, 32, 33, 255, 256, 257, 4_097, 70_001] {
            let samples = samples(&mut random, len);
            let pyramid = Pyramid::new(&samples);
            for _ in 0..400 {
                let (a, b) = (random.below(len + 2), random.below(len + 2));
                let range = a.min(b)..a.max(b);
                let expected = extremes(samples.iter().take(range.end).skip(range.start));
                let found = pyramid.extremes(&samples, range.clone());
                let [low, high] = Extremes::ends(&[found; 4]);
                assert_eq!([low[0], high[0]], expected, "{range:?} of {len}");
            }
            assert_eq!(extremes(pyramid.topmost().iter()), extremes(samples.iter()));
            assert!(Pyramid::of_blocks(pyramid.as_slice().to_vec(), len).is_some());
            assert!(Pyramid::of_blocks(vec![0.0; pyramid.as_slice().len() + 2], len).is_none());
        }
    }

    #[test]
    fn it_costs_a_twelfth_of_its_samples() {
        let pyramid = Pyramid::new(&vec![0.0; 180_000]);
        assert!(pyramid.as_slice().len() * 12 <= 180_000 + 180_000 / 50, "{}", pyramid.as_slice().len());
    }
}
