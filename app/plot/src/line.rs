//! How a line is painted: solid, or dashed and hollow, so that two lines are told apart without colour.

use crate::Columns;
use crate::raster::{Color, Raster};

/// What a line looks like.
#[derive(Clone, Copy, Debug)]
pub struct Stroke {
    pub color: Color,
    /// Its thickness, pixels.
    pub thick: f32,
    /// Dashed where it is a line, hollow where it is so dense that it fills an area.
    pub dashed: Option<Dash>,
}

/// Dashes along the picture.
#[derive(Clone, Copy, Debug)]
pub struct Dash {
    /// Pixels painted and pixels left out, in turn.
    pub on: usize,
    /// See `on`.
    pub off: usize,
    /// Pixels from where the pattern begins to the line's first column; it moves with the line.
    pub origin: i64,
}

/// Where a line goes in the picture.
#[derive(Clone, Copy, Debug)]
pub struct Line<'a> {
    /// More than are painted on either side, if their look there shall not depend on where the picture ends.
    pub columns: &'a Columns,
    /// The column of pixels that is the first of these.
    pub at: i64,
    /// Rows of pixels between which a value `v` is at `zero - v * scale`, and from which the line does not stray:
    /// what lies beyond is painted at the edge.
    pub top: f32,
    pub bottom: f32,
    pub zero: f32,
    pub scale: f32,
}

impl Stroke {
    /// How many columns on either side decide about the look of one.
    pub fn reach(&self) -> usize {
        self.dashed.map_or(0, |dash| dash.on + dash.off) + 1 + self.thick as usize
    }
}

impl Line<'_> {
    fn y(&self, v: f32) -> f32 {
        // Two comparisons, which the compiler does to four values at once.
        let y = self.zero - v * self.scale;
        let y = if y > self.top { y } else { self.top };
        if y < self.bottom { y } else { self.bottom }
    }

    fn spans(&self) -> Spans {
        let ends = || self.columns.low.iter().zip(&self.columns.high);
        let tops = ends().map(|(low, high)| if low <= high { self.y(*high) } else { f32::INFINITY });
        let bottoms = ends().map(|(low, high)| if low <= high { self.y(*low) } else { f32::NEG_INFINITY });
        Spans { tops: tops.collect(), bottoms: bottoms.collect() }
    }
}

/// Top and bottom of what is painted in each column of pixels; where that is nothing, the top is below the bottom.
#[derive(Clone)]
struct Spans {
    tops: Vec<f32>,
    bottoms: Vec<f32>,
}

impl Spans {
    fn get(&self, x: usize) -> Option<[f32; 2]> {
        let (top, bottom) = self.tops.get(x).zip(self.bottoms.get(x))?;
        (top <= bottom).then_some([*top, *bottom])
    }

    fn set(&mut self, x: usize, [top, bottom]: [f32; 2]) {
        (self.tops[x], self.bottoms[x]) = (top, bottom);
    }

    /// Those of the columns to the left and to the right.
    fn around(&self, x: usize) -> [Option<[f32; 2]>; 2] {
        [x.checked_sub(1).and_then(|x| self.get(x)), self.get(x + 1)]
    }
}

const NOTHING: [f32; 2] = [f32::INFINITY, f32::NEG_INFINITY];

impl Raster {
    /// Paints a line.
    pub fn line(&mut self, line: Line<'_>, stroke: Stroke) {
        let spans = line.spans();
        let layers = match stroke.dashed {
            Some(dash) => dashed(&line, &spans, dash, stroke.thick).to_vec(),
            None => vec![spans.clone()],
        };
        for mut layer in layers {
            layer.tops.iter_mut().for_each(|top| *top -= stroke.thick / 2.0);
            layer.bottoms.iter_mut().for_each(|bottom| *bottom += stroke.thick / 2.0);
            self.spans(line.at, &layer.tops, &layer.bottoms, stroke.color);
        }
        for x in 0..line.columns.count() {
            if let Some([top, bottom]) = spans.get(x).filter(|_| spans.around(x) == [None; 2]) {
                // Alone between two gaps: a dot, that it can be seen.
                let reach = stroke.thick as usize;
                let [tops, bottoms] =
                    [top - stroke.thick, bottom + stroke.thick].map(|y| vec![y; 2 * reach + 1]);
                self.spans(line.at + x as i64 - reach as i64, &tops, &bottoms, stroke.color);
            }
        }
    }
}

/// What of a line is painted: its dashes or, where it fills an area, the upper edge; and apart the lower edge.
fn dashed(line: &Line<'_>, spans: &Spans, dash: Dash, thick: f32) -> [Spans; 2] {
    let (mut upper, mut lower) = (spans.clone(), spans.clone());
    for (x, borders) in line.columns.borders.windows(2).enumerate() {
        let Some(own) = spans.get(x) else { continue };
        lower.set(x, NOTHING);
        // The line goes up and down here, more than just through.
        let through = (line.y(borders[0]) - line.y(borders[1])).abs();
        let through = if through.is_nan() { 0.0 } else { through };
        if own[1] - own[0] - through > 4.0 * thick {
            // Each edge reaches half-way to its neighbours.
            let around = spans.around(x).map(|span| span.unwrap_or(own));
            let [above, below] = [0, 1].map(|edge| {
                let ways = around.map(|span| (span[edge] + own[edge]) / 2.0);
                [ways[0].min(ways[1]).min(own[edge]), ways[0].max(ways[1]).max(own[edge])]
            });
            upper.set(x, above);
            lower.set(x, below);
        } else if is_left_out(spans, x, dash, thick / 2.0) {
            upper.set(x, NOTHING);
        }
    }
    [upper, lower]
}

/// Whether a column is between two dashes, and the line just passes from one to the other there: what sticks
/// out is painted, so that no peak falls into a gap.
fn is_left_out(spans: &Spans, x: usize, dash: Dash, tolerance: f32) -> bool {
    let period = dash.on + dash.off;
    let phase = (x as i64 + dash.origin).rem_euclid(period.max(1) as i64) as usize;
    let Some(into) = phase.checked_sub(dash.on) else { return false };
    let before = x.checked_sub(into + 1).and_then(|x| spans.get(x));
    let (Some([top, bottom]), Some([top0, bottom0]), Some([top1, bottom1])) =
        (spans.get(x), before, spans.get(x + period - phase))
    else {
        return false;
    };
    top >= top0.min(top1) - tolerance && bottom <= bottom0.max(bottom1) + tolerance
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Pyramid;
    use crate::columns::tests::{Random, samples};

    const WHITE: Color = [255; 4];
    const BLACK: Color = [0, 0, 0, 255];

    fn picture(samples: &[f32], first: f64, per_pixel: f64, dashed: bool) -> (Raster, Columns) {
        let mut drawn = Columns::default();
        drawn.cut(samples, &Pyramid::new(samples), first, per_pixel, 400);
        let mut raster = Raster::default();
        raster.clear(400, 100, WHITE);
        let line = Line { columns: &drawn, at: 0, top: 2.0, bottom: 98.0, zero: 50.0, scale: 0.24 };
        let dashed = dashed.then_some(Dash { on: 6, off: 3, origin: (first / per_pixel).round() as i64 });
        raster.line(line, Stroke { color: BLACK, thick: 1.5, dashed });
        (raster, drawn)
    }

    /// Whether there is ink in column `x` within a pixel of the height of `v`.
    fn is_inked(raster: &Raster, x: usize, v: f32) -> bool {
        let y = (50.0 - v * 0.24).clamp(2.0, 98.0);
        let rows = (y - 1.0).floor() as usize..=(y + 1.0).floor() as usize;
        raster
            .bytes()
            .chunks(4)
            .skip(x)
            .step_by(400)
            .enumerate()
            .any(|(y, p)| rows.contains(&y) && p[0] < 200)
    }

    #[test]
    fn every_peak_is_painted_solid_or_dashed_at_any_zoom() {
        let mut random = Random(99);
        for round in 0..60 {
            let samples = samples(&mut random, 20_000);
            let per_pixel = 10_f64.powf(random.unit() * 3.5 - 1.8);
            let first = random.unit() * 15_000.0;
            let (raster, drawn) = picture(&samples, first, per_pixel, round % 2 == 0);
            for x in 0..400_usize {
                // A peak by more than a pixel: higher than what is beside it.
                let rises = |ends: &[f32], sign: f32| {
                    let beside = [x.wrapping_sub(1), x + 1].into_iter().filter(|x| drawn.has(*x));
                    drawn.has(x)
                        && beside.map(|beside| ends[x] - ends[beside]).all(|by| by * sign * 0.24 > 1.0)
                };
                for (ends, sign) in [(&drawn.high, 1.0), (&drawn.low, -1.0)] {
                    if rises(ends, sign) {
                        let said = format!("round {round}, column {x}, {per_pixel} a pixel: {}", ends[x]);
                        assert!(is_inked(&raster, x, ends[x]), "{said}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_picture_that_was_shifted_is_the_one_painted_anew() {
        let mut random = Random(7);
        let samples = samples(&mut random, 20_000);
        let pyramid = Pyramid::new(&samples);
        // A power of two, so that both ways cut the line at the very same places.
        for per_pixel in [0.25, 4.0, 32.0] {
            let paint = |raster: &mut Raster, first: i64, dashed: bool| {
                let mut stroke = Stroke { color: BLACK, thick: 1.5, dashed: None };
                stroke.dashed = dashed.then_some(Dash { on: 6, off: 3, origin: 0 });
                let (painted, reach) = (raster.dirty(), stroke.reach());
                let at = painted.start as i64 - reach as i64;
                stroke.dashed = dashed.then_some(Dash { on: 6, off: 3, origin: first + at });
                let mut drawn = Columns::default();
                let from = (first + at) as f64 * per_pixel;
                drawn.cut(&samples, &pyramid, from, per_pixel, painted.len() + 2 * reach);
                let line = Line { columns: &drawn, at, top: 2.0, bottom: 98.0, zero: 50.0, scale: 0.24 };
                raster.line(line, stroke);
            };
            for dashed in [false, true] {
                let (mut shifted, mut first) = (Raster::default(), 100);
                shifted.clear(300, 100, WHITE);
                paint(&mut shifted, first, dashed);
                for by in [1, 37, -5, 180, -299, 2] {
                    first += by;
                    assert!(shifted.shift(by, WHITE).is_some());
                    paint(&mut shifted, first, dashed);
                    let mut anew = Raster::default();
                    anew.clear(300, 100, WHITE);
                    paint(&mut anew, first, dashed);
                    assert!(shifted.bytes() == anew.bytes(), "{per_pixel} a pixel, by {by}, {dashed}");
                }
            }
        }
    }

    #[test]
    fn a_calm_dashed_line_has_gaps_and_a_dense_one_is_hollow() {
        let calm: Vec<f32> = (0..1000).map(|i| (i as f32 * 0.005).sin() * 90.0).collect();
        let (raster, drawn) = picture(&calm, 0.0, 1.0, true);
        let inked = |raster: &Raster, drawn: &Columns| {
            (0..400).filter(|&x| is_inked(raster, x, (drawn.low[x] + drawn.high[x]) / 2.0)).count()
        };
        assert!((240..300).contains(&inked(&raster, &drawn)), "{}", inked(&raster, &drawn));
        let (solid, _) = picture(&calm, 0.0, 1.0, false);
        assert_eq!(inked(&solid, &drawn), 400);
        let dense: Vec<f32> = (0..40_000).map(|i| if i % 2 == 0 { 90.0 } else { -90.0 }).collect();
        let (raster, drawn) = picture(&dense, 0.0, 100.0, true);
        assert_eq!(inked(&raster, &drawn), 0);
        assert!((0..400).all(|x| is_inked(&raster, x, 90.0) && is_inked(&raster, x, -90.0)));
    }

    #[test]
    fn a_sample_alone_between_gaps_is_seen_and_a_gap_is_empty() {
        let mut samples = vec![f32::NAN; 100_000];
        samples[50_000] = 10.0;
        for per_pixel in [200.0, 20.0, 1.0, 0.1] {
            let (raster, _) = picture(&samples, 50_000.0 - 200.5 * per_pixel, per_pixel, true);
            assert!(is_inked(&raster, 200, 10.0), "{per_pixel}");
            let ink = raster.bytes().chunks(4).filter(|pixel| pixel[0] < 255).count();
            assert!((4..=24).contains(&ink), "{ink}");
        }
    }
}
