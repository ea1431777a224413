//! What a missing or slow channel takes away, and the words that say so.

use evenkeel_core::{Bike, Measured, SectionReadout};

use crate::made_log::*;

fn without(words: &[&str]) -> SectionReadout {
    run(&ride(&PLAIN.text(words), Bike::default()))
}

fn says<T: std::fmt::Debug>(measured: &Measured<T>, words: &str) {
    let reason = measured.get().unwrap_err().0;
    assert!(reason.contains(words), "\"{reason}\" does not say \"{words}\"");
}

#[test]
fn one_brake_alone() {
    let run = without(&["front brake"]);
    says(&run.brakes.front.applications, "front brake pressure");
    says(&run.brakes.front.drag_s, "front brake pressure");
    says(&run.brakes.front.residual.residual_rms_pa, "front brake pressure");
    says(&run.brakes.front.zero.zero_start_pa, "front brake pressure");
    says(&run.brakes.overlap_s, "front brake pressure");
    says(&run.brakes.balance_front_share, "front brake pressure");
    says(&run.dive.gain_m_per_pa, "front brake pressure");
    says(&run.rider.pushes, "front brake pressure");
    assert_eq!(run.brakes.rear.applications.get(), Ok(&REAR.len()));
    assert!(run.brakes.rear.drag_s.get().is_ok());

    let run = without(&["rear brake"]);
    says(&run.brakes.rear.area_pa_s, "rear brake pressure");
    says(&run.brakes.overlap_s, "rear brake pressure");
    assert!(run.dive.gain_m_per_pa.get().is_ok() && run.brakes.front.area_pa_s.get().is_ok());
    // The push under the rear brake can no longer be told.
    assert_eq!(run.rider.pushes.get(), Ok(&5));
}

#[test]
fn no_travel() {
    let run = without(&["front travel"]);
    says(&run.dive.gain_m_per_pa, "front axle travel");
    says(&run.dive.dives, "front axle travel");
    says(&run.rider.pushes, "front axle travel");
    assert_eq!(run.brakes.front.applications.get(), Ok(&FRONT.len()));

    let run = without(&["rear travel"]);
    says(&run.dive.pitch_rad, "rear axle travel");
    assert!(run.dive.dives.get().unwrap().iter().all(|dive| dive.pitch_rad.is_none()));
    assert!(run.dive.gain_m_per_pa.get().is_ok());
}

#[test]
fn no_accelerometer() {
    let run = without(&["acc", "bar acc"]);
    says(&run.rider.pushes, "frame or bar");
    says(&run.rider.push_size_m, "frame or bar");
    says(&run.rider.hand_load_rms_mps2, "bar acceleration");
    says(&run.brakes.rear.residual.residual_lateral_correlation, "frame acceleration y");
    assert!(run.brakes.rear.residual.residual_rms_pa.get().is_ok());

    let run = without(&["bar acc"]);
    assert_eq!(run.rider.pushes.get(), Ok(&4));
    says(&run.rider.hand_load_p95_mps2, "bar acceleration");

    let run = without(&["acc"]);
    assert_eq!(run.rider.pushes.get(), Ok(&4));
    says(&run.rider.hand_load_rms_mps2, "frame acceleration");
    says(&run.brakes.rear.residual.residual_lean_correlation, "lean");
}

/// Nothing says whether the bike rolls: brakes are read as if it did.
#[test]
fn brakes_alone() {
    let run = without(&["front travel", "rear travel", "front wheel", "acc", "bar"]);
    assert_eq!(run.brakes.front.applications.get(), Ok(&FRONT.len()));
    assert_eq!(run.brakes.rear.drag_list.get().unwrap().len(), 1);
    assert!(run.brakes.rear.residual.residual_rms_pa.get().is_ok());
}

#[test]
fn a_slow_log() {
    // A rate that none of the log's tones fits into.
    let run = MadeLog { rate_hz: 7.7, ..PLAIN }.read();
    says(&run.dive.gain_m_per_pa, "10 Hz");
    says(&run.rider.pushes, "100 Hz");
    says(&run.rider.hand_load_rms_mps2, "100 Hz");
    let front = run.brakes.front.application_list.get().unwrap();
    says(&front[0].rise_rate_pa_per_s, "40 Hz");
}

/// Rows lost for less than a tenth of a second do not cut a pull in two; a longer gap does, and no number
/// turns into nothing.
#[test]
fn gaps() {
    let text = PLAIN.text(&[]);
    let lost = |from_s: f64, to_s: f64| {
        let kept = text.lines().filter(|line| {
            let time = line.split(',').next().and_then(|t| t.parse::<f64>().ok());
            time.is_none_or(|t| t < from_s || t >= to_s)
        });
        run(&ride(&kept.fold(String::new(), |text, line| text + line + "\n"), Bike::default()))
    };
    let whole = PLAIN.read().brakes.front;
    let short = lost(20.5, 20.56).brakes.front;
    assert_eq!(short.applications.get(), Ok(&FRONT.len()));
    let share = short.area_pa_s.get().unwrap() / whole.area_pa_s.get().unwrap();
    close("area across 60 ms, share", share, 1.0, 1e-3);
    let long = lost(20.4, 20.7).brakes.front;
    assert_eq!(long.applications.get(), Ok(&(FRONT.len() + 1)));
    assert!(long.area_pa_s.get().unwrap().is_finite() && long.drag_s.get() == Ok(&0.0));
}

#[test]
fn a_brake_that_is_never_pulled() {
    let text = PLAIN.text(&["rear brake", "front brake"]);
    let with = text.lines().enumerate().fold(String::new(), |text, (i, line)| {
        let bar = if i % 2 == 0 { "0.01" } else { "0.02" };
        text + line + "," + if i == 0 { "rear brake [bar]" } else { bar } + "\n"
    });
    let rear = run(&ride(&with, Bike::default())).brakes.rear;
    assert_eq!((rear.applications.get(), rear.drag_s.get()), (Ok(&0), Ok(&0.0)));
    assert_eq!(rear.area_pa_s.get(), Ok(&0.0));
    says(&rear.usual_peak_pa, "never pulled");
    says(&rear.light_s, "never pulled");
}
