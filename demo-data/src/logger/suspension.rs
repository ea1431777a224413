//! The suspension logger: travel, brakes, wheel pulses, and a slow accelerometer of its own, with commas.

use std::fmt::Write;

use crate::plane::GRAVITY_MPS2;
use crate::random::Random;
use crate::sensor::{Clock, Sensor, Trouble, at, at_f64, mean};
use crate::truth::Truth;

/// The logger and what is wrong with its sensors.
#[derive(Clone, Debug)]
pub struct SuspensionLogger {
    /// Rows a second.
    pub rate_hz: f64,
    /// Rows between two readings of the accelerometer.
    pub accelerometer_every: usize,
    /// Its clock.
    pub clock: Clock,
    /// Front travel, mm.
    pub front_mm: Sensor,
    /// Shock stroke, mm.
    pub stroke_mm: Sensor,
    /// Front brake, bar.
    pub front_bar: Sensor,
    /// Rear brake, bar.
    pub rear_bar: Sensor,
    /// Frame acceleration upward, g.
    pub vertical_g: Sensor,
    /// Pulses per turn of the front wheel, where a sensor is fitted there.
    pub front_pulses_per_turn: Option<f64>,
    /// Accelerometers upward on front and rear axle, g, where fitted.
    pub axle_g: Option<[Sensor; 2]>,
    /// Pulses per turn of the rear wheel.
    pub pulses_per_turn: f64,
    /// Stretches of rows lost.
    pub losses: usize,
    /// What is wrong with front travel.
    pub front_trouble: Trouble,
    /// What is wrong with shock stroke.
    pub stroke_trouble: Trouble,
    /// The two travel sensors are plugged into each other's sockets, so that each is written with the other's name
    /// and scale: the shock's full stroke over the fork's full travel.
    pub swapped: Option<f64>,
}

impl SuspensionLogger {
    /// A logger in good order with a given clock.
    pub fn new(clock: Clock) -> Self {
        Self {
            rate_hz: 250.0,
            accelerometer_every: 5,
            clock,
            front_mm: Sensor { bias: 0.7, noise: 0.08, count: 0.1, range: 230.0 },
            stroke_mm: Sensor { bias: -0.15, noise: 0.03, count: 0.02, range: 85.0 },
            front_bar: Sensor { bias: 0.04, noise: 0.012, count: 0.02, range: 60.0 },
            rear_bar: Sensor { bias: -0.02, noise: 0.012, count: 0.02, range: 60.0 },
            vertical_g: Sensor { bias: 0.015, noise: 0.01, count: 0.004, range: 16.0 },
            front_pulses_per_turn: None,
            axle_g: None,
            pulses_per_turn: 24.0,
            losses: 1,
            front_trouble: Trouble::None,
            stroke_trouble: Trouble::None,
            swapped: None,
        }
    }

    /// The same logger with all it can carry: 1000 rows a second, pulses from both wheels, accelerometers on both axles.
    #[must_use]
    pub fn fully_fitted(mut self) -> Self {
        let axle = |bias| Sensor { bias, noise: 0.15, count: 0.05, range: 100.0 };
        self.rate_hz = 1000.0;
        self.accelerometer_every = 10;
        self.front_pulses_per_turn = Some(24.0);
        self.axle_g = Some([axle(0.2), axle(-0.1)]);
        self
    }

    fn header(&self) -> String {
        let mut header =
            "Time [ms],Fork travel [mm],Shock stroke [mm],Front brake [bar],Rear brake [bar],".to_owned();
        if self.front_pulses_per_turn.is_some() {
            header.push_str("Front wheel [pulses],");
        }
        header.push_str("Rear wheel [pulses],");
        if self.axle_g.is_some() {
            header.push_str("Front axle vertical [g],Rear axle vertical [g],");
        }
        header.push_str("Frame vertical [g]\n");
        header
    }

    /// Writes the log of a run.
    pub fn text(&self, truth: &Truth, seed: u64) -> String {
        let mut random = Random::new(seed, 20);
        let first_ms = (1000.0 * self.clock.offset_s).round();
        let period_ms = 1000.0 / self.rate_hz;
        let rows = (truth.duration_s() * self.rate_hz) as usize;
        let lost = super::lost_rows(&mut random, rows, self.losses, 14);
        let mut text = String::with_capacity(rows * 40);
        text.push_str(&self.header());
        let travel_mm = |time_s: f64| {
            let front_mm = 1000.0 * at(&truth.front_travel_m, time_s);
            let stroke_mm = 1000.0 * at(&truth.shock_stroke_m, time_s);
            match self.swapped {
                Some(ratio) => [stroke_mm / ratio, front_mm * ratio],
                None => [front_mm, stroke_mm],
            }
        };
        // Each trouble waits for its place; what it then shows may hang on what was there.
        let troubles = [self.front_trouble, self.stroke_trouble]
            .map(|trouble| (trouble, truth.time_at_distance_s(trouble.from_m()).unwrap_or(f64::INFINITY)));
        let sensors = [self.front_mm, self.stroke_mm];
        let stuck_mm = [0, 1].map(|end| {
            let (_, from_s) = troubles[end];
            if from_s.is_finite() { travel_mm(from_s)[end] } else { 0.0 }
        });
        for row in 0..rows {
            let shown_ms = first_ms + row as f64 * period_ms;
            let time_s = self.clock.true_s(shown_ms / 1000.0);
            let mm = travel_mm(time_s);
            let [front, stroke] = [0, 1].map(|end| {
                let (trouble, from_s) = troubles[end];
                let now = if time_s >= from_s { trouble } else { Trouble::None };
                now.reading(&sensors[end], mm[end], stuck_mm[end], &mut random)
            });
            let front_bar = self.front_bar.reading(1e-5 * at(&truth.front_brake_pa, time_s), &mut random);
            let rear_bar = self.rear_bar.reading(1e-5 * at(&truth.rear_brake_pa, time_s), &mut random);
            let front_pulses = self
                .front_pulses_per_turn
                .map(|per_turn| (per_turn * at_f64(&truth.front_wheel_turns, time_s)).floor());
            let axles_g = self.axle_g.map(|sensors| {
                [&truth.front_axle_mps2, &truth.rear_axle_mps2]
                    .into_iter()
                    .zip(sensors)
                    .map(|(series, sensor)| {
                        let felt = mean(series, time_s, 1.0 / self.rate_hz) / GRAVITY_MPS2;
                        sensor.reading(felt, &mut random)
                    })
                    .collect::<Vec<_>>()
            });
            let pulses = (self.pulses_per_turn * at_f64(&truth.rear_wheel_turns, time_s)).floor();
            let window_s = self.accelerometer_every as f64 / self.rate_hz;
            let vertical_g = self
                .vertical_g
                .reading(mean(&truth.frame_force_mps2[2], time_s, window_s) / GRAVITY_MPS2, &mut random);
            if lost.iter().any(|gap| gap.contains(&row)) {
                continue;
            }
            // Writing to a String cannot fail.
            let _ = write!(text, "{shown_ms:.0},{front:.1},{stroke:.2},{front_bar:.2},{rear_bar:.2},");
            if let Some(front_pulses) = front_pulses {
                let _ = write!(text, "{front_pulses:.0},");
            }
            let _ = write!(text, "{pulses:.0},");
            for axle_g in axles_g.into_iter().flatten() {
                let _ = write!(text, "{axle_g:.2},");
            }
            if row % self.accelerometer_every == 0 {
                let _ = write!(text, "{vertical_g:.3}");
            }
            text.push('\n');
        }
        text
    }
}
