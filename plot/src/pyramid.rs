//! Minima and maxima of blocks of samples, of blocks of blocks, and so on: the extremes of any stretch
//! without reading all of it.

use std::ops::Range;

/// Samples in a block of the lowest level. Below it the samples themselves are read.
const BLOCK: usize = 32;
/// Blocks in a block of the next level.
const FACTOR: usize = 4;
/// What no sample has been added to.
const NONE: [f32; 2] = [f32::INFINITY, f32::NEG_INFINITY];

/// The extremes of a line's blocks; a missing sample counts for nothing.
#[derive(Clone, Debug, Default)]
pub struct Pyramid {
    /// Minimum and maximum in turn, level after level, the finest first.
    blocks: Vec<f32>,
    /// Number of samples it was made of.
    len: usize,
}

impl Pyramid {
    /// Reads every sample once.
    pub fn new(samples: &[f32]) -> Self {
        let finest = samples.len().div_ceil(BLOCK);
        let mut blocks =
            Vec::with_capacity(2 * levels(samples.len()).map(|level| level.len()).sum::<usize>());
        blocks.extend(samples.chunks(BLOCK).flat_map(extremes));
        let mut below = 0..finest;
        while below.len() >= 2 * FACTOR {
            let next = blocks.len() / 2;
            for first in below.clone().step_by(FACTOR) {
                let merged = merge(&blocks, first..(first + FACTOR).min(below.end));
                blocks.extend(merged);
            }
            below = next..blocks.len() / 2;
        }
        Self { blocks, len: samples.len() }
    }

    /// One that was made elsewhere, from what [`as_slice`](Self::as_slice) gave there; `None` if it is not
    /// that of so many samples.
    pub fn of_blocks(blocks: Vec<f32>, len: usize) -> Option<Self> {
        let whole = 2 * levels(len).map(|level| level.len()).sum::<usize>();
        (blocks.len() == whole).then_some(Self { blocks, len })
    }

    /// Its numbers, to send them elsewhere.
    pub fn as_slice(&self) -> &[f32] {
        &self.blocks
    }

    /// Minima and maxima of its topmost blocks: all that is needed for the extremes of the whole.
    pub fn topmost(&self) -> &[f32] {
        levels(self.len).last().map_or(&[], |level| &self.blocks[2 * level.start..2 * level.end])
    }

    /// Minimum and maximum of a stretch of the samples it was made of; `None` if none is there.
    pub fn extremes(&self, samples: &[f32], range: Range<usize>) -> Option<[f32; 2]> {
        let end = range.end.min(samples.len()).min(self.len);
        let range = range.start.min(end)..end;
        let found = if range.len() < 2 * BLOCK {
            extremes(&samples[range])
        } else {
            let blocks = range.start.div_ceil(BLOCK)..range.end / BLOCK;
            let edges = join(
                extremes(&samples[range.start..blocks.start * BLOCK]),
                extremes(&samples[blocks.end * BLOCK..range.end]),
            );
            join(edges, self.climb(blocks))
        };
        (found[0] <= found[1]).then_some(found)
    }

    /// Extremes of blocks of the finest level, as few of all levels read as will do.
    fn climb(&self, mut range: Range<usize>) -> [f32; 2] {
        let mut found = NONE;
        for level in levels(self.len) {
            let at = |range: Range<usize>| level.start + range.start..level.start + range.end;
            // Too few blocks to fill one of the next level, or there is no next level.
            if range.len() < 2 * FACTOR {
                return join(found, merge(&self.blocks, at(range)));
            }
            let above = range.start.div_ceil(FACTOR)..range.end / FACTOR;
            found = join(found, merge(&self.blocks, at(range.start..above.start * FACTOR)));
            found = join(found, merge(&self.blocks, at(above.end * FACTOR..range.end)));
            range = above;
        }
        found
    }
}

/// Where each level lies, in blocks from the first.
fn levels(samples: usize) -> impl Iterator<Item = Range<usize>> {
    let finest = samples.div_ceil(BLOCK);
    std::iter::successors(Some(0..finest), |below| {
        (below.len() >= 2 * FACTOR).then(|| below.end..below.end + below.len().div_ceil(FACTOR))
    })
}

fn join(a: [f32; 2], b: [f32; 2]) -> [f32; 2] {
    [if b[0] < a[0] { b[0] } else { a[0] }, if b[1] > a[1] { b[1] } else { a[1] }]
}

fn merge(blocks: &[f32], range: Range<usize>) -> [f32; 2] {
    let (pairs, _) = blocks[2 * range.start..2 * range.end].as_chunks::<2>();
    pairs.iter().fold(NONE, |found, &pair| join(found, pair))
}

/// Minimum and maximum of some samples; NaN compares as false and is passed over.
fn extremes(samples: &[f32]) -> [f32; 2] {
    let (fours, rest) = samples.as_chunks::<4>();
    let mut found = rest.iter().fold(NONE, |found, &v| join(found, [v, v]));
    if !fours.is_empty() {
        // Four at once, which the compiler turns into one instruction each.
        let (mut low, mut high) = ([NONE[0]; 4], [NONE[1]; 4]);
        for four in fours {
            for lane in 0..4 {
                low[lane] = if four[lane] < low[lane] { four[lane] } else { low[lane] };
                high[lane] = if four[lane] > high[lane] { four[lane] } else { high[lane] };
            }
        }
        for lane in 0..4 {
            found = join(found, [low[lane], high[lane]]);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::{Random, samples};

    #[test]
    fn any_stretch_has_the_extremes_of_its_samples() {
        let mut random = Random(7);
        for len in [0, 1, 31, 32, 33, 255, 256, 257, 4_097, 70_001] {
            let samples = samples(&mut random, len);
            let pyramid = Pyramid::new(&samples);
            for _ in 0..400 {
                let (a, b) = (random.below(len + 2), random.below(len + 2));
                let range = a.min(b)..a.max(b);
                // By brute force.
                let all = samples.iter().take(range.end).skip(range.start).filter(|v| !v.is_nan());
                let [low, high] = all.fold(NONE, |[low, high], &v| [low.min(v), high.max(v)]);
                let expected = (low <= high).then_some([low, high]);
                assert_eq!(pyramid.extremes(&samples, range.clone()), expected, "{range:?} of {len}");
            }
            let whole = pyramid.extremes(&samples, 0..len);
            let top = pyramid.topmost().iter().filter(|v| v.is_finite());
            let top = top.fold(NONE, |[low, high], &v| [low.min(v), high.max(v)]);
            assert_eq!(whole, (top[0] <= top[1]).then_some(top));
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
