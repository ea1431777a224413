//! A simulated ride as one logger writes it: channels at will, so that a test can drop, kill or mirror them.

use std::fmt::Write;
use std::sync::Arc;

use evenkeel_core::ride::Ride;
use evenkeel_core::{Bike, Day, Log, RunSheet, Source, analyse_now, import};
use evenkeel_demo_data::truth::{RECORD_HZ, Truth};

/// Twenty channels of one ride, in the units of their headers.
#[derive(Clone, Debug)]
pub struct Logged {
    /// Rows a second.
    pub rate_hz: f64,
    /// What the clock shows in the first row, s.
    pub start_s: f64,
    /// Header and one value per row.
    pub channels: Vec<(&'static str, Vec<f64>)>,
}

impl Logged {
    /// Every `step`-th instant of a simulated ride, with sensor noise.
    pub fn of(truth: &Truth, step: usize) -> Self {
        const BAR_PA: f64 = 1e5;
        const NORTH_M_PER_DEG: f64 = 110_574.0;
        const EAST_M_PER_DEG: f64 = 111_320.0;
        let series = |values: &[f32], scale: f64, noise: f64, seed: u64| -> Vec<f64> {
            let random = noise_of(values.len(), seed);
            values
                .iter()
                .zip(random)
                .map(|(value, random)| scale * f64::from(*value) + noise * random)
                .step_by(step)
                .collect()
        };
        let channels = vec![
            ("front travel [mm]", series(&truth.front_travel_m, 1e3, 0.1, 1)),
            ("rear travel [mm]", series(&truth.rear_travel_m, 1e3, 0.1, 2)),
            ("front brake [bar]", series(&truth.front_brake_pa, 1.0 / BAR_PA, 0.01, 3)),
            ("rear brake [bar]", series(&truth.rear_brake_pa, 1.0 / BAR_PA, 0.01, 4)),
            ("front wheel speed [m/s]", series(&truth.front_wheel_mps, 1.0, 0.005, 5)),
            ("rear wheel speed [m/s]", series(&truth.rear_wheel_mps, 1.0, 0.005, 6)),
            ("frame acc x [m/s^2]", series(&truth.frame_force_mps2[0], 1.0, 0.1, 7)),
            ("frame acc y [m/s^2]", series(&truth.frame_force_mps2[1], 1.0, 0.1, 8)),
            ("frame acc z [m/s^2]", series(&truth.frame_force_mps2[2], 1.0, 0.1, 9)),
            ("frame gyro x [rad/s]", series(&truth.rate_radps[0], 1.0, 0.003, 10)),
            ("frame gyro y [rad/s]", series(&truth.rate_radps[1], 1.0, 0.003, 11)),
            ("frame gyro z [rad/s]", series(&truth.rate_radps[2], 1.0, 0.003, 12)),
            ("bar acc x [m/s^2]", series(&truth.bar_force_mps2[0], 1.0, 0.2, 13)),
            ("bar acc y [m/s^2]", series(&truth.bar_force_mps2[1], 1.0, 0.2, 14)),
            ("bar acc z [m/s^2]", series(&truth.bar_force_mps2[2], 1.0, 0.2, 15)),
            ("bar gyro x [rad/s]", series(&truth.rate_radps[0], 1.0, 0.003, 16)),
            ("bar gyro y [rad/s]", series(&truth.rate_radps[1], 1.0, 0.003, 17)),
            ("bar gyro z [rad/s]", series(&truth.rate_radps[2], 1.0, 0.003, 18)),
            ("latitude [deg]", series(&truth.north_m, 1.0 / NORTH_M_PER_DEG, 0.0, 19)),
            ("longitude [deg]", series(&truth.east_m, 1.0 / EAST_M_PER_DEG, 0.0, 20)),
        ];
        Self { rate_hz: RECORD_HZ / step as f64, start_s: 0.0, channels }
    }

    /// The channel whose header begins so.
    ///
    /// # Panics
    /// If there is none.
    pub fn channel(&mut self, header: &str) -> &mut Vec<f64> {
        let found = self.channels.iter_mut().find(|(name, _)| name.starts_with(header));
        &mut found.unwrap_or_else(|| panic!("no channel {header}")).1
    }

    /// The same without the channels whose header begins so.
    pub fn without(mut self, header: &str) -> Self {
        self.channels.retain(|(name, _)| !name.starts_with(header));
        self
    }

    /// The log's text.
    pub fn text(&self) -> String {
        let mut text = String::from("time [s]");
        for (header, _) in &self.channels {
            text.push(',');
            text.push_str(header);
        }
        let rows = self.channels.first().map_or(0, |(_, values)| values.len());
        for row in 0..rows {
            let time_s = self.start_s + row as f64 / self.rate_hz;
            // Writing to a String cannot fail.
            let _ = write!(text, "\n{time_s:.4}");
            for (header, values) in &self.channels {
                let digits = if header.ends_with("[deg]") { 8 } else { 4 };
                let _ = write!(text, ",{:.digits$}", values[row]);
            }
        }
        text.push('\n');
        text
    }

    /// The log as it is read.
    ///
    /// # Panics
    /// If it cannot be read.
    pub fn sources(&self) -> Vec<Arc<Source>> {
        let imported = import::read("log.csv", self.text().as_bytes()).unwrap_or_else(|e| panic!("{e}"));
        imported.parts.into_iter().map(Arc::new).collect()
    }

    /// What the analysis says of it, roles guessed from the headers.
    pub fn ride(&self, bike: &Bike) -> Ride {
        let day = day(bike);
        analyse_now(&day, &day.runs[0], &self.sources())
    }
}

/// A day of the one run that is in `log.csv`.
pub fn day(bike: &Bike) -> Day {
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let run = RunSheet { name: "run".to_owned(), logs, ..RunSheet::default() };
    Day { bike: bike.clone(), runs: vec![run], ..Day::default() }
}

/// Reproducible noise of standard deviation 1: the sum of three uniform numbers (xorshift64*, Vigna 2016).
pub fn noise_of(n: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut uniform = || {
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    };
    (0..n).map(|_| uniform() + uniform() + uniform()).collect()
}
