//! How much slower a wheel turns than the bike goes.

use super::speed::Wheels;
use super::wheel::{READING_S, SLIP_SPEED_MPS, WheelTrace};
use crate::measured::NotMeasured;
use crate::role::End;

/// Slip beyond this is looked at as a slide or a lock-up.
pub const SLIDING: f32 = 0.3;
/// A wheel that was stopped in the air spins up within this time after touching down, s.
const TOUCH_DOWN_S: f64 = 0.15;
/// Two wheels that differ by more than this while they run free cannot both be right.
pub const DISAGREE_SHARE: f64 = 0.2;

/// Slip of one wheel against the speed of the bike, 1 - v_wheel / v_bike, by sample; NaN below 2 m/s, where
/// readings come less often than every 30 ms, while the wheel is off the ground, and after that until it
/// has spun up, for 0.15 s at most.
///
/// `bike_mps` is the speed of whichever wheel runs free, carried across where none does; never GPS.
///
/// # Errors
/// Where there is no other wheel, or the two disagree.
pub fn slip(wheels: &Wheels<'_>, end: End, bike_mps: &[f32], rate_hz: f64) -> Result<Vec<f32>, NotMeasured> {
    let other = if end == End::Front { End::Rear } else { End::Front };
    let logged = |end: End| {
        wheels
            .wheel(end)
            .ok_or_else(|| NotMeasured::because(format!("no {} wheel speed can be used", end.name())))
    };
    let wheel = logged(end)?;
    logged(other)?;
    agree(wheels.rear_scale)?;
    let touch_down = (TOUCH_DOWN_S * rate_hz).round() as usize;
    Ok(on_the_ground(&against(wheel, wheels.scale(end), bike_mps), &wheel.off_ground, touch_down))
}

/// Whether rear over front speed is what two tyres can make it.
fn agree(rear_scale: f64) -> Result<(), NotMeasured> {
    if (1.0 - DISAGREE_SHARE..1.0 / (1.0 - DISAGREE_SHARE)).contains(&rear_scale) {
        return Ok(());
    }
    Err(NotMeasured::because(format!(
        "the rear wheel reads {:.0} % of the front wheel's speed rolling free; check circumferences and pulses",
        100.0 * rear_scale
    )))
}

/// Slip where the wheel's readings come often enough.
pub fn against(wheel: &WheelTrace<'_>, scale: f64, bike_mps: &[f32]) -> Vec<f32> {
    let slip = |(&v, &bike): (&f32, &f32)| {
        let told = bike > SLIP_SPEED_MPS && wheel.reading_s(f64::from(bike)) <= READING_S;
        if told { 1.0 - v / (scale as f32 * bike) } else { f32::NAN }
    };
    wheel.speed_mps.iter().zip(bike_mps).map(slip).collect()
}

/// Takes out what a wheel does in the air and until it has spun up again.
fn on_the_ground(slip: &[f32], off_ground: &[bool], touch_down: usize) -> Vec<f32> {
    let mut since_air = touch_down;
    slip.iter()
        .zip(off_ground)
        .map(|(&slip, &off_ground)| {
            since_air = match (off_ground, slip > SLIDING) {
                (true, _) => 0,
                (false, true) => since_air + 1,
                (false, false) => touch_down,
            };
            if since_air < touch_down { f32::NAN } else { slip }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wheel(speed_mps: &[f32], pulse_m: f64) -> WheelTrace<'_> {
        let off_ground = vec![false; speed_mps.len()];
        WheelTrace { speed_mps, pulse_m, step_s: 0.002, braked: None, off_ground, dips: Vec::new() }
    }

    /// Worked by hand.
    #[test]
    fn slip_of_five_pairs() {
        let slip = against(&wheel(&[10.0, 7.0, 0.0, 2.0, 11.0], 0.1), 1.0, &[10.0, 10.0, 8.0, 8.0, 10.0]);
        for (slip, expected) in slip.iter().zip([0.0, 0.3, 1.0, 0.75, -0.1]) {
            assert!((slip - expected).abs() < 1e-6);
        }
        // A rear tyre of 4 % more speed rolls free at 10.4.
        assert!(against(&wheel(&[10.4], 0.1), 1.04, &[10.0])[0].abs() < 1e-6);
    }

    #[test]
    fn eight_pulses_a_turn_are_needed_at_ten_metres_a_second() {
        // 2.337 m / 8 = 0.292 m: 29 ms; with 7 pulses 33 ms. Below 2 m/s nothing is said.
        assert!(!against(&wheel(&[10.0], 2.337 / 8.0), 1.0, &[10.0])[0].is_nan());
        assert!(against(&wheel(&[10.0], 2.337 / 7.0), 1.0, &[10.0])[0].is_nan());
        assert!(against(&wheel(&[0.0], 0.02), 1.0, &[1.9])[0].is_nan());
        assert!(against(&wheel(&[0.0], 0.02), 1.0, &[f32::NAN])[0].is_nan());
    }

    #[test]
    fn a_wheel_stopped_in_the_air_does_not_slip() {
        let slip = [0.0, 1.0, 1.0, 0.9, 0.5, 0.1, 0.6, 0.7, 0.6];
        let off_ground = [false, true, true, false, false, false, false, false, false];
        let found = on_the_ground(&slip, &off_ground, 5);
        let told: Vec<bool> = found.iter().map(|slip| !slip.is_nan()).collect();
        assert_eq!(told, [true, false, false, false, false, true, true, true, true]);
        // One that stays locked on the ground does.
        let found =
            on_the_ground(&[1.0; 9], &[true, true, false, false, false, false, false, false, false], 5);
        assert_eq!(found.iter().position(|slip| !slip.is_nan()), Some(6));
    }

    #[test]
    fn wheels_that_disagree_measure_no_slip() {
        assert!(agree(1.0).is_ok() && agree(0.81).is_ok() && agree(1.24).is_ok());
        assert!(agree(0.79).is_err() && agree(1.26).is_err() && agree(f64::NAN).is_err());
    }
}
