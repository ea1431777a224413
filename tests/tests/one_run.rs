//! One run through the whole core, checked by what must hold of any run, whatever its numbers.

use std::fmt::{Debug, Write};
use std::sync::Arc;

use evenkeel_core::handover::Manifest;
use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::setup::{Entry, Item, SetupSheet};
use evenkeel_core::{Day, EndReadout, Log, RunSheet, analyse_now, import};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// A bike rolling over two unlike sines at each end and leaning left and right, as a logger writes it.
#[derive(Clone, Copy)]
struct Log1 {
    rate_hz: f64,
    start_s: f64,
    /// -1 mirrors the bike left to right.
    mirror: f64,
    swapped: bool,
}

const PLAIN: Log1 = Log1 { rate_hz: 500.0, start_s: 0.0, mirror: 1.0, swapped: false };

const HEADER: [&str; 10] = [
    "time [s]",
    "front travel [mm]",
    "rear travel [mm]",
    "front wheel speed [m/s]",
    "acc x [m/s^2]",
    "acc y [m/s^2]",
    "acc z [m/s^2]",
    "gyro x [rad/s]",
    "gyro y [rad/s]",
    "gyro z [rad/s]",
];

impl Log1 {
    /// The log without the columns whose header holds one of `left_out`.
    fn text(self, left_out: &[&str]) -> String {
        let kept: Vec<usize> =
            (0..HEADER.len()).filter(|&i| !left_out.iter().any(|word| HEADER[i].contains(word))).collect();
        let mut text = kept.iter().map(|&i| HEADER[i]).collect::<Vec<_>>().join(",") + "\n";
        for i in 0..(40.0 * self.rate_hz) as usize {
            let t = i as f64 / self.rate_hz;
            let row = self.row(t);
            let cells: Vec<String> = kept.iter().map(|&i| format!("{:.6}", row[i])).collect();
            writeln!(text, "{}", cells.join(",")).unwrap();
        }
        text
    }

    fn row(self, t: f64) -> [f64; 10] {
        let mut ends = [52.0 + 18.0 * (7.0 * t).sin(), 63.0 + 31.0 * (11.0 * t).cos()];
        if self.swapped {
            ends.reverse();
        }
        // Still for five seconds, then 8 m/s, weaving: roll and its rate in a coordinated turn.
        let speed = 8.0 * ((t - 5.0) / 3.0).clamp(0.0, 1.0);
        let (roll, roll_rate) = if t > 8.0 {
            let phase = 0.6 * (t - 8.0);
            (0.4 * self.mirror * phase.sin(), 0.24 * self.mirror * phase.cos())
        } else {
            (0.0, 0.0)
        };
        let accel = if t > 5.0 && t < 8.0 { 8.0 / 3.0 } else { 0.0 } + 0.05 * (61.0 * t).sin();
        // tan(roll) = -v yaw_rate / g: leaning right while turning right.
        let yaw_rate = if speed > 0.0 { -9.80665 * roll.tan() / speed } else { 0.0 };
        let (sin, cos) = roll.sin_cos();
        // A sensor that reads the same for seconds would be dead or at its rail: each trembles a little.
        let up = 9.80665 / cos + 0.05 * (53.0 * t).sin();
        let aside = 0.05 * self.mirror * (50.0 * t).sin();
        [
            t + self.start_s,
            ends[0],
            ends[1],
            speed,
            accel,
            aside,
            up,
            roll_rate + 0.002 * self.mirror * (71.0 * t).sin(),
            yaw_rate * sin,
            yaw_rate * cos,
        ]
    }
}

fn ride(text: &str) -> Ride {
    let sources: Vec<_> =
        import::read("log.csv", text.as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect();
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let day = Day { runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
    analyse_now(&day, &day.runs[0], &sources)
}

fn ends(ride: &Ride) -> [&EndReadout; 2] {
    let run = &ride.readout.sections[0];
    [&run.front, &run.rear]
}

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} against {b}");
}

#[test]
fn constructed_motion_is_read_back() {
    let ride = ride(&PLAIN.text(&[]));
    let run = &ride.readout.sections[0];
    close(*run.front.travel.ride_height_m.get().unwrap(), 0.052, 5e-4);
    close(*run.rear.travel.ride_height_m.get().unwrap(), 0.063, 5e-4);
    // Peak speed of a sine is amplitude times angular frequency.
    close(*run.front.axle_speed.rebound_speed_max_mps.get().unwrap(), 0.018 * 7.0, 1e-3);
    close(*run.rear.axle_speed.compression_speed_max_mps.get().unwrap(), 0.031 * 11.0, 2e-3);
    close(run.attitude.lean_max_rad.get().unwrap().abs(), 0.4, 0.02);
    // 8 m/s for 32 s, and speeding up to it over 3 s.
    close(*run.distance_m.get().unwrap(), 8.0 * 32.0 + 12.0, 1.0);
    assert!(run.attitude.speed_used);
    assert!(run.airborne.get().unwrap().is_empty());
}

#[test]
fn swapping_the_ends_swaps_their_numbers() {
    let [plain, swapped] = [PLAIN, Log1 { swapped: true, ..PLAIN }].map(|log| ride(&log.text(&[])));
    let [[front, rear], [front_now, rear_now]] = [ends(&plain), ends(&swapped)];
    // What is a share of full travel too, since both ends have the same here.
    assert_eq!(front, rear_now);
    assert_eq!(rear, front_now);
}

#[test]
fn mirroring_the_bike_turns_lean_and_nothing_else() {
    let [plain, mirrored] = [PLAIN, Log1 { mirror: -1.0, ..PLAIN }].map(|log| ride(&log.text(&[])));
    let [a, b] = [&plain, &mirrored].map(|ride| &ride.readout.sections[0]);
    assert_eq!(
        (&a.front, &a.rear, &a.level.pitch_chord_rms_rad),
        (&b.front, &b.rear, &b.level.pitch_chord_rms_rad)
    );
    let [a, b] = [plain, mirrored].map(|ride| ride.traces.unwrap());
    for (trace, sign) in [(Trace::Roll, -1.0), (Trace::YawRate, -1.0), (Trace::Pitch, 1.0)] {
        for (x, y) in a.get(trace).unwrap().iter().zip(b.get(trace).unwrap()) {
            close(f64::from(*x), sign * f64::from(*y), 1e-4);
        }
    }
}

#[test]
fn a_clock_that_starts_elsewhere_changes_nothing() {
    let [plain, shifted] = [PLAIN, Log1 { start_s: 4096.0, ..PLAIN }].map(|log| ride(&log.text(&[])));
    let [a, b] = [&plain, &shifted].map(|ride| &ride.readout.sections[0]);
    close(a.time_s, b.time_s, 1e-6);
    close(b.start_s - a.start_s, 4096.0, 1e-6);
    for (x, y) in [
        (&a.front.travel.ride_height_m, &b.front.travel.ride_height_m),
        (&a.rear.axle_speed.rebound_speed_p95_mps, &b.rear.axle_speed.rebound_speed_p95_mps),
        (&a.level.pitch_chord_rms_rad, &b.level.pitch_chord_rms_rad),
        (&a.attitude.lean_max_rad, &b.attitude.lean_max_rad),
    ] {
        close(*x.get().unwrap(), *y.get().unwrap(), 1e-5);
    }
}

#[test]
fn twice_the_rate_gives_the_same_numbers() {
    let [plain, fast] = [PLAIN, Log1 { rate_hz: 1000.0, ..PLAIN }].map(|log| ride(&log.text(&[])));
    let [a, b] = [&plain, &fast].map(|ride| &ride.readout.sections[0]);
    for (x, y, tolerance) in [
        (&a.front.travel.ride_height_m, &b.front.travel.ride_height_m, 2e-4),
        (&a.rear.axle_speed.rebound_speed_p95_mps, &b.rear.axle_speed.rebound_speed_p95_mps, 2e-3),
        (&a.level.pitch_chord_rms_rad, &b.level.pitch_chord_rms_rad, 1e-4),
        (&a.attitude.lean_max_rad, &b.attitude.lean_max_rad, 2e-3),
    ] {
        close(*x.get().unwrap(), *y.get().unwrap(), tolerance);
    }
}

/// What each channel's absence takes away, and the words that say so.
#[test]
fn what_a_missing_channel_takes_away_is_not_measured_and_says_why() {
    let without = |words: &[&str]| ride(&PLAIN.text(words)).readout.sections.remove(0);

    let run = without(&["front travel"]);
    assert!(run.front.travel.ride_height_m.get().unwrap_err().0.contains("front axle travel"));
    assert!(run.level.pitch_chord_rms_rad.get().unwrap_err().0.contains("axle travel"));
    assert!(run.airborne.get().is_err());
    assert!(run.rear.travel.ride_height_m.get().is_ok());

    let run = without(&["rear travel"]);
    assert!(run.rear.axle_speed.rebound_fast_share.get().unwrap_err().0.contains("rear axle travel"));
    assert!(run.front.travel.ride_height_m.get().is_ok());

    let run = without(&["speed"]);
    assert!(run.distance_m.get().unwrap_err().0.contains("speed"));
    assert!(!run.attitude.speed_used);
    assert!(run.front.travel.ride_height_m.get().is_ok());

    for sensor in ["gyro", "acc"] {
        let run = without(&[sensor]);
        assert!(run.attitude.lean_max_rad.get().unwrap_err().0.contains("frame"));
        assert_eq!(run.level.pitch_rate_rms_radps.get().is_ok(), sensor != "gyro");
        assert!(run.level.pitch_chord_rms_rad.get().is_ok());
    }
}

/// An axle that shakes with a sine of amplitude a about 1 g has an RMS of a / sqrt 2.
#[test]
fn axle_accelerometers_stand_beside_the_speeds() {
    let mut text = "time [s],front travel [mm],front wheel speed [m/s],front axle acc z [m/s^2]\n".to_owned();
    for i in 0..10_000 {
        let t = f64::from(i) / 500.0;
        writeln!(
            text,
            "{t:.3},{:.2},{:.3},{:.4}",
            50.0 + 5.0 * t.sin() + 0.1 * t,
            // One that never changed would be dead.
            5.0 + 0.2 * t.cos(),
            9.80665 + 30.0 * (77.0 * t).sin()
        )
        .unwrap();
    }
    let run = ride(&text).readout.sections.remove(0);
    close(*run.front.axle_accel_rms_mps2.get().unwrap(), 30.0 / 2_f64.sqrt(), 0.1);
    close(*run.front.axle_accel_p99_mps2.get().unwrap(), 30.0, 0.1);
    assert!(run.rear.axle_accel_rms_mps2.get().is_err());
    // It rolls from the first sample on.
    assert!(run.front.sag_m.get().unwrap_err().0.contains("still"));
}

#[test]
fn a_slow_log_has_no_peak_speeds() {
    let run = ride(&Log1 { rate_hz: 100.0, ..PLAIN }.text(&[])).readout.sections.remove(0);
    assert!(run.front.axle_speed.compression_speed_max_mps.get().unwrap_err().0.contains("200 Hz"));
    assert!(run.front.travel.ride_height_m.get().is_ok());
}

#[test]
fn no_usable_channel_is_no_panic() {
    let ride = ride("time [s],mood\n0,good\n1,better\n2,best\n");
    assert!(ride.traces.is_none() && ride.attitude.is_err() && ride.readout.sections.is_empty());
}

/// What the page and its worker say to each other comes through as it was, whatever of it is left out. Source: equality.
#[test]
fn what_is_typed_and_what_is_read_out_come_through_as_bytes() {
    fn comes_through<T: Serialize + DeserializeOwned + PartialEq + Debug>(what: &T) {
        assert_eq!(
            evenkeel_wire::from_bytes::<T>(&evenkeel_wire::to_bytes(what).unwrap()).as_ref(),
            Ok(what)
        );
    }
    let mut sheet = SetupSheet::default().with_words("as it came");
    comes_through(&sheet);
    for (text, item) in ["61 psi", "open", "8"].into_iter().zip(Item::all()) {
        sheet.set(item, Entry::read(text, sheet.unit(item), item.units()));
    }
    comes_through(&sheet);
    let demo = include_bytes!("../../demo-data/harrowdean/day.json");
    let mut written = Manifest::from_json(demo).unwrap();
    comes_through(&written);
    written.day.runs[0].setup = sheet;
    comes_through(&written);
    for left_out in [&[][..], &["travel", "wheel"]] {
        comes_through(&ride(&PLAIN.text(left_out)).readout);
    }
}
