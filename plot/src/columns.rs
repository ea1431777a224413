//! What the line through the samples covers of each column of pixels.

use crate::Pyramid;

/// The part of a line in one column of pixels, in the samples' unit; NaN where there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Lowest and highest value of the line in the column, its borders included.
    pub low: f32,
    /// See `low`.
    pub high: f32,
    /// Where the line crosses the column's left border.
    pub left: f32,
    /// Where it crosses the right one.
    pub right: f32,
}

impl Column {
    /// Whether the line is in this column at all.
    pub fn is_empty(&self) -> bool {
        self.low.is_nan()
    }
}

/// Cuts the line through `samples` at the borders of `count` columns.
///
/// Column 0 begins at `first`, a place in samples, and each covers `per_pixel` of them. The line joins
/// neighbouring samples straight; a missing sample breaks it. Its extremes lie at samples or at the borders,
/// so low and high are exact: no sample in a column is lost, and nothing beyond the line is drawn.
pub fn columns(
    samples: &[f32],
    pyramid: &Pyramid,
    first: f64,
    per_pixel: f64,
    count: usize,
    out: &mut Vec<Column>,
) {
    out.clear();
    let border = |column: usize| first + column as f64 * per_pixel;
    let mut left = value_at(samples, first);
    out.extend((0..count).map(|column| {
        let (from, to) = (border(column), border(column + 1));
        let right = value_at(samples, to);
        // As casts: below zero is zero, and too large is cut by the pyramid.
        let inside = from.ceil() as usize..if to < 0.0 { 0 } else { to as usize + 1 };
        let [low, high] = pyramid.extremes(samples, inside).unwrap_or([f32::NAN; 2]);
        let column = Column { low: low.min(left).min(right), high: high.max(left).max(right), left, right };
        left = right;
        column
    }));
}

/// The line at a place in samples; NaN where it is broken, and beyond its ends.
fn value_at(samples: &[f32], place: f64) -> f32 {
    if place < 0.0 {
        return f32::NAN;
    }
    let index = place as usize;
    let share = (place - index as f64) as f32;
    match (samples.get(index), samples.get(index + 1)) {
        (Some(&a), _) if share == 0.0 => a,
        (Some(&a), Some(&b)) => a + (b - a) * share,
        _ => f32::NAN,
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A small generator (xorshift), seeded.
    pub struct Random(pub u64);

    impl Random {
        pub fn next(&mut self) -> u64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            self.0
        }

        pub fn below(&mut self, end: usize) -> usize {
            (self.next() % end.max(1) as u64) as usize
        }

        pub fn unit(&mut self) -> f64 {
            (self.next() >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    /// Noise with spikes, single missing samples, long gaps and samples alone between two missing ones.
    pub fn samples(random: &mut Random, len: usize) -> Vec<f32> {
        let mut gap = 0;
        (0..len)
            .map(|_| {
                if gap == 0 && random.below(97) == 0 {
                    gap = [1, 1, 2, 5, 60, 700][random.below(6)];
                }
                if gap > 0 {
                    gap -= 1;
                    return f32::NAN;
                }
                let v = random.unit() as f32 - 0.5;
                if random.below(211) == 0 { v * 400.0 } else { v }
            })
            .collect()
    }

    /// The line between its samples by the definition, in `f64`.
    fn brute(samples: &[f32], place: f64) -> Option<f64> {
        let (below, above) = (place.floor(), place.ceil());
        if below < 0.0 || above > samples.len() as f64 - 1.0 {
            return None;
        }
        let (a, b) = (f64::from(samples[below as usize]), f64::from(samples[above as usize]));
        let v = a + (b - a) * (place - below);
        (!v.is_nan()).then_some(v)
    }

    #[test]
    fn every_column_holds_its_samples_and_nothing_beyond_the_line() {
        let mut random = Random(41);
        let mut drawn = Vec::new();
        for round in 0..300 {
            let len = 1 + random.below(30_000);
            let samples = samples(&mut random, len);
            let pyramid = Pyramid::new(&samples);
            let count = 1 + random.below(900);
            // From a hundredth of a sample a pixel to far more than there are; whole steps too.
            let mut per_pixel = 10_f64.powf(random.unit() * 5.0 - 2.0);
            let mut first = (random.unit() * 1.4 - 0.2) * len as f64;
            if round % 3 == 0 {
                (per_pixel, first) = (per_pixel.ceil(), first.floor());
            }
            columns(&samples, &pyramid, first, per_pixel, count, &mut drawn);
            assert_eq!(drawn.len(), count);
            for (i, column) in drawn.iter().enumerate() {
                let (from, to) = (first + i as f64 * per_pixel, first + (i + 1) as f64 * per_pixel);
                let mut low = f64::INFINITY;
                let mut high = f64::NEG_INFINITY;
                let places = std::iter::once(from).chain(std::iter::once(to));
                let inside = (from.ceil().max(0.0) as usize..).map(|i| i as f64);
                let inside = inside.take_while(|&place| place <= to && place < len as f64);
                for v in places.chain(inside).filter_map(|place| brute(&samples, place)) {
                    (low, high) = (low.min(v), high.max(v));
                }
                let said = format!("column {i} of {count}, {per_pixel} samples each from {first}, of {len}");
                assert_eq!(column.is_empty(), low > high, "{said}");
                if !column.is_empty() {
                    // Samples are exact; what lies between them is rounded to f32.
                    let near = |a: f32, b: f64| (f64::from(a) - b).abs() <= 1e-4;
                    assert!(
                        near(column.low, low) && near(column.high, high),
                        "{said}: {column:?}, {low} {high}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_single_sample_is_its_columns_extreme_at_every_zoom_and_pan() {
        let mut samples = vec![0.0_f32; 180_000];
        samples[73_319] = 9.0;
        samples[73_321] = -9.0;
        let pyramid = Pyramid::new(&samples);
        let mut drawn = Vec::new();
        let mut per_pixel = 180_000.0 / 1282.0;
        while per_pixel > 0.01 {
            for step in 0..7 {
                let first = 73_319.0 - per_pixel * (600.0 + f64::from(step) / 7.0);
                columns(&samples, &pyramid, first, per_pixel, 1282, &mut drawn);
                let shown = |of: fn(&Column) -> f32, v: f32| drawn.iter().any(|column| of(column) == v);
                assert!(shown(|c| c.high, 9.0) && shown(|c| c.low, -9.0), "{per_pixel} {step}");
                // Nothing is made up: as much up as down, and only near the spikes.
                let ink = drawn.iter().filter(|c| c.high > 0.0).count() as f64;
                assert!(ink <= 2.0 / per_pixel + 3.0, "{per_pixel}: {ink} columns");
            }
            per_pixel *= 0.83;
        }
    }

    #[test]
    fn a_gap_is_a_gap_and_beyond_the_ends_is_nothing() {
        let samples = [1.0, 2.0, f32::NAN, f32::NAN, f32::NAN, 3.0];
        let mut drawn = Vec::new();
        columns(&samples, &Pyramid::new(&samples), -2.0, 1.0, 10, &mut drawn);
        let empty: Vec<bool> = drawn.iter().map(Column::is_empty).collect();
        assert_eq!(empty, [true, false, false, false, true, true, false, false, true, true]);
        assert_eq!((drawn[2].low, drawn[2].high), (1.0, 2.0));
    }
}
