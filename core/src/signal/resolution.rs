//! How finely a sensor resolves what it measures, from its own samples.

use super::percentile;

/// Noise is judged in windows of this many samples.
const WINDOW: usize = 64;
/// The quietest windows show the noise: this percentile of them.
const QUIET_PERCENT: f64 = 10.0;

/// What a sensor can tell apart.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Resolution {
    /// The smallest step between neighbouring samples: a count of its converter, or the last digit of its
    /// log, whichever is coarser. `None` if it never moves.
    pub step: Option<f64>,
    /// Standard deviation of its white noise where it is quietest. `None` below 64 samples.
    pub noise_sd: Option<f64>,
}

impl Resolution {
    /// Looks at samples at the rate at which they were taken; missing ones are left out.
    ///
    /// White noise has second differences of variance 6 sd^2; motion has hardly any where it is quiet.
    pub fn of(samples: &[f32]) -> Self {
        let finite: Vec<f32> = samples.iter().copied().filter(|v| v.is_finite()).collect();
        let step = finite
            .windows(2)
            .map(|pair| (f64::from(pair[1]) - f64::from(pair[0])).abs())
            .filter(|step| *step > 0.0)
            .reduce(f64::min);
        let sds: Vec<f64> = finite
            .chunks_exact(WINDOW)
            .map(|window| {
                let bends = window.windows(3).map(|w| f64::from(w[0] - 2.0 * w[1] + w[2]).powi(2));
                (bends.sum::<f64>() / (WINDOW - 2) as f64 / 6.0).sqrt()
            })
            .collect();
        Self { step, noise_sd: percentile(&sds, QUIET_PERCENT) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::Random;

    #[test]
    fn counts_and_noise_are_found_beside_motion() {
        let mut random = Random::seeded(5);
        // Uniform noise of width w has a standard deviation of w / sqrt 12, counts of c add c^2 / 12.
        let samples: Vec<f32> = (0..20_000)
            .map(|i| {
                let motion = if i % 2000 < 1000 { 0.0 } else { (f64::from(i) * 0.05).sin() * 50.0 };
                ((motion + 3.0 * random.share()) / 0.25).round() as f32 * 0.25
            })
            .collect();
        let found = Resolution::of(&samples);
        assert_eq!(found.step, Some(0.25));
        let expected = ((9.0 + 0.25_f64.powi(2)) / 12.0).sqrt();
        let ratio = found.noise_sd.unwrap() / expected;
        // The quietest tenth of windows of 64 lies below the mean.
        assert!((0.75..1.0).contains(&ratio), "{ratio}");
    }

    #[test]
    fn what_never_moves_has_no_step() {
        assert_eq!(Resolution::of(&[2.0; 70]), Resolution { step: None, noise_sd: Some(0.0) });
        assert_eq!(Resolution::of(&[f32::NAN; 70]), Resolution::default());
    }
}
