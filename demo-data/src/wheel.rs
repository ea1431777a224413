//! A wheel that spins, the tyre's grip on the ground, and what a brake does to it.
//!
//! Whether a wheel rolls, slides or locks is nowhere decided: a brake's torque works against what the tyre can hold,
//! and the tyre holds as much as its load and its slip let it.

/// Grip of a tyre over its slip: the Magic Formula `mu sin(C atan(B s))` with `C = 3/2` and no curvature term
/// (Bakker, Nyborg and Pacejka 1987), the same for both directions along the slip vector (similarity method,
/// Pacejka 2012, section 4.3.2), behind a relaxation length (section 7.2).
#[derive(Clone, Copy, Debug)]
pub struct Grip {
    /// Largest friction force over load.
    pub peak_friction: f64,
    /// Slip at which it is reached.
    pub peak_slip: f64,
    /// Way over which the tyre's deflection follows the slip.
    pub relaxation_m: f64,
    /// Lag of the force behind the deflection's rate; it calms the tyre where it does not roll.
    pub damping_s: f64,
}

impl Grip {
    /// `B`: the peak is where `C atan(B s)` is a right angle, `B s = tan 60 degrees`.
    fn steepness(&self) -> f64 {
        3.0_f64.sqrt() / self.peak_slip
    }

    /// Friction force over load per slip. With `C = 3/2` the formula needs no transcendental function:
    /// `sin(3 a / 2) = sin a cos(a/2) + cos a sin(a/2)`.
    fn per_slip(&self, slip: f64) -> f64 {
        let steepness = self.steepness();
        let tan = steepness * slip;
        let cos = 1.0 / (1.0 + tan * tan).sqrt();
        let half_cos = (0.5 * (1.0 + cos)).sqrt();
        self.peak_friction * steepness * cos * (half_cos + 0.5 * cos / half_cos)
    }

    /// Friction force over load at a slip.
    pub fn friction(&self, slip: f64) -> f64 {
        self.per_slip(slip.abs()) * slip
    }

    /// Friction of a tyre that slides altogether.
    pub fn sliding_friction(&self) -> f64 {
        self.friction(1.0)
    }

    /// d(force)/d(slip) over load where the tyre does not slide yet.
    pub fn stiffness(&self) -> f64 {
        self.per_slip(0.0)
    }
}

/// State of one wheel and its tyre.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spin {
    /// Angle turned since the start.
    pub angle_rad: f64,
    /// d(angle)/dt, + rolling forward.
    pub speed_radps: f64,
    /// Deflection of the tyre along the wheel, + braking.
    pub along_m: f64,
    /// Deflection of the tyre across the wheel, + to the left.
    pub across_m: f64,
}

impl Spin {
    pub(crate) fn plus(&self, rate: &Self, step_s: f64) -> Self {
        Self {
            angle_rad: self.angle_rad + step_s * rate.angle_rad,
            speed_radps: self.speed_radps + step_s * rate.speed_radps,
            along_m: self.along_m + step_s * rate.along_m,
            across_m: self.across_m + step_s * rate.across_m,
        }
    }
}

/// How the axle moves over the ground, and what presses and turns the wheel.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rolling {
    /// Speed of the axle along the ground under it.
    pub axle_mps: f64,
    /// Speed of the contact across the wheel, + to the left.
    pub across_mps: f64,
    /// Force that presses the tyre to the ground, normal to it.
    pub pressing_n: f64,
    /// Largest torque of the brake.
    pub brake_nm: f64,
    /// Largest torque of the rolling resistance.
    pub resistance_nm: f64,
    /// Torque of the chain, + forward.
    pub drive_nm: f64,
}

/// What wheel and tyre do then.
#[derive(Clone, Copy, Debug, Default)]
pub struct Traction {
    /// Force of the ground along the wheel, + slowing the bike.
    pub along_n: f64,
    /// Force of the ground across the wheel, + to the left.
    pub across_n: f64,
    /// Torque that the brake really gives, + slowing a wheel that rolls forward.
    pub brake_nm: f64,
    /// d(state)/dt.
    pub rate: Spin,
}

/// Below this a relaxation length says too little (Pacejka 2012, section 8.6): a tyre that hardly rolls is a spring, deflects
/// no further than to its best grip, and is damped.
const SLOW_MPS: f64 = 1.5;
/// Rate at which it gives way beyond.
const GIVING_WAY_PER_S: f64 = 100.0;
/// Its damping where it stands, over that where it rolls.
const STANDING_DAMPING: f64 = 9.0;

/// Forces and rates of one wheel.
pub fn traction(grip: &Grip, inertia_kg_m2: f64, radius_m: f64, spin: &Spin, rolling: &Rolling) -> Traction {
    let slide_mps = rolling.axle_mps - radius_m * spin.speed_radps;
    // Rolling off the deflection; a wheel that spins or slides faster than the bike rolls does so too, so that the
    // slip never goes beyond one.
    let rolled_off_per_s =
        rolling.axle_mps.abs().max(slide_mps.abs()).max(rolling.across_mps.abs()) / grip.relaxation_m;
    let standing = (1.0 - rolling.axle_mps.abs() / SLOW_MPS).max(0.0);
    let deflection_m = (spin.along_m * spin.along_m + spin.across_m * spin.across_m).sqrt();
    let most_m = grip.relaxation_m * (1.0 - standing * (1.0 - grip.peak_slip));
    let beyond = (1.0 - most_m / deflection_m.max(most_m)).max(0.0);
    let off_per_s = rolled_off_per_s + GIVING_WAY_PER_S * beyond;
    let along_rate = slide_mps - off_per_s * spin.along_m;
    let across_rate = rolling.across_mps - off_per_s * spin.across_m;
    let damping_s = grip.damping_s * (1.0 + STANDING_DAMPING * standing);
    let along_slip = (spin.along_m + damping_s * along_rate) / grip.relaxation_m;
    let across_slip = (spin.across_m + damping_s * across_rate) / grip.relaxation_m;
    let slip = (along_slip * along_slip + across_slip * across_slip).sqrt();
    let force_n = rolling.pressing_n * grip.per_slip(slip);
    let along_n = force_n * along_slip;
    let turning_nm = radius_m * along_n + rolling.drive_nm;
    // Dry friction: against the turning, and at rest as much as it takes to stay there.
    let holding_nm = rolling.brake_nm + rolling.resistance_nm;
    let held_nm = if spin.speed_radps > 0.0 {
        holding_nm
    } else if spin.speed_radps < 0.0 {
        -holding_nm
    } else {
        turning_nm.clamp(-holding_nm, holding_nm)
    };
    Traction {
        along_n,
        across_n: -force_n * across_slip,
        brake_nm: if holding_nm > 0.0 { held_nm * rolling.brake_nm / holding_nm } else { 0.0 },
        rate: Spin {
            angle_rad: spin.speed_radps,
            speed_radps: (turning_nm - held_nm) / inertia_kg_m2,
            along_m: along_rate,
            across_m: across_rate,
        },
    }
}

/// A brake stops a wheel, and only the tyre can start it again: a step that would have turned it through zero ends there.
pub(crate) fn stopped(before: &Spin, after: Spin) -> Spin {
    if before.speed_radps * after.speed_radps < 0.0 { Spin { speed_radps: 0.0, ..after } } else { after }
}
