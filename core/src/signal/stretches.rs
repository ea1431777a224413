//! Stretches between missing samples.

use std::ops::Range;

/// Whether no sample is missing.
pub fn is_whole(samples: &[f32]) -> bool {
    // A block at a time, which takes one instruction for several samples.
    samples.chunks(1024).all(|block| block.iter().fold(true, |whole, sample| whole & sample.is_finite()))
}

/// The longest ranges of finite samples, in order; what lies between them is missing.
pub fn stretches(samples: &[f32]) -> impl Iterator<Item = Range<usize>> + '_ {
    let mut from = 0;
    std::iter::from_fn(move || {
        let start = from + samples[from..].iter().position(|x| x.is_finite())?;
        let end = samples[start..].iter().position(|x| !x.is_finite()).map_or(samples.len(), |n| start + n);
        from = end;
        Some(start..end)
    })
}

/// Applies `tool` to each stretch of finite samples on its own, so that nothing leaks across a gap.
///
/// Missing samples stay `NaN`. `tool` must return as many values as it is given.
pub fn map_stretches(samples: &[f32], mut tool: impl FnMut(&[f64]) -> Vec<f64>) -> Vec<f32> {
    let mut out = vec![f32::NAN; samples.len()];
    let mut stretch = Vec::new();
    for range in stretches(samples) {
        stretch.clear();
        stretch.extend(samples[range.clone()].iter().map(|&x| f64::from(x)));
        for (place, value) in out[range].iter_mut().zip(tool(&stretch)) {
            *place = value as f32;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAP: f32 = f32::NAN;

    #[test]
    fn ranges_of_finite_samples() {
        let found = |samples: &[f32]| stretches(samples).collect::<Vec<_>>();
        assert_eq!(found(&[GAP, 1.0, 2.0, GAP, GAP, 3.0]), [1..3, 5..6]);
        assert_eq!(found(&[1.0, f32::INFINITY, 2.0]), [0..1, 2..3]);
        assert_eq!(found(&[GAP, GAP]), []);
        assert_eq!(found(&[]), []);
        assert!(is_whole(&[]) && is_whole(&[1.0; 2000]));
        assert!((0..2000).step_by(333).all(|gap| {
            let mut samples = [1.0; 2000];
            samples[gap] = GAP;
            !is_whole(&samples)
        }));
    }

    #[test]
    fn each_stretch_is_seen_alone() {
        let sums = map_stretches(&[1.0, 2.0, GAP, 4.0], |x| vec![x.iter().sum(); x.len()]);
        assert_eq!((sums[0], sums[1], sums[3]), (3.0, 3.0, 4.0));
        assert!(sums[2].is_nan());
    }
}
