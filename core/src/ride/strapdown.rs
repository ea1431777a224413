//! Strapdown integration: turn rates summed into an orientation, and specific force seen from there.

use crate::rotation::{Rotation, Vector, add_scaled, norm};

/// What happened between two knots, seen in the integrated frame.
///
/// That frame would not turn at all if the gyros had no error; as they have, it creeps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Interval {
    /// Length, s.
    pub duration_s: f64,
    /// Integral of specific force, m/s.
    pub specific_impulse: Vector,
    /// Integral of the bike's three axes, s: what a constant turn-rate error in bike axes adds up to.
    pub axes_s: [Vector; 3],
    /// Size of the mean turn rate, rad/s.
    pub turn_rate: f64,
    /// How much of it was bridged, s.
    pub bridged_s: f64,
}

/// Orientation at every sample, and the sums between knots.
pub(super) struct Strapdown {
    /// Bike axes to the integrated frame.
    pub orientation: Vec<Rotation>,
    /// One fewer than there are knots; knot `k` is sample `k * block`, the last one the last sample.
    pub intervals: Vec<Interval>,
}

impl Strapdown {
    /// Integrates `gyro - bias` from `start`, by the trapezoidal rule. There is at least one sample;
    /// `bridged` says which ones were not measured.
    pub fn integrate(
        accel: &[[f32; 3]],
        gyro: &[[f32; 3]],
        bridged: &[bool],
        rate_hz: f64,
        block: usize,
        bias: Vector,
        start: Rotation,
    ) -> Self {
        let dt = 1.0 / rate_hz;
        let mut orientation = Vec::with_capacity(accel.len());
        let mut intervals = Vec::with_capacity(accel.len() / block + 1);
        let mut now = start;
        let last = accel.len() - 1;
        let (mut axes, mut force) = (now.axes(), now.apply(accel[0].map(f64::from)));
        orientation.push(now);
        let mut sum = Interval::EMPTY;
        let mut turn = [0.0; 3];
        for i in 0..last {
            let [before, after] = [gyro[i], gyro[i + 1]].map(|rate| rate.map(f64::from));
            let rate = add_scaled(add_scaled(before, 1.0, after).map(|c| 0.5 * c), -1.0, bias);
            now = now.after(Rotation::from_vector(rate.map(|c| c * dt)));
            if i % block == 0 {
                now = now.normalised();
            }
            orientation.push(now);
            let next_axes = now.axes();
            let next_force =
                (0..3).fold([0.0; 3], |sum, c| add_scaled(sum, f64::from(accel[i + 1][c]), next_axes[c]));
            sum.duration_s += dt;
            if bridged[i] || bridged[i + 1] {
                sum.bridged_s += dt;
            }
            turn = add_scaled(turn, dt, rate);
            let mean_force = add_scaled(force, 1.0, next_force);
            sum.specific_impulse = add_scaled(sum.specific_impulse, 0.5 * dt, mean_force);
            for c in 0..3 {
                let mean_axis = add_scaled(axes[c], 1.0, next_axes[c]);
                sum.axes_s[c] = add_scaled(sum.axes_s[c], 0.5 * dt, mean_axis);
            }
            (axes, force) = (next_axes, next_force);
            if (i + 1) % block == 0 || i + 1 == last {
                sum.turn_rate = norm(turn) / sum.duration_s;
                intervals.push(sum);
                (sum, turn) = (Interval::EMPTY, [0.0; 3]);
            }
        }
        Self { orientation, intervals }
    }
}

impl Interval {
    const EMPTY: Self = Self {
        duration_s: 0.0,
        specific_impulse: [0.0; 3],
        axes_s: [[0.0; 3]; 3],
        turn_rate: 0.0,
        bridged_s: 0.0,
    };
}
