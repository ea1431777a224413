//! Student's t distribution, plain and noncentral.

use super::incomplete_beta::{incomplete_beta, ln_gamma, power_term};

/// Probability that Student's t with `df > 0` degrees of freedom (whole or not) exceeds `t`.
///
/// `P(T > t) = I_x(df/2, 1/2) / 2` with `x = df / (df + t^2)` for `t >= 0` (Abramowitz and Stegun 26.7.1),
/// so that small tails keep their digits. `NaN` for `df <= 0` or a `NaN`.
pub fn t_upper_tail(t: f64, df: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if t.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    let whole = df + t * t;
    let half = 0.5 * incomplete_beta(0.5 * df, 0.5, df / whole, t * t / whole);
    if t >= 0.0 { half } else { 1.0 - half }
}

/// Probability that Student's t with `df` degrees of freedom is at most `t`; see [`t_upper_tail`].
pub fn t_cdf(t: f64, df: f64) -> f64 {
    t_upper_tail(-t, df)
}

/// The `t` that Student's t with `df` degrees of freedom stays at or below with probability `p`.
///
/// The inverse of [`t_cdf`] by bisection, to rounding. Infinite at 0 and 1, `NaN` outside, and for `df <= 0`.
pub fn t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if p > 0.5 {
        return -t_quantile(1.0 - p, df);
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    let mut far = 1.0;
    while t_upper_tail(far, df) > p && far.is_finite() {
        far *= 2.0;
    }
    -root(0.0, far, |t| p - t_upper_tail(t, df))
}

/// The noncentrality must stay inside this, or `exp(-d^2 / 2)` leaves the range of an `f64`.
const NONCENTRALITY_MAX: f64 = 37.0;

/// Probability that the noncentral t with `df` degrees of freedom and noncentrality `d` exceeds `t`.
///
/// Noncentral t: `(Z + d) / sqrt(X / df)`, `Z` standard normal, `X` chi-squared with `df`. Series of Lenth
/// (1989), algorithm AS 243, absolute error below 1e-11. `NaN` for `|d| > 37`, `df <= 0` or a `NaN`.
pub fn noncentral_t_upper_tail(t: f64, df: f64, d: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 || d.is_nan() || d.abs() > NONCENTRALITY_MAX {
        return f64::NAN;
    }
    if t < 0.0 {
        return 1.0 - noncentral_t_upper_tail(-t, df, -d);
    }
    if t.is_infinite() {
        return 0.0;
    }
    let (x, y) = (t * t / (df + t * t), df / (df + t * t));
    let (b, mean) = (0.5 * df, 0.5 * d * d);
    // Poisson weights and the beta integrals they belong to, each from the one before.
    let mut p = (-mean).exp();
    let mut q = d * p / (std::f64::consts::SQRT_2 * ln_gamma(1.5).exp());
    let [mut odd, mut even] = [0.5, 1.0].map(|a| incomplete_beta(a, b, x, y));
    // What I_x falls by from one a to the next: x^a y^b / (a B(a, b)).
    let fall = |a: f64| if x > 0.0 { power_term(a, b, x, y) / a } else { 0.0 };
    let [mut odd_fall, mut even_fall] = [0.5, 1.0].map(fall);
    let (mut sum, mut weight) = (0.0, 0.0);
    for j in 0..100_000 {
        let k = f64::from(j);
        sum += p * odd + q * even;
        weight += p;
        // The integrals only fall, so what is left weighs less than the Poisson weights not yet spent.
        if k > mean && (1.0 - weight) * odd < 1e-13 && p * odd < 1e-15 {
            break;
        }
        odd = (odd - odd_fall).max(0.0);
        even = (even - even_fall).max(0.0);
        odd_fall *= x * (k + 0.5 + b) / (k + 1.5);
        even_fall *= x * (k + 1.0 + b) / (k + 2.0);
        p *= mean / (k + 1.0);
        q *= mean / (k + 1.5);
    }
    (normal_cdf(d) - 0.5 * sum).clamp(0.0, 1.0)
}

/// The noncentrality at which a two-sided t test of level `alpha` with `df` degrees of freedom rejects with
/// probability `power`: times the standard error, the smallest difference that will be seen that often.
///
/// Solves `P(|T'| > t(1 - alpha/2, df)) = power` for the noncentral `T'`: exact, where the sum of the two
/// quantiles `t(1 - alpha/2) + t(power)` is an approximation. `None` unless `0 < alpha < power < 1`, `df > 0`
/// and the answer is at most 37.
pub fn detectable_noncentrality(df: f64, alpha: f64, power: f64) -> Option<f64> {
    if !(alpha > 0.0 && alpha < power && power < 1.0 && df > 0.0) {
        return None;
    }
    let limit = t_quantile(1.0 - 0.5 * alpha, df);
    let seen = |d: f64| noncentral_t_upper_tail(limit, df, d) + noncentral_t_upper_tail(limit, df, -d);
    (seen(NONCENTRALITY_MAX) >= power).then(|| root(0.0, NONCENTRALITY_MAX, |d| seen(d) - power))
}

/// Where the rising `f` changes sign between `low` and `high`, to the last bit.
fn root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// Standard normal distribution function (series of Marsaglia 2004), absolute error below 1e-15.
fn normal_cdf(x: f64) -> f64 {
    if x.abs() > 9.0 {
        return if x > 0.0 { 1.0 } else { 0.0 };
    }
    let (mut term, mut sum, mut k) = (x, x, 1.0);
    while term.abs() > 1e-17 * sum.abs() {
        k += 2.0;
        term *= x * x / k;
        sum += term;
    }
    0.5 + sum * (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With one degree of freedom t is Cauchy's: `1/2 - atan(t) / pi` lies above.
    #[test]
    fn one_degree_of_freedom_is_cauchy() {
        for t in [-3.0, -0.2, 0.0, 1.0, 12.0, 1e6] {
            let cauchy: f64 =
                if t > 1.0 { (1.0_f64 / t).atan() } else { std::f64::consts::FRAC_PI_2 - t.atan() };
            let cauchy = cauchy / std::f64::consts::PI;
            assert!((t_upper_tail(t, 1.0) / cauchy - 1.0).abs() < 1e-12, "{t}");
        }
    }

    #[test]
    fn quantiles_undo_the_distribution() {
        for df in [1.0, 2.0, 4.5, 20.0, 500.0] {
            for p in [1e-9, 0.025, 0.3, 0.5, 0.8, 0.975] {
                assert!((t_cdf(t_quantile(p, df), df) / p - 1.0).abs() < 1e-9, "{p} {df}");
            }
        }
        assert_eq!(t_quantile(1.0, 3.0), f64::INFINITY);
        assert!(
            t_quantile(1.5, 3.0).is_nan() && t_quantile(0.5, 0.0).is_nan() && t_cdf(f64::NAN, 3.0).is_nan()
        );
    }

    #[test]
    fn no_noncentrality_is_the_plain_t() {
        for t in [-2.0, 0.0, 0.7, 5.0] {
            assert!((noncentral_t_upper_tail(t, 7.0, 0.0) - t_upper_tail(t, 7.0)).abs() < 1e-12, "{t}");
        }
        assert!(noncentral_t_upper_tail(1.0, 7.0, 40.0).is_nan());
    }

    #[test]
    fn nonsense_is_not_detectable() {
        assert_eq!(detectable_noncentrality(0.0, 0.05, 0.8), None);
        assert_eq!(detectable_noncentrality(5.0, 0.05, 0.04), None);
        assert_eq!(detectable_noncentrality(f64::NAN, 0.05, 0.8), None);
    }
}
