//! Damping from how fast free vibration dies away (any vibration handbook, e.g. Rao, *Mechanical Vibrations*).

use std::f64::consts::PI;

/// `d = ln(x0 / x1)` of two successive peaks on the same side; `NaN` unless both have the same sign.
pub fn logarithmic_decrement(x0: f64, x1: f64) -> f64 {
    (x0 / x1).ln()
}

/// Viscous damping ratio `zeta = d / sqrt(4 pi^2 + d^2)` of a logarithmic decrement.
pub fn damping_ratio(decrement: f64) -> f64 {
    decrement / (2.0 * PI).hypot(decrement)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rao, *Mechanical Vibrations*, free vibration with viscous damping.
    #[test]
    fn handbook_examples() {
        assert!((logarithmic_decrement(4.2, 1.0) - 1.4351).abs() < 5e-5);
        for (ratio, zeta) in [(4.2, 0.2227), (2.0, 0.1097), (10.0, 0.3441)] {
            assert!((damping_ratio(logarithmic_decrement(ratio, 1.0)) - zeta).abs() < 5e-5, "{ratio}");
        }
    }
}
