//! Wheel speed from pulses, on the logger's own clock.

use crate::bike::Wheel;

/// Wheel speed, m/s, from a running pulse count: v = circumference dN / (N dt), N pulses a turn.
///
/// The pulses between two changes of the count came anywhere in between, so their speed holds for
/// that whole interval. After the last change v is at most one pulse length over the time since.
/// A count that falls back (rollover, restart) starts anew and leaves its interval unmeasured.
/// `time_s` and `count` have one length; a missing count (NaN) gives NaN.
pub fn speed_from_pulses(time_s: &[f64], count: &[f64], wheel: Wheel) -> Vec<f32> {
    let pulse_m = wheel.circumference_m / wheel.pulses_per_turn;
    let mut speed = vec![f32::NAN; count.len()];
    let mut rows = (0..count.len()).filter(|&row| !count[row].is_nan());
    let Some(mut from) = rows.next() else { return speed };
    let mut last_mps = f64::NAN;
    let mut end = from;
    for row in rows {
        end = row;
        if count[row] == count[from] {
            continue;
        }
        let turned = count[row] - count[from];
        last_mps = if turned > 0.0 { pulse_m * turned / (time_s[row] - time_s[from]) } else { f64::NAN };
        speed[from + 1..=row].fill(last_mps as f32);
        from = row;
    }
    for row in from + 1..=end {
        let bound = pulse_m / (time_s[row] - time_s[from]);
        // A count that never changed bounds nothing from the other side: the wheel stands.
        speed[row] = if last_mps.is_nan() { 0.0 } else { last_mps.min(bound) as f32 };
    }
    if let Some(first) = count.iter().position(|n| !n.is_nan())
        && first + 1 < speed.len()
    {
        speed[first] = speed[first + 1];
    }
    for (slot, n) in speed.iter_mut().zip(count) {
        if n.is_nan() {
            *slot = f32::NAN;
        }
    }
    speed
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHEEL: Wheel = Wheel { circumference_m: 2.0, pulses_per_turn: 4.0 };

    #[test]
    fn steady_pulses_give_steady_speed() {
        let time: Vec<f64> = (0..1000).map(|i| f64::from(i) * 0.001).collect();
        // 10 m/s is 20 pulses of 0.5 m a second.
        let count: Vec<f64> = time.iter().map(|t| (20.0 * t).floor()).collect();
        let speed = speed_from_pulses(&time, &count, WHEEL);
        for &v in &speed[..940] {
            assert!((v - 10.0).abs() < 0.25, "{v}");
        }
    }

    #[test]
    fn a_wheel_that_stops_is_bounded_by_the_wait() {
        let time: Vec<f64> = (0..6).map(f64::from).collect();
        let speed = speed_from_pulses(&time, &[0.0, 20.0, 40.0, 40.0, 40.0, 40.0], WHEEL);
        assert_eq!(speed, [10.0, 10.0, 10.0, 0.5, 0.25, 0.5 / 3.0]);
    }

    #[test]
    fn a_count_that_falls_back_is_unmeasured_there_only() {
        let time: Vec<f64> = (0..5).map(f64::from).collect();
        let speed = speed_from_pulses(&time, &[100.0, 102.0, 0.0, 2.0, f64::NAN], WHEEL);
        assert_eq!(speed[1], 1.0);
        assert!(speed[2].is_nan());
        assert_eq!(speed[3], 1.0);
        assert!(speed[4].is_nan());
        assert_eq!(speed_from_pulses(&time, &[7.0; 5], WHEEL)[1..], [0.0; 4]);
    }
}
