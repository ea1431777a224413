//! How many of the small p values among many are false.

/// q value of each p value (Benjamini and Hochberg 1995): the least share of false discoveries at which it
/// would be among the discoveries, `min over j >= rank of p_(j) m / j`, at most 1.
///
/// `m` counts the p values in 0..=1; any other (`NaN`) stays out and gets `NaN`.
pub fn q_values(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).filter(|&i| (0.0..=1.0).contains(&p[i])).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut q = vec![f64::NAN; p.len()];
    let mut least = 1.0_f64;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(p[i] * order.len() as f64 / (rank + 1) as f64);
        q[i] = least;
    }
    q
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn worse_company_raises_a_p_value() {
        assert_eq!(q_values(&[0.01]), [0.01]);
        assert_eq!(q_values(&[0.01, 0.5, 0.04, 0.04]), [0.04, 0.5, 0.04 * 4.0 / 3.0, 0.04 * 4.0 / 3.0]);
        let q = q_values(&[f64::NAN, 0.2, 7.0]);
        assert!(q[0].is_nan() && q[1] == 0.2 && q[2].is_nan());
        assert!(q_values(&[]).is_empty());
    }
}
