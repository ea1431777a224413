//! Seeded randomness that is the same on every machine.

/// PCG-XSH-RR 64/32 (O'Neill 2014), small enough to keep here.
#[derive(Clone, Debug)]
pub struct Random {
    state: u64,
    increment: u64,
    spare_normal: Option<f64>,
}

impl Random {
    /// A generator for one purpose: the same seed with another stream gives an unrelated sequence.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut random = Self { state: 0, increment: (stream << 1) | 1, spare_normal: None };
        random.next_u32();
        random.state = random.state.wrapping_add(seed);
        random.next_u32();
        random
    }

    fn next_u32(&mut self) -> u32 {
        let old = self.state;
        self.state = old.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(self.increment);
        let shifted = (((old >> 18) ^ old) >> 27) as u32;
        shifted.rotate_right((old >> 59) as u32)
    }

    /// Uniform in `0..1`, never 0.
    pub fn unit(&mut self) -> f64 {
        (f64::from(self.next_u32()) + 0.5) / 4_294_967_296.0
    }

    /// Uniform between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        let radius = (-2.0 * libm::log(self.unit())).sqrt();
        let (sin, cos) = libm::sincos(std::f64::consts::TAU * self.unit());
        self.spare_normal = Some(radius * sin);
        radius * cos
    }
}

/// Slow unrest of a person: a few sines with random frequency and phase, smooth and a function of time alone.
#[derive(Clone, Debug)]
pub struct Unrest {
    waves: Vec<(f64, f64)>,
    amplitude: f64,
}

impl Unrest {
    /// Unrest of the given RMS value between two frequencies.
    pub fn new(random: &mut Random, rms: f64, low_hz: f64, high_hz: f64) -> Self {
        const WAVES: usize = 7;
        let waves = (0..WAVES)
            .map(|_| {
                let frequency_hz = random.between(low_hz, high_hz);
                (std::f64::consts::TAU * frequency_hz, random.between(0.0, std::f64::consts::TAU))
            })
            .collect();
        Self { waves, amplitude: rms * (2.0 / WAVES as f64).sqrt() }
    }

    /// Value at a time.
    pub fn at(&self, time_s: f64) -> f64 {
        self.amplitude * self.waves.iter().map(|(rate, phase)| libm::sin(rate * time_s + phase)).sum::<f64>()
    }
}
