//! A Kalman smoother for what strapdown integration leaves open: which way is up in the integrated
//! frame, how fast the bike moves, and how large the gyros' offset is.
//!
//! State, all in the integrated frame but the last: velocity `v` (m/s), reaction to gravity `u`
//! (m/s^2, upwards), gyro offset `b` still in the readings (rad/s, bike axes). Between knots
//! `v' = v + impulse - u t + (A b) x v`, `u' = u + (A b) x u`, `b' = b`, where the columns of `A`
//! are the integrals of the bike's axes.
//!
//! Two things are known at each knot: a bike rolls along its own x axis (with the speed of the
//! wheel, where that is logged), and `u` is as long as gravity. The first is the non-holonomic
//! constraint of Dissanayake et al. 2001, "The aiding of a low-cost strapdown inertial measurement
//! unit using vehicle model constraints", IEEE Trans. Robotics and Automation 17(5). Smoothing
//! runs backwards with adjoint variables (Bierman 1973, "Fixed interval smoothing with discrete
//! measurements", Int. J. Control 18(1)), which needs no matrix inverse.

use super::strapdown::Interval;
use crate::STANDARD_GRAVITY;
use crate::rotation::{Vector, add_scaled, cross, dot, norm};

/// `v`, `u`, `b`.
type State = [f64; 9];

fn part(state: &State, which: usize) -> Vector {
    [state[3 * which], state[3 * which + 1], state[3 * which + 2]]
}

fn join(v: Vector, u: Vector, b: Vector) -> State {
    [v[0], v[1], v[2], u[0], u[1], u[2], b[0], b[1], b[2]]
}

/// How far the model is from the ride: standard deviations; "per root second" grows with time.
///
/// A frame does not move quite along its x axis: suspension, jumps, slides, and a unit that sits
/// off the rear wheel add up to about 1 m/s, for about half a second at a time. The smoother takes
/// what is left at one knot as unrelated to the next, so its figures are a few times larger.
pub(super) struct Noise {
    /// Velocity, m/s per root second: what vibration and clipping do to the accelerometer.
    pub velocity: f64,
    /// Angle, rad per root second: gyro noise.
    pub angle: f64,
    /// Angle, rad per root second at 1 rad/s: scale and alignment of the gyros.
    pub angle_per_rate: f64,
    /// Specific force that a bridge misses by on the average, m/s^2.
    pub bridged_force: f64,
    /// Turn rate that a bridge misses by on the average, rad/s.
    pub bridged_turn: f64,
    /// Gyro offset, rad/s per root second.
    pub bias: f64,
    /// Speed against the wheel's, m/s.
    pub forward: f64,
    /// Speed along y, m/s.
    pub sideways: f64,
    /// Speed along z, m/s.
    pub upward: f64,
    /// Speed at rest, m/s.
    pub at_rest: f64,
    /// Forward speed where none is logged, about [`MIDDLE_SPEED_MPS`], m/s. It stays away from the
    /// middle for many seconds, hence the size.
    pub unknown_speed: f64,
    /// Length of gravity, m/s^2.
    pub gravity: f64,
}

/// Speed, m/s, around which a ride is taken to be where none is logged.
const MIDDLE_SPEED_MPS: f64 = 6.0;

impl Noise {
    /// Values found on simulated rides.
    pub const RIDE: Self = Self {
        velocity: 0.2,
        angle: 2.5e-4,
        angle_per_rate: 0.005,
        bridged_force: 3.0,
        bridged_turn: 0.3,
        bias: 3e-5,
        forward: 1.5,
        sideways: 2.0,
        upward: 4.0,
        at_rest: 0.1,
        unknown_speed: 60.0,
        gravity: 0.5,
    };
}

/// What is known of the motion at one knot.
#[derive(Clone, Copy, Debug)]
pub(super) struct Knot {
    /// The bike's axes in the integrated frame.
    pub axes: [Vector; 3],
    /// Speed along x, m/s, where known.
    pub speed: Option<f64>,
    /// The bike stands still.
    pub at_rest: bool,
}

/// What is known before the first knot: mean and standard deviation of each.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prior {
    pub velocity: (Vector, f64),
    pub up: (Vector, f64),
    pub bias: (Vector, Vector),
}

/// What the smoother found.
pub(super) struct Smoothed {
    /// Reaction to gravity in the integrated frame at each knot, m/s^2.
    pub up: Vec<Vector>,
    /// Gyro offset in bike axes, rad/s, averaged over the stretch.
    pub bias: Vector,
    /// Its standard deviation after the last knot, rad/s.
    pub bias_deviation: Vector,
}

/// The linearised step from one knot to the next.
#[derive(Clone, Copy)]
struct Step {
    duration_s: f64,
    axes_s: [Vector; 3],
    turn: Vector,
    velocity: Vector,
    up: Vector,
}

impl Step {
    fn along(interval: &Interval, state: &State) -> Self {
        let b = part(state, 2);
        let turn = (0..3).fold([0.0; 3], |sum, c| add_scaled(sum, b[c], interval.axes_s[c]));
        Self {
            duration_s: interval.duration_s,
            axes_s: interval.axes_s,
            turn,
            velocity: part(state, 0),
            up: part(state, 1),
        }
    }

    /// Jacobian times a deviation.
    fn forward(&self, d: &State) -> State {
        let (v, u, b) = (part(d, 0), part(d, 1), part(d, 2));
        let turn = (0..3).fold([0.0; 3], |sum, c| add_scaled(sum, b[c], self.axes_s[c]));
        let turned =
            |x: Vector, at: Vector| add_scaled(add_scaled(x, 1.0, cross(self.turn, x)), 1.0, cross(turn, at));
        join(add_scaled(turned(v, self.velocity), -self.duration_s, u), turned(u, self.up), b)
    }

    /// Transposed Jacobian times an adjoint.
    fn backward(&self, l: &State) -> State {
        let (v, u, b) = (part(l, 0), part(l, 1), part(l, 2));
        let turned = |x: Vector| add_scaled(x, -1.0, cross(self.turn, x));
        let pull = add_scaled(cross(self.velocity, v), 1.0, cross(self.up, u));
        let onto_axes = self.axes_s.map(|axis| dot(axis, pull));
        join(turned(v), add_scaled(turned(u), -self.duration_s, v), add_scaled(b, 1.0, onto_axes))
    }
}

/// One scalar measurement, as the backward pass needs it.
struct Update {
    row: State,
    gain: State,
    innovation_over_variance: f64,
}

fn transposed(matrix: &[State; 9]) -> [State; 9] {
    std::array::from_fn(|r| std::array::from_fn(|c| matrix[c][r]))
}

struct Filter {
    state: State,
    covariance: [State; 9],
}

impl Filter {
    fn step(&mut self, interval: &Interval, noise: &Noise) -> Step {
        let step = Step::along(interval, &self.state);
        let (v, u, b) = (part(&self.state, 0), part(&self.state, 1), part(&self.state, 2));
        let t = step.duration_s;
        let v_next = add_scaled(add_scaled(v, 1.0, interval.specific_impulse), -t, u);
        self.state =
            join(add_scaled(v_next, 1.0, cross(step.turn, v)), add_scaled(u, 1.0, cross(step.turn, u)), b);
        // P <- F P F': once along the rows, once along the columns.
        let half = self.covariance.map(|row| step.forward(&row));
        self.covariance = transposed(&transposed(&half).map(|column| step.forward(&column)));
        let angle = noise.angle.powi(2) + (noise.angle_per_rate * interval.turn_rate).powi(2);
        let density = [noise.velocity.powi(2), angle * STANDARD_GRAVITY.powi(2), noise.bias.powi(2)];
        let missed = [noise.bridged_force, noise.bridged_turn * STANDARD_GRAVITY, 0.0];
        for i in 0..9 {
            self.covariance[i][i] += density[i / 3] * t + (missed[i / 3] * interval.bridged_s).powi(2);
        }
        step
    }

    /// `row . state` was measured; beyond three standard deviations a value counts for less
    /// (Huber 1964), so that a slide, a landing or a locked wheel cannot tip the frame over.
    fn measure(&mut self, row: State, measured: f64, deviation: f64) -> Update {
        let spread: State = self.covariance.map(|p| times(&p, &row));
        let innovation = measured - times(&row, &self.state);
        let predicted = times(&row, &spread);
        let plain = predicted + deviation * deviation;
        let excess = (innovation.abs() / (3.0 * plain.sqrt())).max(1.0);
        let variance = predicted + deviation * deviation * excess;
        let gain = spread.map(|s| s / variance);
        for ((value, row), gain) in self.state.iter_mut().zip(&mut self.covariance).zip(gain) {
            *value += gain * innovation;
            row.iter_mut().zip(&spread).for_each(|(p, s)| *p -= gain * s);
        }
        Update { row, gain, innovation_over_variance: innovation / variance }
    }

    fn observe(&mut self, knot: &Knot, noise: &Noise, updates: &mut Vec<Update>) {
        let along = |axis: Vector| join(axis, [0.0; 3], [0.0; 3]);
        let [x, y, z] = knot.axes;
        let (forward, aside, above) = if knot.at_rest {
            ((0.0, noise.at_rest), noise.at_rest, noise.at_rest)
        } else {
            let forward = match knot.speed {
                Some(speed) => (speed, noise.forward),
                None => (MIDDLE_SPEED_MPS, noise.unknown_speed),
            };
            (forward, noise.sideways, noise.upward)
        };
        updates.push(self.measure(along(x), forward.0, forward.1));
        updates.push(self.measure(along(y), 0.0, aside));
        updates.push(self.measure(along(z), 0.0, above));
        let up = part(&self.state, 1);
        let length = norm(up).max(1e-3);
        let row = join([0.0; 3], up.map(|c| c / length), [0.0; 3]);
        updates.push(self.measure(row, STANDARD_GRAVITY, noise.gravity));
    }
}

fn times(a: &State, b: &State) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Number of scalar measurements at each knot.
const UPDATES: usize = 4;

/// Forward filter and backward smoothing over one stretch; one more knot than intervals.
pub(super) fn smooth(knots: &[Knot], intervals: &[Interval], prior: &Prior, noise: &Noise) -> Smoothed {
    let mut covariance = [[0.0; 9]; 9];
    for i in 0..9 {
        let deviation = [prior.velocity.1, prior.up.1, prior.bias.1[i % 3]][i / 3];
        covariance[i][i] = deviation * deviation;
    }
    let mut filter = Filter { state: join(prior.velocity.0, prior.up.0, prior.bias.0), covariance };
    let mut steps = Vec::with_capacity(intervals.len());
    let mut updates = Vec::with_capacity(UPDATES * knots.len());
    let mut filtered = Vec::with_capacity(knots.len());
    for (k, knot) in knots.iter().enumerate() {
        if k > 0 {
            steps.push(filter.step(&intervals[k - 1], noise));
        }
        filter.observe(knot, noise, &mut updates);
        filtered.push((filter.state, filter.covariance));
    }

    let mut adjoint = [0.0; 9];
    let mut up = vec![[0.0; 3]; knots.len()];
    let mut bias = [0.0; 3];
    for (k, (state, covariance)) in filtered.iter().enumerate().rev() {
        let smoothed: State = std::array::from_fn(|i| state[i] - times(&covariance[i], &adjoint));
        up[k] = part(&smoothed, 1);
        bias = add_scaled(bias, 1.0 / knots.len() as f64, part(&smoothed, 2));
        for update in updates[UPDATES * k..UPDATES * (k + 1)].iter().rev() {
            let pull = times(&update.gain, &adjoint) + update.innovation_over_variance;
            for (l, h) in adjoint.iter_mut().zip(&update.row) {
                *l -= pull * h;
            }
        }
        if k > 0 {
            adjoint = steps[k - 1].backward(&adjoint);
        }
    }
    let bias_deviation = std::array::from_fn(|i| filter.covariance[6 + i][6 + i].max(0.0).sqrt());
    Smoothed { up, bias, bias_deviation }
}
