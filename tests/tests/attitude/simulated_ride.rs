//! A kinematic ride with known attitude, independent of the analysis: a path with corners, slope,
//! braking and jumps, a frame that leans, dives and shakes on it, and sensors as consumer parts are.

use std::f64::consts::{PI, TAU};
use std::ops::Range;

const G: f64 = 9.806_65;
const RATE_HZ: f64 = 1000.0;
/// The ride begins with so much rest.
pub const REST_S: f64 = 5.0;
/// Bike axes in the earth frame, as columns.
type Matrix = [[f64; 3]; 3];

/// What was logged, and the truth on the same grid.
#[derive(Clone)]
pub struct SimulatedRide {
    pub rate_hz: f64,
    pub accel_mps2: [Vec<f32>; 3],
    pub gyro_radps: [Vec<f32>; 3],
    pub speed_mps: Vec<f32>,
    pub roll_rad: Vec<f64>,
    pub pitch_rad: Vec<f64>,
    pub yaw_rate_radps: Vec<f64>,
}

/// What kind of ride.
#[derive(Clone, Copy)]
pub struct Ride {
    pub seed: u64,
    pub duration_s: f64,
    /// RMS vertical acceleration of the frame from rough ground at 10 m/s, m/s^2.
    pub roughness_mps2: f64,
    /// Largest speed, m/s.
    pub speed_max_mps: f64,
}

/// splitmix64 (Steele, Lea and Flood 2014).
struct Random(u64);

impl Random {
    fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        low + (high - low) * (z >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform(1e-12, 1.0).ln()).sqrt() * self.uniform(0.0, TAU).cos()
    }
}

/// A smooth random signal: tones of random phase between two frequencies.
struct Wander(Vec<(f64, f64, f64)>);

impl Wander {
    fn new(random: &mut Random, deviation: f64, low_hz: f64, high_hz: f64) -> Self {
        const TONES: usize = 16;
        let amplitude = deviation * (2.0 / TONES as f64).sqrt();
        let tone = |_| (amplitude, TAU * random.uniform(low_hz, high_hz), random.uniform(0.0, TAU));
        Self((0..TONES).map(tone).collect())
    }

    fn at(&self, t: f64) -> f64 {
        self.0.iter().map(|(amplitude, omega, phase)| amplitude * (omega * t + phase).sin()).sum()
    }
}

/// 0 before, 1 after, smooth between.
fn smooth_step(t: f64, from: f64, to: f64) -> f64 {
    let x = ((t - from) / (to - from)).clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

fn orientation(yaw: f64, pitch: f64, roll: f64) -> Matrix {
    let ((sy, cy), (sp, cp), (sr, cr)) = (yaw.sin_cos(), pitch.sin_cos(), roll.sin_cos());
    [
        [cy * cp, sy * cp, -sp],
        [cy * sp * sr - sy * cr, sy * sp * sr + cy * cr, cp * sr],
        [cy * sp * cr + sy * sr, sy * sp * cr - cy * sr, cp * cr],
    ]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Rate of turn in bike axes from the orientations a step before and after: the antisymmetric part
/// of `R' dR/dt`, exact for one turn over the two steps.
fn turn_rate(before: &Matrix, after: &Matrix, span_s: f64) -> [f64; 3] {
    let relative = |i: usize, j: usize| dot(before[i], after[j]);
    let twice_sine =
        [relative(2, 1) - relative(1, 2), relative(0, 2) - relative(2, 0), relative(1, 0) - relative(0, 1)];
    let sine = 0.5 * dot(twice_sine, twice_sine).sqrt();
    let scale = if sine > 1e-9 { sine.asin() / sine } else { 1.0 };
    twice_sine.map(|c| 0.5 * scale * c / span_s)
}

struct Corner {
    start_s: f64,
    length_s: f64,
    peak_radps: f64,
}

struct Jump {
    start_s: f64,
    air_s: f64,
}

const RAMP_S: f64 = 0.4;
const LANDING_S: f64 = 0.25;

impl Jump {
    fn end_s(&self) -> f64 {
        self.start_s + RAMP_S + self.air_s + LANDING_S
    }

    fn in_air(&self, t: f64) -> bool {
        (self.start_s + RAMP_S..self.start_s + RAMP_S + self.air_s).contains(&t)
    }

    /// Vertical speed on top of the path's, m/s.
    fn vertical_mps(&self, t: f64) -> f64 {
        let take_off = 0.5 * G * self.air_s;
        let air = self.start_s + RAMP_S;
        let landing = air + self.air_s;
        if t < air {
            take_off * smooth_step(t, self.start_s, air)
        } else if t < landing {
            take_off - G * (t - air)
        } else {
            -take_off * (1.0 - smooth_step(t, landing, landing + LANDING_S))
        }
    }
}

impl Ride {
    pub fn simulate(self) -> SimulatedRide {
        let random = &mut Random(self.seed);
        let n = (self.duration_s * RATE_HZ) as usize;
        let dt = 1.0 / RATE_HZ;

        let (mut corners, mut jumps) = (Vec::new(), Vec::new());
        let mut t = 8.0;
        while t < self.duration_s - 10.0 {
            if random.uniform(0.0, 1.0) < 0.2 {
                let jump = Jump { start_s: t, air_s: random.uniform(0.3, 0.9) };
                t = jump.end_s() + random.uniform(0.3, 1.5);
                jumps.push(jump);
            } else {
                let length_s = random.uniform(1.0, 3.5);
                let peak_radps = random.uniform(0.4, 1.8) * random.uniform(-1.0, 1.0).signum();
                corners.push(Corner { start_s: t, length_s, peak_radps });
                t += length_s + random.uniform(0.0, 2.5);
            }
        }
        let degree = PI / 180.0;
        let slope = Wander::new(random, 5.0 * degree, 0.03, 0.3);
        let pace = Wander::new(random, 0.25, 0.02, 0.15);
        let suspension = Wander::new(random, 2.0 * degree, 0.3, 1.5);
        let rough_pitch = Wander::new(random, 1.2 * degree, 2.0, 7.0);
        let sway = Wander::new(random, 2.5 * degree, 0.2, 1.0);
        let shake = Wander::new(random, 0.6 * degree, 3.0, 8.0);
        let drift = Wander::new(random, 1.5 * degree, 0.2, 1.0);
        let roughness = Wander::new(random, 0.4, 0.05, 0.3);
        let vibration =
            [0.4, 0.4, 1.0].map(|share| Wander::new(random, share * self.roughness_mps2, 6.0, 60.0));

        // Path: speed, heading, slope; frozen in the air.
        let (mut v, mut heading, mut pitch_of_path, mut lean, mut dive) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut velocity = Vec::with_capacity(n);
        let mut axes = Vec::with_capacity(n);
        let mut truth = SimulatedRide {
            rate_hz: RATE_HZ,
            accel_mps2: Default::default(),
            gyro_radps: Default::default(),
            speed_mps: Vec::with_capacity(n),
            roll_rad: Vec::with_capacity(n),
            pitch_rad: Vec::with_capacity(n),
            yaw_rate_radps: Vec::with_capacity(n),
        };
        for i in 0..n {
            let t = i as f64 * dt;
            let jump = jumps.iter().find(|jump| (jump.start_s..jump.end_s()).contains(&t));
            let in_air = jump.is_some_and(|jump| jump.in_air(t));
            let stops = self.duration_s - 6.0;
            let moving = smooth_step(t, REST_S, 8.0) * (1.0 - smooth_step(t, stops, stops + 3.5));
            let mut yaw_rate = 0.0;
            let mut pull = 0.0;
            if !in_air {
                let corner = corners.iter().find(|c| (c.start_s..c.start_s + c.length_s).contains(&t));
                if let Some(corner) = corner {
                    let shape = (PI * (t - corner.start_s) / corner.length_s).sin().powi(2);
                    // Grip ends at about one g.
                    let limit = 9.0 / f64::max(v, 1.0);
                    yaw_rate = (corner.peak_radps * shape).clamp(-limit, limit);
                }
                let wanted = (0.7 + pace.at(t)).clamp(0.35, 1.0) * self.speed_max_mps * moving;
                pull = ((wanted - v) / 0.7).clamp(-6.0, 3.0);
                v = f64::max(v + pull * dt, 0.0);
                heading += yaw_rate * dt;
                pitch_of_path = (9.0 * degree + slope.at(t)) * moving;
            }
            let w = jump.map_or(0.0, |jump| jump.vertical_mps(t));
            let level_speed = v * pitch_of_path.cos();
            velocity.push([
                level_speed * heading.cos(),
                level_speed * heading.sin(),
                w - v * pitch_of_path.sin(),
            ]);

            let balance = -(v * yaw_rate / G).atan();
            lean += (balance - lean) * dt / 0.12;
            dive += (-0.5 * degree * pull.min(0.0) - dive) * dt / 0.15;
            let ground = if in_air { 0.0 } else { moving };
            let rough = f64::max(1.0 + roughness.at(t), 0.2) * v / 10.0;
            let roll = lean + moving * (sway.at(t) + shake.at(t) * rough.min(1.0));
            let pitch = pitch_of_path + dive - 0.8 * w.atan2(v.max(1.0))
                + moving * (suspension.at(t) + rough_pitch.at(t));
            let yaw = heading + moving * drift.at(t);
            axes.push(orientation(yaw, pitch, roll));
            truth.roll_rad.push(roll);
            truth.pitch_rad.push(pitch);
            for (c, axis) in truth.accel_mps2.iter_mut().enumerate() {
                axis.push((ground * rough * vibration[c].at(t)) as f32);
            }
            truth.speed_mps.push((0.99 * v + if v > 0.0 { 0.05 * random.normal() } else { 0.0 }) as f32);
        }

        // The unit sits ahead of the rear contact patch and above it.
        let place = [0.5, 0.0, 0.6];
        let unit: Vec<[f64; 3]> = axes
            .iter()
            .map(|axes: &Matrix| std::array::from_fn(|c| (0..3).map(|a| axes[a][c] * place[a]).sum()))
            .collect();
        // Consumer parts (common practice): offset, scale, noise density, 16 g range.
        let bias = [0.5, -0.6, 0.4].map(|b: f64| b * degree);
        let scale = [1.005, 0.996, 1.004];
        let gyro_noise = 0.007 * degree * (RATE_HZ / 2.0).sqrt();
        let accel_noise = 0.002 * (RATE_HZ / 2.0).sqrt();
        let accel_offset = [0.05, -0.04, 0.06];
        for i in 0..n {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(n - 1));
            let span = (b - a) as f64 * dt;
            let rate = turn_rate(&axes[a], &axes[b], span);
            let middle = i.clamp(1, n - 2);
            let force: [f64; 3] = std::array::from_fn(|c| {
                let path = (velocity[b][c] - velocity[a][c]) / span;
                let lever = (unit[middle + 1][c] - 2.0 * unit[middle][c] + unit[middle - 1][c]) / (dt * dt);
                path + lever + if c == 2 { G } else { 0.0 }
            });
            truth.yaw_rate_radps.push((0..3).map(|c| axes[i][c][2] * rate[c]).sum());
            for c in 0..3 {
                let accel = dot(axes[i][c], force) + accel_offset[c] + accel_noise * random.normal();
                let logged = f64::from(truth.accel_mps2[c][i]) + accel;
                truth.accel_mps2[c][i] = logged.clamp(-16.0 * G, 16.0 * G) as f32;
                truth.gyro_radps[c]
                    .push((scale[c] * rate[c] + bias[c] + gyro_noise * random.normal()) as f32);
            }
        }
        truth
    }
}

impl SimulatedRide {
    /// The same ride as a logger of a lower rate has it: means over `factor` samples.
    pub fn slower(&self, factor: usize) -> Self {
        let mean = |values: &Vec<f32>| -> Vec<f32> {
            values.chunks_exact(factor).map(|c| c.iter().sum::<f32>() / factor as f32).collect()
        };
        let mean_f64 = |values: &Vec<f64>| -> Vec<f64> {
            values.chunks_exact(factor).map(|c| c.iter().sum::<f64>() / factor as f64).collect()
        };
        self.with(self.rate_hz / factor as f64, mean, mean_f64)
    }

    /// The samples of a range.
    pub fn part(&self, range: Range<usize>) -> Self {
        self.with(
            self.rate_hz,
            |values| values[range.clone()].to_vec(),
            |values| values[range.clone()].to_vec(),
        )
    }

    fn with(
        &self,
        rate_hz: f64,
        logged: impl Fn(&Vec<f32>) -> Vec<f32>,
        truth: impl Fn(&Vec<f64>) -> Vec<f64>,
    ) -> Self {
        Self {
            rate_hz,
            accel_mps2: self.accel_mps2.each_ref().map(&logged),
            gyro_radps: self.gyro_radps.each_ref().map(&logged),
            speed_mps: logged(&self.speed_mps),
            roll_rad: truth(&self.roll_rad),
            pitch_rad: truth(&self.pitch_rad),
            yaw_rate_radps: truth(&self.yaw_rate_radps),
        }
    }
}
