//! A channel drawn small, and where it rests.

/// Steps of time in a small picture.
const STEPS: usize = 300;

/// A channel reduced for drawing.
pub struct Sketch {
    /// Minimum and maximum of each of [`STEPS`] equal steps of time; NaN where a step is empty.
    pub envelope: Vec<f32>,
    /// Median of the first second.
    pub still: Option<f64>,
    /// Lowest and highest sample, if there is any.
    pub range: Option<[f64; 2]>,
}

/// Reduces a channel on its own clock.
pub fn sketch(time_s: &[f64], samples: &[f32]) -> Sketch {
    let start = time_s.first().copied().unwrap_or_default();
    let span = (time_s.last().copied().unwrap_or_default() - start).max(f64::MIN_POSITIVE);
    let mut envelope = vec![f32::NAN; 2 * STEPS];
    let (mut min, mut max) = (f32::NAN, f32::NAN);
    let mut first_second = Vec::new();
    for (&t, &v) in time_s.iter().zip(samples).filter(|(_, v)| v.is_finite()) {
        let step = (((t - start) / span * STEPS as f64) as usize).min(STEPS - 1);
        let low_high = &mut envelope[2 * step..2 * step + 2];
        low_high[0] = low_high[0].min(v);
        low_high[1] = low_high[1].max(v);
        (min, max) = (min.min(v), max.max(v));
        if t <= start + 1.0 {
            first_second.push(v);
        }
    }
    first_second.sort_by(f32::total_cmp);
    Sketch {
        envelope,
        still: first_second.get(first_second.len() / 2).map(|v| f64::from(*v)),
        range: (!min.is_nan()).then(|| [f64::from(min), f64::from(max)]),
    }
}
