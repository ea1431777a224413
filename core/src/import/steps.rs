//! The rate of a recording and how evenly it ran.

/// 1 / median step, spread and gaps of increasing times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rhythm {
    pub rate_hz: f64,
    /// Half the width of the middle 90 % of steps, s.
    pub jitter_s: f64,
    /// Steps of more than three median steps.
    pub gaps: usize,
}

/// The rhythm of strictly increasing times, s; `None` for fewer than two.
pub(super) fn rhythm(time_s: &[f64]) -> Option<Rhythm> {
    let mut steps = positive_steps(time_s.iter().copied());
    let median = percentile(&mut steps, 0.5)?;
    // A step of just three, but for rounding, is none.
    let gaps = steps.iter().filter(|&&step| step > 3.0 * median * (1.0 + 1e-6)).count();
    let spread = percentile(&mut steps, 0.95)? - percentile(&mut steps, 0.05)?;
    Some(Rhythm { rate_hz: 1.0 / median, jitter_s: spread / 2.0, gaps })
}

/// The median of the steps that go forward.
pub(super) fn median_step(time_s: impl Iterator<Item = f64>) -> Option<f64> {
    percentile(&mut positive_steps(time_s), 0.5)
}

fn positive_steps(mut time_s: impl Iterator<Item = f64>) -> Vec<f64> {
    let Some(mut last) = time_s.next() else { return Vec::new() };
    time_s.map(|t| t - std::mem::replace(&mut last, t)).filter(|&step| step > 0.0).collect()
}

/// Linear interpolation between order statistics, type 7 of Hyndman and Fan (1996), "Sample
/// quantiles in statistical packages". Reorders the values.
fn percentile(values: &mut [f64], share: f64) -> Option<f64> {
    let at = share * values.len().checked_sub(1)? as f64;
    let (_, &mut low, above) = values.select_nth_unstable_by(at as usize, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    Some(low + at.fract() * (high - low))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `numpy.percentile([7, 1, 3, 10], [5, 50, 95])` = 1.3, 5.0, 9.55.
    #[test]
    fn percentiles_as_numpy_gives_them() {
        let mut values = [7.0, 1.0, 3.0, 10.0];
        for (share, expected) in [(0.05, 1.3), (0.5, 5.0), (0.95, 9.55)] {
            assert!((percentile(&mut values, share).unwrap() - expected).abs() < 1e-12);
        }
        assert_eq!(percentile(&mut [], 0.5), None);
    }

    #[test]
    fn a_gap_is_more_than_three_median_steps() {
        let rhythm = rhythm(&[0.0, 1.0, 2.0, 5.0, 6.0, 9.5]).unwrap();
        assert_eq!((rhythm.rate_hz, rhythm.gaps), (1.0, 1));
        assert!(super::rhythm(&[1.0]).is_none());
    }
}
