//! The regularised incomplete beta function, from which the t distributions are computed.

/// Lanczos coefficients for `g = 7`, nine terms (Lanczos 1964; Godfrey 2001).
const LANCZOS: [f64; 9] = [
    0.999_999_999_999_809_9,
    676.520_368_121_885_1,
    -1_259.139_216_722_402_8,
    771.323_428_777_653_1,
    -176.615_029_162_140_6,
    12.507_343_278_686_905,
    -0.138_571_095_265_720_12,
    9.984_369_578_019_572e-6,
    1.505_632_735_149_311_6e-7,
];

/// Natural logarithm of the gamma function of `x > 0`, to about 1e-14 relative.
pub(super) fn ln_gamma(x: f64) -> f64 {
    if x < 0.5 {
        // Reflection (DLMF 5.5.3).
        let pi = std::f64::consts::PI;
        return (pi / (pi * x).sin()).ln() - ln_gamma(1.0 - x);
    }
    let x = x - 1.0;
    let tail = (1..9).map(|k| LANCZOS[k] / (x + k as f64)).sum::<f64>();
    let base = x + 7.5;
    0.5 * (2.0 * std::f64::consts::PI).ln() + (x + 0.5) * base.ln() - base + (LANCZOS[0] + tail).ln()
}

/// `I_x(a, b)` for `a, b > 0`, given both `x` and its complement `y = 1 - x`, so that neither is lost to
/// rounding.
///
/// Continued fraction (DLMF 8.17.22) by the modified method of Lentz (Thompson and Barnett 1986), on the
/// side where it converges fast.
pub(super) fn incomplete_beta(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if y <= 0.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - power_term(b, a, y, x) * fraction(b, a, y) / b;
    }
    power_term(a, b, x, y) * fraction(a, b, x) / a
}

/// `x^a y^b / B(a, b)`
pub(super) fn power_term(a: f64, b: f64, x: f64, y: f64) -> f64 {
    (a * x.ln() + b * y.ln() + ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b)).exp()
}

fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    /// Enough for a, b up to about 1e8; fast cases need a dozen.
    const TERMS: usize = 20_000;
    let kept = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / kept(1.0 - (a + b) * x / (a + 1.0));
    let mut sum = d;
    for m in 1..TERMS {
        let m = m as f64;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut factor = 1.0;
        for step in [even, odd] {
            d = 1.0 / kept(1.0 + step * d);
            c = kept(1.0 + step / c);
            factor = c * d;
            sum *= factor;
        }
        if (factor - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DLMF 5.4.1 and 5.4.6: factorials, and the square root of pi at a half.
    #[test]
    fn gamma_of_whole_and_half_numbers() {
        for (x, gamma) in [(1.0, 1.0_f64), (5.0, 24.0), (11.0, 3_628_800.0), (0.5, 1.772_453_850_905_516)] {
            assert!((ln_gamma(x) - gamma.ln()).abs() < 1e-13, "{x}");
        }
        assert!((ln_gamma(0.1) - 9.513_507_698_668_732_f64.ln()).abs() < 1e-13);
    }

    /// DLMF 8.17.5: whole numbers give the tail of a binomial; here 1 - 0.7^4 and its complement.
    #[test]
    fn whole_numbers_give_binomial_tails() {
        let tail = 1.0 - 0.7_f64.powi(4);
        assert!((incomplete_beta(1.0, 4.0, 0.3, 0.7) - tail).abs() < 1e-14);
        assert!((incomplete_beta(4.0, 1.0, 0.7, 0.3) - (1.0 - tail)).abs() < 1e-14);
        assert_eq!(incomplete_beta(2.0, 3.0, 0.0, 1.0), 0.0);
        assert_eq!(incomplete_beta(2.0, 3.0, 1.0, 0.0), 1.0);
    }
}
