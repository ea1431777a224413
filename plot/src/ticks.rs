//! Round values for the scales.

/// Steps of time by the clock, s.
const CLOCK_STEPS_S: [f64; 12] = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0];

/// A round step (1, 2 or 5 times a power of ten, at most `count` in the range) and its multiples inside.
pub fn ticks(low: f64, high: f64, count: usize) -> (f64, Vec<f64>) {
    let rough = (high - low) / count.max(1) as f64;
    if rough <= 0.0 || !rough.is_finite() {
        return (1.0, Vec::new());
    }
    let power = 10_f64.powf(rough.log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= rough).unwrap_or(rough);
    (step, multiples(low, high, step))
}

/// Round times from one to another, at most about `count`: clock steps from a second on, decimal ones below.
pub fn time_ticks(start_s: f64, end_s: f64, count: usize) -> Vec<f64> {
    let rough = (end_s - start_s) / count.max(1) as f64;
    match CLOCK_STEPS_S.into_iter().find(|step| *step >= rough) {
        Some(step) if rough > 0.5 => multiples(start_s, end_s, step),
        _ => ticks(start_s, end_s, count).1,
    }
}

fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
    (first..=last).map(|i| i as f64 * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 200.0, 2), (100.0, vec![0.0, 100.0, 200.0]));
        assert_eq!(ticks(-3.1, 4.9, 4), (2.0, vec![-2.0, 0.0, 2.0, 4.0]));
        assert_eq!(ticks(80.2, 83.9, 2).1, [82.0]);
        assert!(ticks(1.0, 1.0, 4).1.is_empty());
        assert_eq!(time_ticks(74.2, 273.4, 4), [120.0, 180.0, 240.0]);
        assert_eq!(time_ticks(10.0, 10.5, 5).len(), 6);
    }
}
