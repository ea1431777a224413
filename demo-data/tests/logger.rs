//! What the loggers write when more is fitted than on the demo day, read back by the app.

use evenkeel_core::{End, Place, Profile, Role, import};
use evenkeel_demo_data::bike::{Bike, Setup};
use evenkeel_demo_data::logger::motion::MotionLogger;
use evenkeel_demo_data::logger::suspension::SuspensionLogger;
use evenkeel_demo_data::ride::Run;
use evenkeel_demo_data::rider::Rider;
use evenkeel_demo_data::sensor::Clock;
use evenkeel_demo_data::truth::Truth;

const CLOCK: Clock = Clock { offset_s: 0.0, drift_ppm: 0.0 };

fn ride(until_s: f64) -> Truth {
    let mut run = Run::new(Bike::new(&Setup::default()), Rider::default(), 7, 8);
    run.until_s = until_s;
    run.ride()
}

fn roles(text: &str) -> (Vec<Role>, f64) {
    let read = import::read("log.csv", text.as_bytes());
    let source = read.unwrap_or_else(|error| panic!("{error}")).parts.swap_remove(0);
    let rows = source.time_s.len();
    let rate_hz = (rows - 1) as f64 / (source.time_s[rows - 1] - source.time_s[0]);
    (Profile::guess(&source).channels.into_iter().map(|channel| channel.role).collect(), rate_hz)
}

#[test]
fn fully_fitted_loggers_are_understood() {
    let truth = ride(25.0);
    let mut suspension = SuspensionLogger::new(CLOCK).fully_fitted();
    suspension.losses = 0;
    let (found, rate_hz) = roles(&suspension.text(&truth, 1));
    assert!((rate_hz / 1000.0 - 1.0).abs() < 0.01, "{rate_hz} Hz");
    for role in [Role::WheelPulses(End::Front), Role::WheelPulses(End::Rear)] {
        assert!(found.contains(&role), "{role:?} is not in {found:?}");
    }
    let on_axles = found
        .iter()
        .filter(|role| matches!(role, Role::Accel(Place::FrontAxle | Place::RearAxle, _)))
        .count();
    assert_eq!(on_axles, 2, "{found:?}");
    let (found, rate_hz) = roles(&MotionLogger::new(CLOCK).fully_fitted().text(&truth, 1));
    assert!((rate_hz / 1000.0 - 1.0).abs() < 0.01, "{rate_hz} Hz");
    let gyros = found.iter().filter(|role| matches!(role, Role::Gyro(..))).count();
    assert_eq!(gyros, 6, "frame and bars");
}

/// Specific force at rest is gravity (Newton), on axles as on the frame.
#[test]
fn axles_at_rest_feel_gravity() {
    let truth = ride(5.0);
    for series in [&truth.front_axle_mps2, &truth.rear_axle_mps2] {
        let mean = series[1000..5000].iter().map(|value| f64::from(*value)).sum::<f64>() / 4000.0;
        assert!((mean - 9.806_65).abs() < 0.02, "{mean}");
    }
}
