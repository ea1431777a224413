//! Logs of any length and width, as one fast logger writes them: for the benches.

use std::io::{self, Write};

use evenkeel_demo_data::day::plans;
use evenkeel_demo_data::truth::RECORD_HZ;

use crate::logged::{Logged, noise_of};

/// Length of the simulated ride that a longer log repeats, s.
const RIDE_S: f64 = 180.0;

/// Writes `seconds` of a simulated ride as comma-separated text: time and 1 to 24 `channels`, `rate_hz` rows a second
/// (a whole part of the model's 1000). About 9 bytes a value; always the same for the same arguments.
///
/// The first twenty channels are [`Logged`]'s; then come vertical acceleration at both axles, the height and the
/// ground speed. A log longer than the ride goes through it again from where it stopped.
///
/// # Errors
/// What `to` answers when it takes no more.
///
/// # Panics
/// If there are no such channels or no such rate.
pub fn write_log(to: &mut impl Write, seconds: f64, channels: usize, rate_hz: f64) -> io::Result<()> {
    let step = (RECORD_HZ / rate_hz).round() as usize;
    assert!(step >= 1 && RECORD_HZ / step as f64 == rate_hz, "no whole part of {RECORD_HZ} Hz: {rate_hz}");
    let ride = ride(seconds.min(RIDE_S), step);
    assert!((1..=ride.len()).contains(&channels), "no log of {channels} channels");
    let ride = &ride[..channels];
    let once = ride[0].values.len();

    write!(to, "time [s]")?;
    ride.iter().try_for_each(|channel| write!(to, ",{}", channel.header))?;
    writeln!(to)?;
    for row in 0..(seconds * rate_hz).round() as usize {
        let (lap, at) = (row / once, row % once);
        write!(to, "{:.4}", row as f64 / rate_hz)?;
        for Channel { values, digits, goes_on, .. } in ride {
            let travelled = if *goes_on { lap as f64 * (values[once - 1] - values[0]) } else { 0.0 };
            write!(to, ",{:.*}", digits, values[at] + travelled)?;
        }
        writeln!(to)?;
    }
    Ok(())
}

struct Channel {
    header: &'static str,
    values: Vec<f64>,
    digits: usize,
    /// A place, which the next lap starts from; anything else begins anew.
    goes_on: bool,
}

fn ride(seconds: f64, step: usize) -> Vec<Channel> {
    let mut run = plans()[1].run();
    run.until_s = seconds;
    let truth = run.ride();
    let more = |header, values: &[f32], noise: f64, seed| {
        let random = noise_of(values.len(), seed);
        let noisy = values.iter().zip(random).map(|(value, random)| f64::from(*value) + noise * random);
        (header, noisy.step_by(step).collect())
    };
    // A mean slope will do for a height.
    let fallen_m: Vec<f32> = truth.distance_m.iter().map(|along_m| (-0.2 * along_m) as f32).collect();
    let mut channels = Logged::of(&truth, step).channels;
    channels.extend([
        more("front axle acc z [m/s^2]", &truth.front_axle_mps2, 0.5, 21),
        more("rear axle acc z [m/s^2]", &truth.rear_axle_mps2, 0.5, 22),
        more("height [m]", &fallen_m, 0.3, 23),
        more("ground speed [m/s]", &truth.speed_mps, 0.05, 24),
    ]);
    let channel = |(header, values): (&'static str, Vec<f64>)| {
        let place = header.ends_with("[deg]") || header.starts_with("height");
        let digits = if header.ends_with("[deg]") { 8 } else { 5 };
        Channel { header, values, digits, goes_on: place }
    };
    channels.into_iter().map(channel).collect()
}

#[cfg(test)]
mod tests {
    use evenkeel_core::{Profile, Role, import};

    use super::*;

    fn log(seconds: f64, channels: usize, rate_hz: f64) -> Vec<u8> {
        let mut text = Vec::new();
        write_log(&mut text, seconds, channels, rate_hz).unwrap();
        text
    }

    #[test]
    fn every_channel_is_recognised_and_every_row_read() {
        let imported = import::read("long.csv", &log(2.0, 24, 500.0)).unwrap();
        let [source] = &imported.parts[..] else { panic!("{} parts", imported.parts.len()) };
        assert_eq!((source.columns.len(), source.time_s.len()), (24, 1000));
        let profile = Profile::guess(source);
        let unused: Vec<_> = profile.channels.iter().filter(|channel| channel.role == Role::Unused).collect();
        assert!(unused.is_empty(), "{unused:?}");
        assert!(source.report.warnings.is_empty(), "{:?}", source.report.warnings);
    }

    #[test]
    fn it_is_the_same_each_time_and_a_narrower_one_is_its_beginning() {
        let wide = log(0.5, 3, 100.0);
        assert_eq!(wide, log(0.5, 3, 100.0));
        let narrow = String::from_utf8(log(0.5, 2, 100.0)).unwrap();
        let cut = |line: &str| line.rsplit_once(',').unwrap().0.to_owned() + "\n";
        assert_eq!(narrow, String::from_utf8(wide).unwrap().lines().map(cut).collect::<String>());
    }
}
