//! The bike's geometry as it is drawn from the side.

use evenkeel_core::{Bike, End};

use super::CM;

/// A point of the picture: centimetres, y down, the axles at full extension on y = 0.
pub type Point = (f64, f64);

/// The bike moving to the right.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Geometry {
    wheelbase_m: f64,
    sin: f64,
    cos: f64,
    radius_m: [f64; 2],
}

/// The frame's points; fork angle and wheelbase are the bike's, the rest is a sketch in proportion to them.
#[derive(Clone, Copy)]
pub struct Frame {
    pub head: Point,
    pub crank: Point,
    pub saddle: Point,
    pub pivot: Point,
    pub crown: Point,
    pub bar: Point,
}

impl Geometry {
    pub fn of(bike: &Bike) -> Self {
        let (sin, cos) = bike.head_angle_rad.sin_cos();
        let radius_m =
            [End::Front, End::Rear].map(|end| bike.wheel(end).circumference_m / std::f64::consts::TAU);
        Self { wheelbase_m: bike.wheelbase_m, sin, cos, radius_m }
    }

    pub fn wheel_radius(self, end: End) -> f64 {
        self.radius_m[end as usize] * CM
    }

    /// Where an axle stands at some travel: the front goes along the fork, the rear straight up.
    pub fn axle(self, end: End, travel_m: f64) -> Point {
        match end {
            End::Front => self.along_fork(travel_m),
            End::Rear => (0.0, -travel_m * CM),
        }
    }

    /// A point along the fork's axis, metres above the front axle at full extension.
    fn along_fork(self, m: f64) -> Point {
        ((self.wheelbase_m - m * self.cos) * CM, -m * self.sin * CM)
    }

    pub fn frame(self) -> Frame {
        let wb = self.wheelbase_m * CM;
        Frame {
            head: self.along_fork(0.68),
            crank: (0.37 * wb, -2.0),
            saddle: (0.28 * wb, -42.0),
            pivot: (0.36 * wb, -9.0),
            crown: self.along_fork(0.62),
            bar: self.along_fork(0.86),
        }
    }

    /// Turns the picture nose down about the middle of the wheelbase.
    pub fn turned(self, pitch_rad: f64) -> String {
        format!("rotate({:.3} {:.1} 0)", pitch_rad.to_degrees(), self.wheelbase_m / 2.0 * CM)
    }
}
