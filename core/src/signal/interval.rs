//! 95 % intervals that ask nothing of a distribution.

/// Half of a 95 % interval, in standard deviations of a normal distribution.
pub const NORMAL_95: f64 = 1.959_963_984_540_054;

/// Interval of a share of which `count` in `n` were found (Wilson 1927); `None` where `n` is 0.
pub fn wilson(count: usize, n: usize) -> Option<[f64; 2]> {
    if n == 0 {
        return None;
    }
    let (share, n, z2) = (count as f64 / n as f64, n as f64, NORMAL_95 * NORMAL_95);
    let middle = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = NORMAL_95 / (1.0 + z2 / n) * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
    Some([(middle - half).max(0.0), (middle + half).min(1.0)])
}

/// Interval of the median from order statistics: the narrowest symmetric pair that holds it with 95 % or
/// more by the binomial distribution of the sign test (Conover, *Practical Nonparametric Statistics*).
/// Values that are not finite are left out; `None` with fewer than six, which cannot reach 95 %.
pub fn median_interval(values: &[f64]) -> Option<[f64; 2]> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|x| x.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    // Chance of at most k of n on one side, by recurrence, in logarithms so that many do not underflow.
    let mut log_term = -(n as f64) * std::f64::consts::LN_2;
    let mut at_most = 0.0;
    let mut outside = None;
    for k in 0..n / 2 {
        at_most += log_term.exp();
        if at_most > 0.025 {
            break;
        }
        outside = Some(k);
        log_term += ((n - k) as f64 / (k + 1) as f64).ln();
    }
    outside.map(|k| [sorted[k], sorted[n - 1 - k]])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_of_none_or_all_has_one_open_side() {
        assert_eq!(wilson(0, 0), None);
        let [low, high] = wilson(0, 10).unwrap();
        assert!(low.abs() < 1e-12 && (high - 0.2775).abs() < 1e-4, "{low} {high}");
        let [low, high] = wilson(10, 10).unwrap();
        assert!((low - 0.7225).abs() < 1e-4 && (high - 1.0).abs() < 1e-12, "{low} {high}");
    }

    #[test]
    fn six_values_are_the_fewest() {
        // All six on one side: 2 / 64 = 3.1 %; five: 6.3 %.
        assert_eq!(median_interval(&[5.0, 4.0, 3.0, 2.0, 1.0]), None);
        assert_eq!(median_interval(&[6.0, 5.0, f64::NAN, 4.0, 3.0, 2.0, 1.0]), Some([1.0, 6.0]));
        let many: Vec<f64> = (0..3000).map(f64::from).collect();
        let [low, high] = median_interval(&many).unwrap();
        assert!((1440.0..1450.0).contains(&low) && (1549.0..1560.0).contains(&high), "{low} {high}");
    }
}
