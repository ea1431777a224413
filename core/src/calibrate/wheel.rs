//! Wheel speed from pulses, on the logger's own clock.

use std::ops::Range;

use crate::bike::Wheel;

/// A count that falls back by no more than this is a wheel that rocks on a pulse, not a new count.
const ROCKS_PULSES: f64 = 2.0;
/// A stamp is known to one row: a speed over fewer rows than these is not told from its own rounding.
pub(crate) const ROWS_MIN: usize = 5;

/// Wheel speed, m/s, from a running pulse count: v = circumference dN / (N dt), N pulses a turn.
///
/// The pulses between two changes of the count came anywhere in between, so their speed holds for that
/// whole interval: it lies below the bound of one pulse length over the time since the last pulse, and its
/// integral is the way that was counted. Intervals of under five rows are taken together until they are
/// five, but never with a longer one, so that a wheel that stops between two pulses shows as stopped.
/// After the last change v is at most one pulse length over the time since. A count that falls back
/// (rollover, restart) starts anew and leaves its interval unmeasured, but by one or two pulses it is a
/// wheel that rocks, and stands until the count goes on. `time_s` and `count` have one
/// length; a missing count (NaN) gives NaN.
pub fn speed_from_pulses(time_s: &[f64], count: &[f64], wheel: Wheel) -> Vec<f32> {
    let pulse_m = wheel.pulse_m();
    let mut speed = vec![f32::NAN; count.len()];
    let count = &held(count);
    let rows: Vec<usize> = (0..count.len()).filter(|&row| !count[row].is_nan()).collect();
    let (Some(&first), Some(&end)) = (rows.first(), rows.last()) else { return speed };
    let mean_mps = |from: usize, to: usize| pulse_m * (count[to] - count[from]) / (time_s[to] - time_s[from]);
    let mut last_mps = f64::NAN;
    for interval in intervals(&rows, count) {
        let (from, to) = (rows[interval.start], rows[interval.end]);
        last_mps = if count[to] > count[from] { mean_mps(from, to) } else { f64::NAN };
        speed[from + 1..=to].fill(last_mps as f32);
    }
    let changed = |pair: &[usize]| count[pair[0]] != count[pair[1]];
    let last = rows.windows(2).rfind(|pair| changed(pair)).map_or(first, |pair| pair[1]);
    for row in last + 1..=end {
        let bound = pulse_m / (time_s[row] - time_s[last]);
        // A count that never changed bounds nothing from the other side: the wheel stands.
        speed[row] = if last_mps.is_nan() { 0.0 } else { last_mps.min(bound) as f32 };
    }
    // Before the first pulse less than one pulse length was rolled: no faster than after it.
    let first_change = rows.windows(2).find(|pair| changed(pair)).map_or(first, |pair| pair[1]);
    if let Some(&after) = speed.get(first_change + 1) {
        for v in &mut speed[first..=first_change] {
            *v = v.min(after);
        }
    }
    for (slot, n) in speed.iter_mut().zip(count) {
        if n.is_nan() {
            *slot = f32::NAN;
        }
    }
    speed
}

/// The count without what a rocking wheel takes off it.
fn held(count: &[f64]) -> Vec<f64> {
    let mut highest = f64::NEG_INFINITY;
    count
        .iter()
        .map(|&n| {
            let rocks = (highest - ROCKS_PULSES..highest).contains(&n);
            highest = if rocks || n.is_nan() { highest } else { n };
            if rocks { highest } else { n }
        })
        .collect()
}

/// Ranges between changes of the count over which one speed holds, as indices of `rows`.
fn intervals(rows: &[usize], count: &[f64]) -> Vec<Range<usize>> {
    let changes: Vec<usize> =
        std::iter::once(0).chain((1..rows.len()).filter(|&i| count[rows[i]] != count[rows[i - 1]])).collect();
    // With each: whether it is made of short intervals.
    let mut found: Vec<(Range<usize>, bool)> = Vec::with_capacity(changes.len());
    for pair in changes.windows(2) {
        let interval = pair[0]..pair[1];
        let short = interval.len() < ROWS_MIN && count[rows[interval.end]] > count[rows[interval.start]];
        match found.last_mut() {
            Some((group, true)) if short && group.len() < ROWS_MIN => group.end = interval.end,
            _ => {
                absorb(&mut found);
                found.push((interval, short));
            }
        }
    }
    absorb(&mut found);
    found.into_iter().map(|(interval, _)| interval).collect()
}

/// Joins a group of short intervals that stayed under five rows to the group before it.
fn absorb(found: &mut Vec<(Range<usize>, bool)>) {
    if let [.., (before, true), (last, true)] = &mut found[..]
        && last.len() < ROWS_MIN
    {
        before.end = last.end;
        found.pop();
    }
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
    fn a_wheel_that_stops_between_pulses_shows_as_stopped() {
        let time: Vec<f64> = (0..1000).map(|i| f64::from(i) * 0.001).collect();
        // 10 m/s, standing from 0.4 to 0.55 s, half-way between two pulses of 0.1 m.
        let way = |t: f64| 0.051 + 10.0 * if t < 0.4 { t } else { (t - 0.15).max(0.4) };
        let count: Vec<f64> = time.iter().map(|t| (way(*t) / 0.1).floor()).collect();
        let speed = speed_from_pulses(&time, &count, Wheel { circumference_m: 2.0, pulses_per_turn: 20.0 });
        for (t, &v) in time.iter().zip(&speed) {
            if (0.41..0.54).contains(t) {
                // One pulse in 0.16 s, below the bound of one pulse length over the time since the last.
                assert!(v < 0.7 && f64::from(v) <= 0.1 / (t - 0.395), "{t}: {v}");
            } else if !(0.39..0.57).contains(t) && *t < 0.98 {
                assert!((v - 10.0).abs() < 1.2, "{t}: {v}");
            }
        }
        // Counted way and integral of speed are the same.
        let integral: f64 = speed[1..].iter().map(|v| f64::from(*v) * 0.001).sum();
        let last = count.len() - 1;
        assert!((integral - 0.1 * (count[last] - count[0])).abs() < 0.11, "{integral}");
    }

    #[test]
    fn a_stop_is_not_mixed_with_the_short_intervals_before_it() {
        let time: Vec<f64> = (0..400).map(|i| f64::from(i) * 0.004).collect();
        // A pulse every two rows, and none for 0.15 s from 0.8 s on: seen wherever the groups before it end.
        for begins in 0..10 {
            let stop_s = 0.8 + 0.008 * f64::from(begins);
            let count: Vec<f64> = time
                .iter()
                .map(|t| ((if *t < stop_s { *t } else { (t - 0.15).max(stop_s) }) / 0.008).floor())
                .collect();
            let speed = speed_from_pulses(&time, &count, WHEEL);
            let stands = speed.iter().filter(|v| **v < 0.1 * 0.5 / 0.008).count();
            assert!((37..=40).contains(&stands), "{begins}: {stands} rows");
        }
    }

    #[test]
    fn a_wheel_that_rocks_on_a_pulse_stands() {
        let time: Vec<f64> = (0..60).map(|i| f64::from(i) * 0.01).collect();
        let count: Vec<f64> = (0..60)
            .map(|i| {
                if (20..40).contains(&i) {
                    10.0 - f64::from(i / 3 % 2)
                } else {
                    f64::from(i.min(20) / 2 + (i.max(39) - 39))
                }
            })
            .collect();
        let speed = speed_from_pulses(&time, &count, WHEEL);
        assert!(speed.iter().all(|v| !v.is_nan()), "{speed:?}");
        assert!(speed[22..40].iter().all(|v| *v < 3.0), "{speed:?}");
    }

    #[test]
    fn rounding_of_stamps_to_slow_rows_is_averaged_out() {
        // 2.3 rows a pulse: by single pulses the speed would swing by a quarter.
        let time: Vec<f64> = (0..500).map(|i| f64::from(i) * 0.004).collect();
        let count: Vec<f64> = time.iter().map(|t| (10.0 * t / 0.093).floor()).collect();
        let speed = speed_from_pulses(&time, &count, Wheel { circumference_m: 0.93, pulses_per_turn: 10.0 });
        for &v in &speed[..480] {
            assert!((v - 10.0).abs() < 1.7, "{v}");
        }
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
