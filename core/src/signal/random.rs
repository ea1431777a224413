//! Reproducible random numbers, the same on every machine.

/// The splitmix64 generator (Steele, Lea and Flood 2014).
#[derive(Clone, Debug)]
pub struct Random {
    state: u64,
}

impl Random {
    /// The same numbers for the same seed.
    pub fn seeded(seed: u64) -> Self {
        Self { state: seed }
    }

    fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0..1, in steps of 2^-53.
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number below `n`, each as likely as the next to within `n / 2^64`; 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The generator's published first outputs for seed 1234567 (memory).
    #[test]
    fn the_generator_is_the_published_one() {
        let mut random = Random::seeded(1_234_567);
        assert_eq!([random.bits(), random.bits()], [6_457_827_717_110_365_317, 3_203_168_211_198_807_973]);
    }

    #[test]
    fn every_number_below_comes_equally_often() {
        let mut random = Random::seeded(1);
        let mut counts = [0_u32; 7];
        for _ in 0..70_000 {
            counts[random.below(7)] += 1;
        }
        // Binomial: 10 000 with a standard deviation of 93.
        assert!(counts.iter().all(|n| n.abs_diff(10_000) < 400), "{counts:?}");
        assert_eq!(random.below(0), 0);
    }
}
