//! The bike's geometry: what travel and speed need to know about it.

use serde::{Deserialize, Serialize};

use crate::calibrate::Linkage;
use crate::role::End;

/// One bike, at full extension, from the maker's sheet or a tape measure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bike {
    /// What its owner calls it.
    pub name: String,
    /// Fork angle from the horizontal, rad.
    pub head_angle_rad: f64,
    /// Wheelbase at full extension, m.
    pub wheelbase_m: f64,
    /// Full axle travel of the fork, along the fork, m.
    pub front_travel_m: f64,
    /// Full rear axle travel, vertical, m.
    pub rear_travel_m: f64,
    /// From shock stroke to rear axle travel, where the shock is what is measured.
    pub linkage: Option<Linkage>,
    /// Front wheel.
    pub front_wheel: Wheel,
    /// Rear wheel.
    pub rear_wheel: Wheel,
    /// What the front brake may show with its lever off.
    #[serde(default)]
    pub front_residual: ResidualAllowance,
    /// What the rear brake may show with its lever off.
    #[serde(default)]
    pub rear_residual: ResidualAllowance,
}

/// How much pressure a brake may show with its lever off before its owner wants to hear of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ResidualAllowance {
    /// RMS pressure, Pa.
    pub rms_pa: f64,
    /// The owner has looked, found no rub, and takes what is within it as this frame's own.
    #[serde(default)]
    pub accepted: bool,
}

impl Default for ResidualAllowance {
    /// 0.2 bar, a fifth of what counts as braking, not accepted (common practice: frames flex, so some is
    /// normal).
    fn default() -> Self {
        Self { rms_pa: 0.2e5, accepted: false }
    }
}

/// What turns a wheel's turning into a speed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Wheel {
    /// Rolling circumference, m.
    pub circumference_m: f64,
    /// Sensor pulses per turn.
    pub pulses_per_turn: f64,
}

impl Wheel {
    /// Circumference from the tyre's ISO 5775 mark, `width-bead` in mm: pi (bead + 2 width).
    pub fn from_tyre_mark(width_mm: f64, bead_mm: f64, pulses_per_turn: f64) -> Self {
        let circumference_m = std::f64::consts::PI * (bead_mm + 2.0 * width_mm) / 1000.0;
        Self { circumference_m, pulses_per_turn }
    }

    /// Way from one pulse to the next, m.
    pub fn pulse_m(&self) -> f64 {
        self.circumference_m / self.pulses_per_turn
    }
}

impl Bike {
    /// Full travel of one end, m.
    pub fn travel_m(&self, end: End) -> f64 {
        match end {
            End::Front => self.front_travel_m,
            End::Rear => self.rear_travel_m,
        }
    }

    /// What the brake at one end may show with its lever off.
    pub fn residual_allowance(&self, end: End) -> ResidualAllowance {
        match end {
            End::Front => self.front_residual,
            End::Rear => self.rear_residual,
        }
    }

    /// The wheel at one end.
    pub fn wheel(&self, end: End) -> Wheel {
        match end {
            End::Front => self.front_wheel,
            End::Rear => self.rear_wheel,
        }
    }
}

impl Default for Bike {
    /// A common downhill bike, to be replaced by the owner's: 200 mm at both ends, 63 deg, 1250 mm.
    fn default() -> Self {
        let wheel = Wheel::from_tyre_mark(61.0, 622.0, 1.0);
        Self {
            name: String::new(),
            head_angle_rad: 63_f64.to_radians(),
            wheelbase_m: 1.25,
            front_travel_m: 0.2,
            rear_travel_m: 0.2,
            linkage: None,
            front_wheel: wheel,
            rear_wheel: wheel,
            front_residual: ResidualAllowance::default(),
            rear_residual: ResidualAllowance::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 5775 marks; the formula's own values, in whole millimetres.
    #[test]
    fn circumference_from_tyre_mark() {
        for (width, bead, expected_mm) in [(61.0, 622.0, 2337.0), (63.0, 584.0, 2231.0)] {
            let wheel = Wheel::from_tyre_mark(width, bead, 1.0);
            assert_eq!((wheel.circumference_m * 1000.0).round(), expected_mm);
        }
    }
}
