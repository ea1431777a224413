//! The rebound stroke of a mass that was pushed down and released, and the damping ratio that fits it.
//!
//! On a spring and a viscous damper with Coulomb friction, x'' + 2 zeta w x' + w^2 (x - x0) = mu while it
//! extends: friction only moves the place c = x0 + mu / w^2 about which it swings (any vibration handbook, e.g.
//! Rao). So x = c + a C(t) + b S(t), where C and S are the two solutions of the free oscillator, swinging or
//! creeping; c, a and b follow from linear least squares, and only zeta and w are searched for (variable
//! projection, Golub and Pereyra 1973).

/// Where c is expected past the level at which the bike stood, m: friction of some 10 N at ride-height
/// stiffness (own default, from simulated ends).
const SHIFT_M: f64 = 0.0015;
/// How much the expected place counts: as one with 3.3 mm does against samples that all err together by
/// 0.1 mm. It keeps a progressive spring from being taken for a moved c (own default, from simulated ends).
const PLACE_WEIGHT: f64 = 0.03;
/// Steps of the search.
const STEPS: usize = 60;
/// zeta at which the search begins.
const FIRST_ZETA: [f64; 4] = [0.15, 0.4, 0.8, 1.4];
/// Radians that a stroke is taken to last when the search begins.
const FIRST_RADIANS: [f64; 3] = [2.0, 3.0, 5.0];

/// What fits one rebound stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeRebound {
    /// Damping ratio of the rebound stroke.
    pub zeta: f64,
    /// Undamped angular frequency, rad/s.
    pub omega_radps: f64,
    /// Standard error of zeta as a share of it.
    pub relative_error: f64,
    /// RMS of what is left over, m.
    pub misfit_m: f64,
    /// The same of one creeping exponential over it, squared: near 1, zeta cannot be told.
    pub creep_ratio: f64,
}

impl FreeRebound {
    /// Fits the samples of one stroke, m past the level at which the bike stood, + compressed.
    ///
    /// `None` with fewer than 12 samples, with a missing one, or where nothing fits.
    pub fn fit(past_m: &[f64], rate_hz: f64) -> Option<Self> {
        let n = past_m.len();
        if n < 12 || past_m.iter().any(|x| !x.is_finite()) {
            return None;
        }
        let stroke = Stroke { past_m, step_s: 1.0 / rate_hz };
        let starts = FIRST_ZETA.iter().flat_map(|zeta| FIRST_RADIANS.map(|radians| (*zeta, radians)));
        let first = starts
            .map(|(zeta, radians)| {
                let omega = radians / (n as f64 * stroke.step_s);
                [(2.0 * zeta * omega).ln(), 2.0 * omega.ln()]
            })
            .min_by(|a, b| square(&stroke.left_over(*a)).total_cmp(&square(&stroke.left_over(*b))))?;
        let (found, slopes, left_over) = stroke.descend(first);
        let sum = square(&left_over);
        let variance = sum / (n as f64 - 5.0);
        // ln zeta = ln(2 zeta w) - ln(w^2) / 2 - ln 2.
        let [[a, b], [_, d]] = normal(&slopes);
        let spread = variance * (d + b + 0.25 * a) / (a * d - b * b);
        let omega_radps = (0.5 * found[1]).exp();
        let fit = Self {
            zeta: found[0].exp() / (2.0 * omega_radps),
            omega_radps,
            relative_error: spread.sqrt(),
            misfit_m: (sum / n as f64).sqrt(),
            creep_ratio: stroke.creep() / sum,
        };
        [fit.zeta, fit.omega_radps, fit.relative_error].iter().all(|x| x.is_finite()).then_some(fit)
    }
}

struct Stroke<'a> {
    past_m: &'a [f64],
    step_s: f64,
}

impl Stroke<'_> {
    /// What the best c, a and b leave over at ln(2 zeta w) and ln(w^2), the expected place of c last.
    fn left_over(&self, [damping, stiffness]: [f64; 2]) -> Vec<f64> {
        let half = 0.5 * damping.exp();
        let split = half * half - stiffness.exp();
        let root = split.abs().sqrt();
        let times = || (0..self.past_m.len()).map(|k| k as f64 * self.step_s);
        let (first, second) = if split < 0.0 {
            times()
                .map(|t| ((-half * t).exp() * (root * t).cos(), (-half * t).exp() * (root * t).sin()))
                .unzip()
        } else {
            times().map(|t| ((-(half - root) * t).exp(), (-(half + root) * t).exp())).unzip()
        };
        self.beside([first, second])
    }

    /// What is left over beside a constant and some columns.
    fn beside<const N: usize>(&self, columns: [Vec<f64>; N]) -> Vec<f64> {
        let weight = PLACE_WEIGHT * (self.past_m.len() as f64).sqrt();
        let mut constant = vec![1.0; self.past_m.len()];
        constant.push(weight);
        let mut rest = self.past_m.to_vec();
        rest.push(weight * SHIFT_M);
        // Each column less what those before it hold already (Gram-Schmidt), then taken out.
        let mut taken: Vec<Vec<f64>> = Vec::new();
        for mut column in std::iter::once(constant).chain(columns) {
            column.resize(rest.len(), 0.0);
            let size = square(&column);
            taken.iter().for_each(|before| take_out(&mut column, before));
            // Nothing of its own.
            if square(&column) <= 1e-16 * size {
                continue;
            }
            take_out(&mut rest, &column);
            taken.push(column);
        }
        rest
    }

    /// From a first guess to the least squares (Levenberg-Marquardt): place, slopes there, what is left over.
    fn descend(&self, first: [f64; 2]) -> ([f64; 2], [Vec<f64>; 2], Vec<f64>) {
        const STEP: f64 = 1e-4;
        let slopes_at = |at: [f64; 2]| {
            [0, 1].map(|k| {
                let moved = |by: f64| {
                    let mut at = at;
                    at[k] += by;
                    self.left_over(at)
                };
                let (up, down) = (moved(STEP), moved(-STEP));
                up.iter().zip(&down).map(|(u, d)| (u - d) / (2.0 * STEP)).collect()
            })
        };
        let (mut at, mut left_over) = (first, self.left_over(first));
        let mut slopes: [Vec<f64>; 2] = slopes_at(at);
        let mut caution = 1e-3;
        for _ in 0..STEPS {
            let [[a, b], [_, d]] = normal(&slopes);
            let [g, h] = [0, 1].map(|k| dot(&slopes[k], &left_over));
            let (a, d) = (a * (1.0 + caution), d * (1.0 + caution));
            let determinant = a * d - b * b;
            let step = [-(d * g - b * h) / determinant, -(a * h - b * g) / determinant];
            if !step.iter().all(|x| x.is_finite()) {
                break;
            }
            let next = [0, 1].map(|k| at[k] + step[k].clamp(-1.0, 1.0));
            let tried = self.left_over(next);
            if square(&tried) < square(&left_over) {
                (at, left_over) = (next, tried);
                slopes = slopes_at(at);
                caution = (caution / 5.0_f64).max(1e-9);
                if step.iter().all(|x| x.abs() < 1e-6) {
                    break;
                }
            } else {
                caution *= 5.0;
                if caution > 1e9 {
                    break;
                }
            }
        }
        (at, slopes, left_over)
    }

    /// Sum of squares that the best single exponential leaves over.
    fn creep(&self) -> f64 {
        let length_s = self.past_m.len() as f64 * self.step_s;
        let sum = |rate: f64| {
            let column =
                (0..self.past_m.len()).map(|k| (-rate.exp() * k as f64 * self.step_s).exp()).collect();
            square(&self.beside([column]))
        };
        // From a fifth of a time constant to fifty, then golden sections about the best.
        let rates: Vec<f64> =
            (0..40).map(|k| (0.2 / length_s).ln() + 250_f64.ln() * f64::from(k) / 39.0).collect();
        let apart = rates[1] - rates[0];
        let best = rates.into_iter().min_by(|a, b| sum(*a).total_cmp(&sum(*b))).unwrap_or_default();
        let (mut low, mut high) = (best - apart, best + apart);
        const GOLDEN: f64 = 0.618_033_988_749_895;
        for _ in 0..25 {
            let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            if sum(left) < sum(right) { high = right } else { low = left }
        }
        sum(0.5 * (low + high))
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn square(a: &[f64]) -> f64 {
    dot(a, a)
}

fn take_out(from: &mut [f64], column: &[f64]) {
    let share = dot(from, column) / square(column);
    from.iter_mut().zip(column).for_each(|(x, c)| *x -= share * c);
}

fn normal(slopes: &[Vec<f64>; 2]) -> [[f64; 2]; 2] {
    let [a, b] = slopes;
    [[square(a), dot(a, b)], [dot(a, b), square(b)]]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any vibration handbook: response of a released mass, under- and overdamped, from the closed form.
    #[test]
    fn the_closed_form_is_read_back() {
        let rate_hz = 500.0;
        for zeta in [0.2, 0.4, 0.7, 0.95, 1.2] {
            for omega in [10.0, 15.0, 25.0] {
                let (half, split) = (zeta * omega, omega * omega * (1.0_f64 - zeta * zeta));
                let root = split.abs().sqrt();
                let past = |t: f64| {
                    let (c, s) = if split > 0.0 {
                        ((root * t).cos(), (root * t).sin())
                    } else {
                        ((root * t).cosh(), (root * t).sinh())
                    };
                    SHIFT_M + 0.05 * (-half * t).exp() * (c + half / root * s)
                };
                // Half a swing; what creeps is watched for as long.
                let length_s = if zeta < 0.8 { 3.1 / root } else { 5.0 / omega };
                let past_m: Vec<f64> =
                    (15..(length_s * rate_hz) as usize).map(|k| past(k as f64 / rate_hz)).collect();
                let found = FreeRebound::fit(&past_m, rate_hz).unwrap();
                assert!((found.zeta / zeta - 1.0).abs() < 0.01, "{zeta} {omega}: {found:?}");
                assert!((found.omega_radps / omega - 1.0).abs() < 0.01, "{zeta} {omega}: {found:?}");
                assert!(found.misfit_m < 1e-5 && found.creep_ratio > 2.0, "{zeta} {omega}: {found:?}");
            }
        }
    }

    #[test]
    fn one_creeping_exponential_tells_no_ratio() {
        let past_m: Vec<f64> = (0..300).map(|k| 0.05 * (-f64::from(k) / 60.0).exp()).collect();
        let found = FreeRebound::fit(&past_m, 500.0);
        assert!(found.is_none_or(|fit| fit.creep_ratio < 1.5 || fit.zeta > 1.5), "{found:?}");
    }

    #[test]
    fn too_little_is_nothing() {
        assert_eq!(FreeRebound::fit(&[0.05; 11], 500.0), None);
        assert_eq!(FreeRebound::fit(&[f64::NAN; 50], 500.0), None);
        assert!(FreeRebound::fit(&[0.0; 50], 500.0).is_none_or(|found| found.zeta.is_finite()));
    }
}
