//! From the plane's movement to attitude and inertial readings in space.
//!
//! Nothing is assumed here twice: position and orientation of the frame are built from path, lean, heave and
//! pitch, and rates and specific force are their derivatives. So a coordinated turn reads no lateral force and a
//! free fall reads nothing at all because the geometry says so.

use crate::plane::{GRAVITY_MPS2, State};
use crate::track::SlopePoint;
use crate::truth::{Axes, RECORD_HZ, Truth};

type Vector = [f64; 3];
type Matrix = [[f64; 3]; 3];

/// Where the frame's inertial unit sits from the sprung mass centre: forward, left, up.
pub const FRAME_UNIT_M: Vector = [0.10, 0.0, -0.12];
/// Where the bar's sensor sits.
pub const BAR_UNIT_M: Vector = [0.36, 0.0, 0.38];

/// Position and orientation of the frame over time.
#[derive(Clone, Debug, Default)]
pub struct Path {
    on_base: Vector,
    heading_rad: f64,
    last_velocity: Option<(Vector, f64)>,
    first_heave_m: f64,
    position: Vec<Vector>,
    orientation: Vec<Matrix>,
}

impl Path {
    /// An empty path.
    pub fn new() -> Self {
        Self::default()
    }

    /// Appends one instant, `period_s` after the last, with the sprung mass centre `aside_m` to the left of the path.
    pub fn push(&mut self, state: &State, base: &SlopePoint, lean_rad: f64, aside_m: f64, period_s: f64) {
        let yaw_rate = base.curvature_per_m * state.speed_mps;
        if let Some((_, last_yaw_rate)) = self.last_velocity {
            self.heading_rad += 0.5 * period_s * (yaw_rate + last_yaw_rate);
        } else {
            self.first_heave_m = state.heave_m;
        }
        let (sin_slope, cos_slope) = libm::sincos(base.slope_rad);
        let (sin_heading, cos_heading) = libm::sincos(self.heading_rad);
        let velocity =
            [cos_slope * cos_heading, cos_slope * sin_heading, -sin_slope].map(|c| c * state.speed_mps);
        if let Some((last, _)) = self.last_velocity {
            for axis in 0..3 {
                self.on_base[axis] += 0.5 * period_s * (velocity[axis] + last[axis]);
            }
        }
        self.last_velocity = Some((velocity, yaw_rate));
        let leaned =
            product(&product(&about_z(self.heading_rad), &about_y(base.slope_rad)), &about_x(lean_rad));
        let heave_m = state.heave_m - self.first_heave_m;
        let off = turned(&leaned, &[0.0, aside_m, heave_m]);
        self.position.push(sum(&self.on_base, &off));
        let swayed = product(&product(&leaned, &about_z(state.sway.yaw_rad)), &about_x(state.sway.roll_rad));
        self.orientation.push(product(&swayed, &about_y(state.pitch_rad)));
    }
}

/// Fills in attitude, rates, specific forces and position.
pub fn inertial(path: &Path, truth: &mut Truth) {
    let count = path.position.len();
    let mut yaw_before = 0.0;
    for (orientation, position) in path.orientation.iter().zip(&path.position) {
        let [forward, _, up_row] = [orientation[0], orientation[1], orientation[2]];
        truth.pitch_rad.push(-libm::asin(up_row[0].clamp(-1.0, 1.0)) as f32);
        truth.roll_rad.push(libm::atan2(up_row[1], up_row[2]) as f32);
        let yaw = libm::atan2(orientation[1][0], forward[0]);
        yaw_before = yaw + std::f64::consts::TAU * ((yaw_before - yaw) / std::f64::consts::TAU).round();
        truth.yaw_rad.push(yaw_before as f32);
        truth.east_m.push(position[0] as f32);
        truth.north_m.push(position[1] as f32);
    }
    truth.rate_radps = axes(count, |index| {
        let (before, after) = (&path.orientation[index - 1], &path.orientation[index + 1]);
        // Rotation from before to after, seen from the bike; small, so its skew part is the angle.
        let step = product(&transposed(before), after);
        [step[2][1] - step[1][2], step[0][2] - step[2][0], step[1][0] - step[0][1]]
            .map(|twice| 0.5 * twice * RECORD_HZ / 2.0)
    });
    truth.frame_force_mps2 = axes(count, |index| specific_force(path, index, &FRAME_UNIT_M));
    truth.bar_force_mps2 = axes(count, |index| specific_force(path, index, &BAR_UNIT_M));
}

fn specific_force(path: &Path, index: usize, mounted: &Vector) -> Vector {
    let place = |index: usize| sum(&path.position[index], &turned(&path.orientation[index], mounted));
    let (before, here, after) = (place(index - 1), place(index), place(index + 1));
    let mut force = [0.0; 3];
    for axis in 0..3 {
        force[axis] = (after[axis] - 2.0 * here[axis] + before[axis]) * RECORD_HZ * RECORD_HZ;
    }
    force[2] += GRAVITY_MPS2;
    turned(&transposed(&path.orientation[index]), &force)
}

/// Three series from a function of the index that needs both neighbours; the ends repeat theirs.
fn axes(count: usize, value: impl Fn(usize) -> Vector) -> Axes {
    let mut series: Axes = Default::default();
    for index in 0..count {
        let inner = index.clamp(1, count.saturating_sub(2).max(1));
        let vector = if count < 3 { [0.0; 3] } else { value(inner) };
        for (axis, component) in series.iter_mut().zip(vector) {
            axis.push(component as f32);
        }
    }
    series
}

fn about_x(angle_rad: f64) -> Matrix {
    let (s, c) = libm::sincos(angle_rad);
    [[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]]
}

fn about_y(angle_rad: f64) -> Matrix {
    let (s, c) = libm::sincos(angle_rad);
    [[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]]
}

fn about_z(angle_rad: f64) -> Matrix {
    let (s, c) = libm::sincos(angle_rad);
    [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]
}

fn product(a: &Matrix, b: &Matrix) -> Matrix {
    let mut out = [[0.0; 3]; 3];
    for (row, line) in out.iter_mut().enumerate() {
        for (column, cell) in line.iter_mut().enumerate() {
            *cell = (0..3).map(|k| a[row][k] * b[k][column]).sum();
        }
    }
    out
}

fn transposed(a: &Matrix) -> Matrix {
    [[a[0][0], a[1][0], a[2][0]], [a[0][1], a[1][1], a[2][1]], [a[0][2], a[1][2], a[2][2]]]
}

fn turned(a: &Matrix, v: &Vector) -> Vector {
    [0, 1, 2].map(|row| a[row][0] * v[0] + a[row][1] * v[1] + a[row][2] * v[2])
}

fn sum(a: &Vector, b: &Vector) -> Vector {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}
