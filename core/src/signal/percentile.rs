//! Percentiles by linear interpolation between order statistics: type 7 of Hyndman and Fan (1996).

/// Percentile `p` (0..=100, clamped) of the finite samples; `None` where there are none.
///
/// Partial selection, not a full sort: linear time.
pub fn percentile<T: Copy + Into<f64>>(samples: &[T], p: f64) -> Option<f64> {
    percentiles(samples, [p]).map(|[value]| value)
}

/// The middle of the finite samples; `None` where there are none.
pub fn median<T: Copy + Into<f64>>(samples: &[T]) -> Option<f64> {
    percentile(samples, 50.0)
}

/// Several percentiles of the same samples: see [`percentile`].
pub fn percentiles<T: Copy + Into<f64>, const N: usize>(samples: &[T], p: [f64; N]) -> Option<[f64; N]> {
    let mut finite: Vec<f64> = samples.iter().map(|&x| x.into()).filter(|x| x.is_finite()).collect();
    if finite.is_empty() {
        return None;
    }
    Some(p.map(|p| select(&mut finite, p.clamp(0.0, 100.0) / 100.0)))
}

/// The value at `share` of the way through the sorted values, which must not be empty.
fn select(values: &mut [f64], share: f64) -> f64 {
    let position = share * (values.len() - 1) as f64;
    let (below, fraction) = (position.floor() as usize, position.fract());
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    if fraction == 0.0 {
        return low;
    }
    let high = above.iter().copied().fold(f64::INFINITY, f64::min);
    // From the nearer end, as NumPy does, so that equal neighbours give exactly themselves.
    if fraction < 0.5 { low + (high - low) * fraction } else { high - (high - low) * (1.0 - fraction) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_order_statistics() {
        let samples = [4.0_f32, f32::NAN, 1.0, 3.0, 2.0];
        assert_eq!(median(&samples), Some(2.5));
        assert_eq!(percentiles(&samples, [0.0, 25.0, 100.0, 200.0]), Some([1.0, 1.75, 4.0, 4.0]));
        assert_eq!(percentile(&[7.0], 12.0), Some(7.0));
        assert_eq!(median(&[f32::NAN]), None);
        assert!(percentile(&samples, f64::NAN).unwrap().is_nan());
    }
}
