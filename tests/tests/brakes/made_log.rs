//! A log whose every number can be worked out by hand.

use std::f64::consts::TAU;
use std::fmt::Write;
use std::sync::Arc;

use evenkeel_core::ride::Ride;
use evenkeel_core::{Bike, Day, Log, RunSheet, SectionReadout, analyse_now, import};

/// A pull of a lever: up in 0.2 s, held, down in 0.2 s. Half a bar is given in the middle of the hold, so
/// that it does not look like the end of a sensor's range.
#[derive(Clone, Copy)]
pub struct Pull {
    pub at_s: f64,
    pub peak_bar: f64,
    pub hold_s: f64,
}

pub const RAMP_S: f64 = 0.2;
const GIVEN_BAR: f64 = 0.5;

impl Pull {
    fn bar(&self, t: f64) -> f64 {
        let Self { at_s, peak_bar, hold_s } = *self;
        let since = t - at_s;
        if since <= 0.0 || since >= 2.0 * RAMP_S + hold_s {
            0.0
        } else if since < RAMP_S {
            peak_bar * since / RAMP_S
        } else if since <= RAMP_S + hold_s {
            peak_bar - GIVEN_BAR * (1.0 - (TAU * (since - RAMP_S) / hold_s).cos()) / 2.0
        } else {
            peak_bar * (2.0 * RAMP_S + hold_s - since) / RAMP_S
        }
    }

    /// It passes 1.0 bar on the way up...
    pub fn on_s(&self) -> f64 {
        self.at_s + RAMP_S / self.peak_bar
    }

    /// ...and 0.6 bar on the way down.
    pub fn off_s(&self) -> f64 {
        self.at_s + RAMP_S + self.hold_s + RAMP_S * (1.0 - 0.6 / self.peak_bar)
    }

    /// Two ramps and the hold, less the two corners below the thresholds.
    pub fn area_bar_s(&self) -> f64 {
        let corners = (1.0 + 0.6 * 0.6) / self.peak_bar * RAMP_S / 2.0;
        self.peak_bar * RAMP_S + (self.peak_bar - GIVEN_BAR / 2.0) * self.hold_s - corners
    }
}

const fn pull(at_s: f64, peak_bar: f64, hold_s: f64) -> Pull {
    Pull { at_s, peak_bar, hold_s }
}

pub const FRONT: [Pull; 5] = [
    pull(10.0, 20.0, 0.8),
    pull(20.0, 24.0, 0.8),
    pull(30.0, 28.0, 0.8),
    pull(40.0, 16.0, 0.8),
    pull(50.0, 12.0, 0.8),
];
/// The last is dragged.
pub const REAR: [Pull; 3] = [pull(10.4, 10.0, 1.2), pull(25.0, 30.0, 0.6), pull(35.0, 2.0, 4.0)];

/// The rear shows this much with its lever off...
pub const CONSTANT_BAR: f64 = 0.3;
/// ...and this much more in blips.
pub const BLIP_BAR: f64 = 0.2;
pub const BLIPS_S: [f64; 6] = [14.0, 16.5, 22.0, 28.0, 44.0, 47.0];
pub const BLIP_S: f64 = 0.1;

/// Fork travel gained per bar, in half a second.
pub const DIVE_MM_PER_BAR: f64 = 2.5;
const DIVE_S: f64 = 0.4;

/// A push of the rider, or a bump: when, how large, and whether it begins upward.
pub const MOVES: [(f64, f64, f64); 9] = [
    (13.0, 15.0, -1.0),
    (15.0, 20.0, -1.0),
    (23.5, 25.0, -1.0),
    (27.0, 30.0, -1.0),
    // Bumps.
    (18.0, 30.0, 1.0),
    (33.0, 20.0, 1.0),
    (45.0, 15.0, 1.0),
    // Too small.
    (42.5, 6.0, -1.0),
    // With the rear brake on.
    (37.0, 25.0, -1.0),
];
const MOVE_S: f64 = 0.6;
/// Share of the fork's stroke by which frame and bar move.
const FRAME_SHARE: f64 = 0.5;

/// The hands' load, m/s^2 and Hz; slower than a push.
pub const HANDS: [f64; 2] = [0.8, 0.25];

pub const HEADER: [&str; 9] = [
    "time [s]",
    "front travel [mm]",
    "rear travel [mm]",
    "front wheel speed [m/s]",
    "front brake [bar]",
    "rear brake [bar]",
    "acc y [m/s^2]",
    "acc z [m/s^2]",
    "bar acc z [m/s^2]",
];

#[derive(Clone, Copy)]
pub struct MadeLog {
    pub rate_hz: f64,
    pub start_s: f64,
    pub swapped: bool,
    /// Pressure that lateral acceleration squeezes out of the rear brake, bar per m/s^2 of its magnitude.
    pub flex_bar: f64,
    /// What the rear's zero gains, bar a minute.
    pub creep_bar_per_min: f64,
}

pub const PLAIN: MadeLog =
    MadeLog { rate_hz: 500.0, start_s: 0.0, swapped: false, flex_bar: 0.0, creep_bar_per_min: 0.0 };

pub const LENGTH_S: f64 = 60.0;
/// It stands until then.
pub const ROLLS_S: f64 = 4.0;

impl MadeLog {
    fn row(self, t: f64) -> [f64; 9] {
        let sum = |pulls: &[Pull]| pulls.iter().map(|pull| pull.bar(t)).sum::<f64>();
        let lateral = 2.0 * (TAU * 0.37 * t).sin();
        let blip = BLIPS_S.iter().any(|at| (0.0..BLIP_S).contains(&(t - at)));
        let residual = CONSTANT_BAR
            + if blip { BLIP_BAR } else { 0.0 }
            + self.flex_bar * lateral.abs()
            + self.creep_bar_per_min * t / 60.0;
        let mut brakes = [sum(&FRONT), sum(&REAR).max(residual)];
        if self.swapped {
            brakes.reverse();
        }
        let dive: f64 = FRONT
            .iter()
            .map(|pull| {
                let eased = |t: f64| (1.0 - (TAU / 2.0 * (t / DIVE_S).clamp(0.0, 1.0)).cos()) / 2.0;
                DIVE_MM_PER_BAR * pull.peak_bar * (eased(t - pull.at_s) - eased(t - pull.off_s() - 0.3))
            })
            .sum();
        let (mut moved, mut up) = (0.0, 0.0);
        for (at, size, sign) in MOVES {
            let phase = TAU * (t - at) / MOVE_S;
            if (0.0..TAU).contains(&phase) {
                moved += size * (1.0 - phase.cos()) / 2.0;
                up += sign * FRAME_SHARE * 1e-3 * size / 2.0 * (TAU / MOVE_S).powi(2) * phase.cos();
            }
        }
        let shaking = (TAU * 20.0 * t).sin();
        let frame = 9.80665 + up + shaking;
        let [load, load_hz] = HANDS;
        [
            t + self.start_s,
            50.0 + dive + moved + 0.02 * (TAU * 9.0 * t).sin(),
            60.0 + 0.02 * (TAU * 11.0 * t).sin(),
            if t < ROLLS_S { 0.0 } else { 8.0 + 0.1 * t.sin() },
            brakes[0],
            brakes[1],
            lateral,
            frame,
            frame + 0.4 + load * (TAU * load_hz * t).sin() + 3.0 * (TAU * 31.0 * t).sin(),
        ]
    }

    /// The log without the columns whose header begins with one of `left_out`.
    pub fn text(self, left_out: &[&str]) -> String {
        let kept: Vec<usize> =
            (0..HEADER.len()).filter(|&i| !left_out.iter().any(|word| HEADER[i].starts_with(word))).collect();
        let mut text = kept.iter().map(|&i| HEADER[i]).collect::<Vec<_>>().join(",") + "\n";
        for i in 0..(LENGTH_S * self.rate_hz) as usize {
            let row = self.row(i as f64 / self.rate_hz);
            let cells: Vec<String> = kept.iter().map(|&i| format!("{:.6}", row[i])).collect();
            writeln!(text, "{}", cells.join(",")).unwrap();
        }
        text
    }

    pub fn read(self) -> SectionReadout {
        run(&ride(&self.text(&[]), Bike::default()))
    }
}

pub fn ride(text: &str, bike: Bike) -> Ride {
    let sources: Vec<_> =
        import::read("log.csv", text.as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect();
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let day = Day { bike, runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
    analyse_now(&day, &day.runs[0], &sources)
}

pub fn run(ride: &Ride) -> SectionReadout {
    ride.readout.sections[0].clone()
}

pub fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    println!("{what}: {found:.6} (by hand {expected:.6}, +- {tolerance})");
    assert!((found - expected).abs() <= tolerance, "{what}: {found} against {expected}");
}
