//! From the lever to the caliper: a hose that gives, pads that have to be met, and a frame that flexes.

/// One hydraulic disc brake.
#[derive(Clone, Copy, Debug)]
pub struct Brake {
    /// Lag of the caliper's pressure behind the lever's: the hose swells first.
    pub lag_s: f64,
    /// Pressure at which the pads reach the disc.
    pub touch_bar: f64,
    /// Frame and axle flex under a load from the side, the disc leans on one pad or the other and pushes its piston
    /// back: pressure per lateral acceleration of the frame, to either side.
    pub flex_bar_per_mps2: f64,
    /// The same per lean, from the hose's bend.
    pub flex_bar_per_rad: f64,
}

impl Brake {
    /// Pressure that makes torque: what is left once the pads are on the disc.
    pub fn working_bar(&self, pressure_bar: f64) -> f64 {
        (pressure_bar - self.touch_bar).max(0.0)
    }
}

/// Pressure in one brake's line over time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Line {
    from_lever_bar: f64,
}

impl Line {
    /// Pressure at the caliper after one more period with the lever at a pressure.
    pub fn follow(
        &mut self,
        brake: &Brake,
        lever_bar: f64,
        lateral_mps2: f64,
        lean_rad: f64,
        period_s: f64,
    ) -> f64 {
        self.from_lever_bar += (lever_bar - self.from_lever_bar) * (period_s / brake.lag_s).min(1.0);
        self.from_lever_bar
            + brake.flex_bar_per_mps2 * lateral_mps2.abs()
            + brake.flex_bar_per_rad * lean_rad.abs()
    }
}
