//! Vectors and rotations in three dimensions, as far as attitude needs them.

/// x, y, z.
pub(crate) type Vector = [f64; 3];

pub(crate) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(crate) fn norm(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

pub(crate) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// `a + factor * b`.
pub(crate) fn add_scaled(a: Vector, factor: f64, b: Vector) -> Vector {
    [a[0] + factor * b[0], a[1] + factor * b[1], a[2] + factor * b[2]]
}

/// A rotation, as a unit quaternion `w + xi + yj + zk`: takes vectors from the turned frame into
/// the frame it was turned from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rotation {
    w: f64,
    v: Vector,
}

/// Yaw, pitch and roll of ISO 8855, rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct YawPitchRoll {
    pub yaw: f64,
    pub pitch: f64,
    pub roll: f64,
}

impl Rotation {
    pub const NONE: Self = Self { w: 1.0, v: [0.0; 3] };

    /// A turn about the direction of `vector`, by its length in rad.
    pub fn from_vector(vector: Vector) -> Self {
        let quarter_square = 0.25 * dot(vector, vector);
        if quarter_square < 1e-3 {
            // Turns from sample to sample: the series is exact to rounding, and fast.
            let h = quarter_square;
            let w = 1.0 - h / 2.0 * (1.0 - h / 12.0 * (1.0 - h / 30.0));
            let sine_over_angle = 0.5 * (1.0 - h / 6.0 * (1.0 - h / 20.0 * (1.0 - h / 42.0)));
            return Self { w, v: vector.map(|c| c * sine_over_angle) };
        }
        let half = quarter_square.sqrt();
        let sine_over_angle = 0.5 * half.sin() / half;
        Self { w: half.cos(), v: vector.map(|c| c * sine_over_angle) }
    }

    /// The smallest turn that brings the direction of `from` onto that of `to`.
    pub fn between(from: Vector, to: Vector) -> Self {
        let w = norm(from) * norm(to) + dot(from, to);
        let v = cross(from, to);
        if w > 1e-9 * norm(from) * norm(to) {
            return Self { w, v }.normalised();
        }
        // Opposite directions: half a turn about anything at right angles.
        let aside = if from[0].abs() < 0.9 * norm(from) { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
        let v = cross(from, aside);
        if norm(v) > 0.0 { Self { w: 0.0, v }.normalised() } else { Self::NONE }
    }

    /// First `inner`, then `self`.
    pub fn after(self, inner: Self) -> Self {
        let (a, b) = (self, inner);
        let v = add_scaled(cross(a.v, b.v), a.w, b.v);
        Self { w: a.w * b.w - dot(a.v, b.v), v: add_scaled(v, b.w, a.v) }
    }

    /// Takes out the rounding that many products leave.
    pub fn normalised(self) -> Self {
        let scale = 1.0 / (self.w * self.w + dot(self.v, self.v)).sqrt();
        Self { w: self.w * scale, v: self.v.map(|c| c * scale) }
    }

    pub fn apply(self, vector: Vector) -> Vector {
        let t = cross(self.v, vector).map(|c| 2.0 * c);
        add_scaled(add_scaled(vector, self.w, t), 1.0, cross(self.v, t))
    }

    /// The turned frame's x, y and z axes.
    pub fn axes(self) -> [Vector; 3] {
        let (w, [x, y, z]) = (self.w, self.v);
        [
            [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y + w * z), 2.0 * (x * z - w * y)],
            [2.0 * (x * y - w * z), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z + w * x)],
            [2.0 * (x * z + w * y), 2.0 * (y * z - w * x), 1.0 - 2.0 * (x * x + y * y)],
        ]
    }

    pub fn yaw_pitch_roll(self) -> YawPitchRoll {
        let [x, y, z] = self.axes();
        YawPitchRoll { yaw: x[1].atan2(x[0]), pitch: (-x[2]).clamp(-1.0, 1.0).asin(), roll: y[2].atan2(z[2]) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    fn close(a: Vector, b: Vector) {
        assert!(norm(add_scaled(a, -1.0, b)) < 1e-12, "{a:?} is not {b:?}");
    }

    #[test]
    fn a_quarter_turn_left_takes_forward_to_left() {
        let left = Rotation::from_vector([0.0, 0.0, FRAC_PI_2]);
        close(left.apply([1.0, 0.0, 0.0]), [0.0, 1.0, 0.0]);
        close(left.axes()[0], [0.0, 1.0, 0.0]);
        assert!((left.yaw_pitch_roll().yaw - FRAC_PI_2).abs() < 1e-12);
    }

    #[test]
    fn small_turns_follow_the_same_law_as_large_ones() {
        let small = Rotation::from_vector([0.03, -0.04, 0.02]);
        let twice = Rotation::from_vector([0.06, -0.08, 0.04]);
        close(small.apply(small.apply([1.0, 2.0, 3.0])), twice.apply([1.0, 2.0, 3.0]));
    }

    #[test]
    fn angles_come_back_from_their_three_turns() {
        let turn = |axis: usize, angle: f64| {
            let mut vector = [0.0; 3];
            vector[axis] = angle;
            Rotation::from_vector(vector)
        };
        let angles = turn(2, -2.5).after(turn(1, 0.4)).after(turn(0, -0.7)).yaw_pitch_roll();
        assert!((angles.yaw + 2.5).abs() < 1e-12);
        assert!((angles.pitch - 0.4).abs() < 1e-12);
        assert!((angles.roll + 0.7).abs() < 1e-12);
    }

    #[test]
    fn the_smallest_turn_meets_its_target() {
        for from in [[0.3, -0.4, 1.0], [0.0, 0.0, -2.0], [-1.0, 0.0, 0.0]] {
            let met = Rotation::between(from, [0.0, 0.0, 3.0]).apply(from);
            close(met, [0.0, 0.0, norm(from)]);
        }
    }
}
