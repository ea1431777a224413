//! The same arrays through SciPy and NumPy, run live.

use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::{Axis, Bike, End, Place, Role};
use evenkeel_tests::python::reference;

use crate::{Ground, Moment, PLAIN, close};

fn busy(t: f64, grounds: &[Ground; 3]) -> Moment {
    // 12.5 m/s: one wheelbase is 25 samples at 250 Hz.
    let distance_m = 12.5 * t;
    let roll_rad = 0.3 * (0.35 * t).sin();
    Moment {
        front_m: 0.09 + grounds[0].at(distance_m + 1.25),
        rear_m: 0.09 + 0.8 * grounds[0].at(distance_m) + grounds[1].at(distance_m),
        speed_mps: 12.5,
        aside_mps2: 200.0 * grounds[2].at(distance_m),
        up_mps2: 300.0 * grounds[2].at(distance_m + 100.0),
        roll_rad,
        roll_radps: 0.105 * (0.35 * t).cos(),
        ..Moment::default()
    }
}

fn samples(ride: &Ride, trace: Trace) -> Vec<f64> {
    let traces = ride.traces.as_ref().unwrap();
    traces.get(trace).unwrap().iter().map(|v| f64::from(*v)).collect()
}

/// Sources: `scipy.signal.butter`, `sosfiltfilt`, `numpy.var`, `numpy.std`, `numpy.percentile`,
/// `scipy.stats.bootstrap`.
#[test]
fn bands_variances_windows_and_bootstrap_equal_scipy() {
    let grounds = [
        Ground::new(0.02, [0.05, 0.8], 1),
        Ground::new(0.006, [0.05, 0.8], 2),
        Ground::new(0.01, [0.3, 3.0], 3),
    ];
    let ride = PLAIN.ride(|t| busy(t, &grounds));
    let run = &ride.readout.sections[0];
    let traces = ride.traces.as_ref().unwrap();
    let pairs = run.level.hit_pairs.hit_pairs.get().unwrap();
    let ratios: Vec<f64> = pairs.iter().map(|pair| pair.ratio).collect();
    assert!(ratios.len() > 40, "{}", ratios.len());
    let logged = |role| samples(&ride, Trace::Logged(role));
    let theirs = reference(
        "level",
        &[
            ("rate_hz", &[traces.grid().rate_hz]),
            ("front", &logged(Role::Travel(End::Front))),
            ("rear", &logged(Role::Travel(End::Rear))),
            ("sin_head_angle", &[Bike::default().head_angle_rad.sin()]),
            ("lag", &[25.0]),
            ("lateral", &logged(Role::Accel(Place::Frame, Axis::Y))),
            ("vertical", &logged(Role::Accel(Place::Frame, Axis::Z))),
            ("axle_speed", &samples(&ride, Trace::AxleSpeed(End::Front))),
            ("lean", &samples(&ride, Trace::Roll)),
            ("ratios", &ratios),
        ],
    );
    let same = |value: &evenkeel_core::Measured, name: &str, tolerance: f64| {
        let (ours, theirs) = (*value.get().unwrap(), theirs[name][0]);
        println!("{name}: {ours:.6} against {theirs:.6}");
        close(ours / theirs, 1.0, tolerance);
    };
    same(&run.level.evenness.evenness_share, "evenness_share", 1e-4);
    same(&run.level.evenness.evenness_gain, "evenness_gain", 1e-4);
    same(&run.lateral.shake_rms_mps2, "shake_median", 1e-4);
    same(&run.lateral.shake_rms_p95_mps2, "shake_p95", 1e-4);
    same(&run.lateral.shake_left_rms_mps2, "shake_left", 1e-4);
    same(&run.lateral.shake_right_rms_mps2, "shake_right", 1e-4);
    same(&run.front.harshness_per_s, "harshness", 1e-4);
    same(&run.level.hit_pairs.hit_ratio, "median", 1e-9);
    let ours = run.level.hit_pairs.hit_ratio.interval().unwrap();
    let theirs = &theirs["interval"];
    println!("interval {ours:?} against {theirs:?}");
    // Both draw at random; theirs ten times as often.
    let width = theirs[1] - theirs[0];
    for (ours, theirs) in ours.iter().zip(theirs) {
        close(*ours, *theirs, 0.08 * width);
    }
}
