//! The motion logger: inertial units on frame and bars and a slow GPS, with semicolons and decimal commas.

use std::fmt::Write;

use crate::plane::GRAVITY_MPS2;
use crate::random::{Random, Unrest};
use crate::sensor::{Clock, Direction, Mount, Sensor, at, mean};
use crate::truth::{Axes, Truth};

/// The logger and what is wrong with its sensors.
#[derive(Clone, Debug)]
pub struct MotionLogger {
    /// Rows a second.
    pub rate_hz: f64,
    /// Rows between two GPS fixes.
    pub gps_every: usize,
    /// Its clock.
    pub clock: Clock,
    /// How the frame's unit is mounted.
    pub frame_mount: Mount,
    /// How the bar's unit is mounted.
    pub bar_mount: Mount,
    /// Frame accelerometer in its own axes, g.
    pub frame_g: [Sensor; 3],
    /// Frame gyroscope in its own axes, degrees a second.
    pub gyro_dps: [Sensor; 3],
    /// Bar accelerometer in its own axes, g.
    pub bar_g: [Sensor; 3],
    /// Bar gyroscope in its own axes, degrees a second, where fitted.
    pub bar_gyro_dps: Option<[Sensor; 3]>,
    /// GPS speed, m/s.
    pub gps_mps: Sensor,
    /// By how much GPS speed comes late.
    pub gps_late_s: f64,
    /// Slow wander of the GPS position.
    pub gps_wander_m: f64,
    /// Stretches of rows lost.
    pub losses: usize,
}

impl MotionLogger {
    /// A logger in good order with a given clock.
    pub fn new(clock: Clock) -> Self {
        let frame = |bias| Sensor { bias, noise: 0.012, count: 1.0 / 256.0, range: 16.0 };
        let gyro = |bias| Sensor { bias, noise: 0.15, count: 0.1, range: 1000.0 };
        let bar = |bias| Sensor { bias, noise: 0.04, count: 0.05, range: 50.0 };
        Self {
            rate_hz: 100.0,
            gps_every: 10,
            clock,
            frame_mount: Mount {
                axes: [Direction::Left, Direction::Up, Direction::Forward],
                pitch_error_rad: 1.2_f64.to_radians(),
                roll_error_rad: -0.5_f64.to_radians(),
            },
            bar_mount: Mount {
                axes: [Direction::Backward, Direction::Right, Direction::Up],
                pitch_error_rad: -2.0_f64.to_radians(),
                roll_error_rad: 0.8_f64.to_radians(),
            },
            frame_g: [frame(0.012), frame(-0.018), frame(0.009)],
            gyro_dps: [gyro(0.34), gyro(-0.22), gyro(0.17)],
            bar_g: [bar(0.08), bar(-0.05), bar(0.11)],
            bar_gyro_dps: None,
            gps_mps: Sensor { bias: 0.0, noise: 0.06, count: 0.01, range: 100.0 },
            gps_late_s: 0.12,
            gps_wander_m: 0.8,
            losses: 2,
        }
    }

    /// The same logger with all it can carry: 1000 rows a second, a gyroscope on the bars.
    #[must_use]
    pub fn fully_fitted(mut self) -> Self {
        let gyro = |bias| Sensor { bias, noise: 0.2, count: 0.1, range: 2000.0 };
        self.gps_every = (self.gps_every as f64 * 1000.0 / self.rate_hz).round() as usize;
        self.rate_hz = 1000.0;
        self.bar_gyro_dps = Some([gyro(-0.2), gyro(0.4), gyro(0.1)]);
        self
    }

    /// Writes the log of a run.
    pub fn text(&self, truth: &Truth, seed: u64) -> String {
        let mut random = Random::new(seed, 21);
        let wander = [0, 1].map(|_| Unrest::new(&mut random, self.gps_wander_m, 0.005, 0.08));
        let rows = (truth.duration_s() * self.rate_hz) as usize;
        let lost = super::lost_rows(&mut random, rows, self.losses, 30);
        let window_s = 1.0 / self.rate_hz;
        let mut text = String::with_capacity(rows * 70);
        text.push_str(
            "t (s);Acc X (g);Acc Y (g);Acc Z (g);Gyro X (deg/s);Gyro Y (deg/s);Gyro Z (deg/s);\
             Bar acc X (g);Bar acc Y (g);Bar acc Z (g);",
        );
        if self.bar_gyro_dps.is_some() {
            text.push_str("Bar gyro X (deg/s);Bar gyro Y (deg/s);Bar gyro Z (deg/s);");
        }
        text.push_str("GPS speed (m/s);Lat (deg);Lon (deg)\n");
        for row in 0..rows {
            let shown_s = self.clock.offset_s + row as f64 / self.rate_hz;
            let time_s = self.clock.true_s(shown_s);
            let vector = |axes: &Axes, scale: f64| {
                [0, 1, 2].map(|axis: usize| scale * mean(&axes[axis], time_s, window_s))
            };
            let mut read = |mount: &Mount, sensors: &[Sensor; 3], bike: [f64; 3]| {
                let seen = mount.seen(bike);
                [0, 1, 2].map(|axis: usize| sensors[axis].reading(seen[axis], &mut random))
            };
            let frame =
                read(&self.frame_mount, &self.frame_g, vector(&truth.frame_force_mps2, 1.0 / GRAVITY_MPS2));
            let gyro = read(
                &self.frame_mount,
                &self.gyro_dps,
                vector(&truth.rate_radps, 180.0 / std::f64::consts::PI),
            );
            let bar = read(&self.bar_mount, &self.bar_g, vector(&truth.bar_force_mps2, 1.0 / GRAVITY_MPS2));
            let bar_gyro = self.bar_gyro_dps.map(|sensors| {
                read(&self.bar_mount, &sensors, vector(&truth.rate_radps, 180.0 / std::f64::consts::PI))
            });
            let speed =
                self.gps_mps.reading(at(&truth.speed_mps, time_s - self.gps_late_s), &mut random).abs();
            if lost.iter().any(|gap| gap.contains(&row)) {
                continue;
            }
            let mut line = String::with_capacity(80);
            // Writing to a String cannot fail.
            let _ = if self.rate_hz > 100.0 {
                write!(line, "{shown_s:.3};")
            } else {
                write!(line, "{shown_s:.2};")
            };
            for value in frame {
                let _ = write!(line, "{value:.3};");
            }
            for value in gyro {
                let _ = write!(line, "{value:.1};");
            }
            for value in bar {
                let _ = write!(line, "{value:.2};");
            }
            for value in bar_gyro.into_iter().flatten() {
                let _ = write!(line, "{value:.1};");
            }
            if row % self.gps_every == 0 {
                // An invented hill in the open sea where the zero meridian meets the equator.
                const NORTH_M_PER_DEG: f64 = 110_574.0;
                const EAST_M_PER_DEG: f64 = 111_320.0;
                let north_m = at(&truth.north_m, time_s) + wander[0].at(time_s);
                let east_m = at(&truth.east_m, time_s) + wander[1].at(time_s);
                let _ = write!(
                    line,
                    "{speed:.2};{:.6};{:.6}",
                    0.001 + north_m / NORTH_M_PER_DEG,
                    0.001 + east_m / EAST_M_PER_DEG
                );
            } else {
                line.push_str(";;");
            }
            text.push_str(&line.replace('.', ","));
            text.push('\n');
        }
        text
    }
}
