//! Springs, dampers, friction and stops. Forces resist compression when positive; speeds are + compression.

const ATMOSPHERE_BAR: f64 = 1.013;

/// An air spring with a negative chamber that balances it at full extension.
#[derive(Clone, Copy, Debug)]
pub struct AirSpring {
    /// Pressure over the atmosphere's, at full extension.
    pub pressure_bar: f64,
    /// Piston area.
    pub area_m2: f64,
    /// Length of the positive chamber at full extension.
    pub positive_length_m: f64,
    /// Length of the negative chamber at full extension.
    pub negative_length_m: f64,
    /// Polytropic exponent, between slow (1.0) and adiabatic (1.4).
    pub polytropic_exponent: f64,
}

impl AirSpring {
    fn force_n(&self, travel_m: f64) -> f64 {
        let pressure_pa = (self.pressure_bar + ATMOSPHERE_BAR) * 1e5;
        let travel_m = travel_m.clamp(-0.8 * self.negative_length_m, 0.95 * self.positive_length_m);
        let positive = self.positive_length_m / (self.positive_length_m - travel_m);
        let negative = self.negative_length_m / (self.negative_length_m + travel_m);
        pressure_pa
            * self.area_m2
            * (libm::pow(positive, self.polytropic_exponent) - libm::pow(negative, self.polytropic_exponent))
    }
}

/// What carries the load.
#[derive(Clone, Copy, Debug)]
pub enum Spring {
    /// Air.
    Air(AirSpring),
    /// A steel coil of constant rate.
    Coil {
        /// Spring rate.
        rate_n_per_m: f64,
        /// Force at full extension.
        preload_n: f64,
    },
}

impl Spring {
    /// Force at a compression.
    pub fn force_n(&self, compression_m: f64) -> f64 {
        match self {
            Self::Air(air) => air.force_n(compression_m),
            Self::Coil { rate_n_per_m, preload_n } => preload_n + rate_n_per_m * compression_m,
        }
    }

    /// The same spring with another share of its force everywhere: of the air in both chambers, or of the coil.
    #[must_use]
    pub fn scaled(&self, share: f64) -> Self {
        match *self {
            Self::Air(air) => Self::Air(AirSpring {
                pressure_bar: (air.pressure_bar + ATMOSPHERE_BAR) * share - ATMOSPHERE_BAR,
                ..air
            }),
            Self::Coil { rate_n_per_m, preload_n } => {
                Self::Coil { rate_n_per_m: rate_n_per_m * share, preload_n: preload_n * share }
            }
        }
    }
}

/// How a damper's force grows with speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DamperLaw {
    /// Two slopes, one bending into the other around the knee.
    Bent,
    /// A power of the speed below 1, so ever flatter; at the knee it meets the slow slope. The fast slopes do not
    /// count.
    Power {
        /// Exponent.
        exponent: f64,
    },
}

/// A damper whose slope bends from its slow to its fast value around the knee.
#[derive(Clone, Copy, Debug)]
pub struct Damper {
    /// Slope at low compression speed.
    pub compression_slow_n_s_per_m: f64,
    /// Slope at high compression speed.
    pub compression_fast_n_s_per_m: f64,
    /// Slope at low rebound speed.
    pub rebound_slow_n_s_per_m: f64,
    /// Slope at high rebound speed.
    pub rebound_fast_n_s_per_m: f64,
    /// Speed around which slow turns into fast.
    pub knee_mps: f64,
    /// Shape of the law.
    pub law: DamperLaw,
}

impl Damper {
    /// No damping at all, for checks of energy.
    pub const NONE: Self = Self {
        compression_slow_n_s_per_m: 0.0,
        compression_fast_n_s_per_m: 0.0,
        rebound_slow_n_s_per_m: 0.0,
        rebound_fast_n_s_per_m: 0.0,
        knee_mps: 1.0,
        law: DamperLaw::Bent,
    };

    /// Force at a speed.
    pub fn force_n(&self, speed_mps: f64) -> f64 {
        let (slow, fast) = if speed_mps > 0.0 {
            (self.compression_slow_n_s_per_m, self.compression_fast_n_s_per_m)
        } else {
            (self.rebound_slow_n_s_per_m, self.rebound_fast_n_s_per_m)
        };
        match self.law {
            DamperLaw::Bent => {
                fast * speed_mps + (slow - fast) * self.knee_mps * smooth_sign(speed_mps, self.knee_mps)
            }
            DamperLaw::Power { exponent } => {
                // A power below 1 is infinitely steep at rest; here it ends in a straight line below a tenth of the knee.
                let knee = speed_mps / self.knee_mps;
                slow * self.knee_mps * knee * libm::pow(knee * knee + 0.01, 0.5 * (exponent - 1.0))
            }
        }
    }

    /// The same damper with its rebound slopes multiplied.
    #[must_use]
    pub fn with_rebound(&self, factor: f64) -> Self {
        Self {
            rebound_slow_n_s_per_m: factor * self.rebound_slow_n_s_per_m,
            rebound_fast_n_s_per_m: factor * self.rebound_fast_n_s_per_m,
            ..*self
        }
    }

    /// The same damper with its compression slopes multiplied.
    #[must_use]
    pub fn with_compression(&self, factor: f64) -> Self {
        Self {
            compression_slow_n_s_per_m: factor * self.compression_slow_n_s_per_m,
            compression_fast_n_s_per_m: factor * self.compression_fast_n_s_per_m,
            ..*self
        }
    }
}

/// Rubber at both ends of the stroke.
#[derive(Clone, Copy, Debug)]
pub struct Stops {
    /// Full stroke of the unit.
    pub stroke_m: f64,
    /// Length of the bump stop.
    pub bump_length_m: f64,
    /// Force of the bump stop when the stroke is used up; it grows with the square of its compression.
    pub bump_force_n: f64,
    /// Length of the top-out rubber.
    pub top_out_length_m: f64,
    /// Force of the top-out rubber at full extension, also square.
    pub top_out_force_n: f64,
    /// Stiffness beyond either end.
    pub end_rate_n_per_m: f64,
    /// Damping while beyond either end.
    pub end_damping_n_s_per_m: f64,
}

impl Stops {
    /// Force at a compression and its speed.
    pub fn force_n(&self, compression_m: f64, speed_mps: f64) -> f64 {
        let bump = ((compression_m - self.stroke_m) / self.bump_length_m + 1.0).max(0.0);
        let top_out = (1.0 - compression_m / self.top_out_length_m).max(0.0);
        let beyond_m = (compression_m - self.stroke_m).max(0.0) + compression_m.min(0.0);
        let damping_n = if beyond_m == 0.0 { 0.0 } else { self.end_damping_n_s_per_m * speed_mps };
        self.bump_force_n * bump * bump - self.top_out_force_n * top_out * top_out
            + self.end_rate_n_per_m * beyond_m
            + damping_n
    }
}

/// One spring-damper unit in its own stroke.
#[derive(Clone, Copy, Debug)]
pub struct Unit {
    /// Spring.
    pub spring: Spring,
    /// Damper.
    pub damper: Damper,
    /// Stops.
    pub stops: Stops,
    /// Dry friction of seals and bushings.
    pub friction_n: f64,
}

impl Unit {
    /// Elastic part of the force: what would be given back.
    pub fn elastic_force_n(&self, compression_m: f64) -> f64 {
        self.spring.force_n(compression_m) + self.stops.force_n(compression_m, 0.0)
    }

    /// Whole force.
    pub fn force_n(&self, compression_m: f64, speed_mps: f64) -> f64 {
        const FRICTION_KNEE_MPS: f64 = 0.01;
        self.spring.force_n(compression_m)
            + self.stops.force_n(compression_m, speed_mps)
            + self.damper.force_n(speed_mps)
            + self.friction_n * smooth_sign(speed_mps, FRICTION_KNEE_MPS)
    }
}

/// -1 to 1 without a jump, and without a transcendental function.
fn smooth_sign(value: f64, knee: f64) -> f64 {
    value / (value * value + knee * knee).sqrt()
}

/// Rear linkage whose leverage ratio falls linearly over the shock's stroke:
/// `axle = initial * stroke - fall/2 * stroke^2`.
#[derive(Clone, Copy, Debug)]
pub struct Linkage {
    /// Leverage ratio at full extension.
    pub initial_ratio: f64,
    /// By how much the ratio falls per metre of stroke.
    pub ratio_fall_per_m: f64,
}

impl Linkage {
    /// d(axle travel)/d(stroke) at an axle travel.
    pub fn ratio(&self, axle_travel_m: f64) -> f64 {
        (self.initial_ratio * self.initial_ratio - 2.0 * self.ratio_fall_per_m * axle_travel_m)
            .max(0.1)
            .sqrt()
    }

    /// Shock stroke at an axle travel.
    pub fn stroke_m(&self, axle_travel_m: f64) -> f64 {
        (self.initial_ratio - self.ratio(axle_travel_m)) / self.ratio_fall_per_m
    }

    /// Axle travel at a shock stroke.
    pub fn axle_travel_m(&self, stroke_m: f64) -> f64 {
        self.initial_ratio * stroke_m - 0.5 * self.ratio_fall_per_m * stroke_m * stroke_m
    }
}
