//! Whether the bike stays level: the read-out of constructed rides with known answers, beside SciPy on the
//! same arrays, and of a simulated run against its truth.

mod constructed;
mod model;
mod scipy;

use std::fmt::Write;
use std::sync::Arc;

use evenkeel_core::ride::Ride;
use evenkeel_core::{Bike, Day, Log, RunSheet, SectionReadout, analyse_now, import};

/// What a constructed bike does at one moment, in the columns of [`HEADER`].
#[derive(Clone, Copy, Default)]
pub struct Moment {
    /// Vertical wheel movement of the front, m; the log has it along the fork.
    pub front_m: f64,
    pub rear_m: f64,
    pub speed_mps: f64,
    pub front_brake_bar: f64,
    /// Specific force on top of what standing upright or a balanced turn makes, m/s^2.
    pub aside_mps2: f64,
    pub up_mps2: f64,
    /// Lean, rad, + right, and its rate.
    pub roll_rad: f64,
    pub roll_radps: f64,
    pub pitch_radps: f64,
}

const HEADER: [&str; 11] = [
    "time [s]",
    "front travel [mm]",
    "rear travel [mm]",
    "front wheel speed [m/s]",
    "front brake [bar]",
    "acc x [m/s^2]",
    "acc y [m/s^2]",
    "acc z [m/s^2]",
    "gyro x [rad/s]",
    "gyro y [rad/s]",
    "gyro z [rad/s]",
];

const G: f64 = 9.806_65;

/// How a constructed ride is written down.
#[derive(Clone, Copy)]
pub struct Logged<'a> {
    pub rate_hz: f64,
    pub duration_s: f64,
    pub start_s: f64,
    /// -1 mirrors the bike left to right.
    pub mirror: f64,
    /// Columns whose header holds one of these are left out.
    pub without: &'a [&'a str],
}

/// Sixty seconds at 250 Hz.
pub const PLAIN: Logged<'static> =
    Logged { rate_hz: 250.0, duration_s: 60.0, start_s: 0.0, mirror: 1.0, without: &[] };

impl Logged<'_> {
    pub fn ride(self, motion: impl Fn(f64) -> Moment) -> Ride {
        let kept: Vec<usize> = (0..HEADER.len())
            .filter(|&i| !self.without.iter().any(|word| HEADER[i].contains(word)))
            .collect();
        let mut text = kept.iter().map(|&i| HEADER[i]).collect::<Vec<_>>().join(",") + "\n";
        let sin = Bike::default().head_angle_rad.sin();
        for i in 0..(self.duration_s * self.rate_hz) as usize {
            let t = i as f64 / self.rate_hz;
            let now = motion(t);
            let (roll, turn) = (self.mirror * now.roll_rad, self.mirror * now.roll_radps);
            // A balanced turn: tan(roll) = -v yaw_rate / g.
            let yaw = if now.speed_mps > 0.0 { -G * roll.tan() / now.speed_mps } else { 0.0 };
            // Sensors are never quite still; one that reads a constant would be called dead.
            let hum = 0.003 * (300.0 * t).sin();
            let row = [
                t + self.start_s,
                1e3 * now.front_m / sin + hum,
                1e3 * now.rear_m + hum,
                now.speed_mps + if now.speed_mps > 0.0 { 0.1 * hum } else { 0.0 },
                now.front_brake_bar + hum,
                hum,
                self.mirror * (now.aside_mps2 + hum),
                G / roll.cos() + now.up_mps2 + hum,
                turn + self.mirror * 0.1 * hum,
                now.pitch_radps + yaw * roll.sin() + 0.1 * hum,
                yaw * roll.cos() + self.mirror * 0.1 * hum,
            ];
            let cells: Vec<String> = kept.iter().map(|&i| format!("{:.6}", row[i])).collect();
            writeln!(text, "{}", cells.join(",")).unwrap();
        }
        ride(&text)
    }

    pub fn run(self, motion: impl Fn(f64) -> Moment) -> SectionReadout {
        self.ride(motion).readout.sections.remove(0)
    }
}

/// The ride of one log as its headers suggest, on a bike of 200 mm, 63 deg, 1250 mm.
pub fn ride(text: &str) -> Ride {
    let sources: Vec<_> =
        import::read("log.csv", text.as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect();
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let day = Day { runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
    analyse_now(&day, &day.runs[0], &sources)
}

pub fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} against {b} (tolerance {tolerance})");
}

/// Reproducible noise, uniform in -1..1 (xorshift64*, Vigna 2016).
pub fn noise(n: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut next = || {
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    };
    (0..n).map(|_| next()).collect()
}

/// Rough ground, m high, by distance: tones between `low` and `high` cycles per metre at random phases.
pub struct Ground(Vec<[f64; 3]>);

impl Ground {
    pub fn new(deviation_m: f64, [low, high]: [f64; 2], seed: u64) -> Self {
        const TONES: usize = 40;
        let random = noise(2 * TONES, seed);
        let size = deviation_m * (2.0 / TONES as f64).sqrt();
        let tone = |pair: &[f64; 2]| {
            let per_m = low * (high / low).powf(0.5 * (pair[0] + 1.0));
            [size, std::f64::consts::TAU * per_m, std::f64::consts::PI * pair[1]]
        };
        Self(random.as_chunks::<2>().0.iter().map(tone).collect())
    }

    pub fn at(&self, distance_m: f64) -> f64 {
        self.0.iter().map(|[size, wave, phase]| size * (wave * distance_m + phase).sin()).sum()
    }
}
