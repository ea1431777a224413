//! How a line is painted: solid, or dashed and hollow, so that two lines are told apart without colour.

use std::ops::Range;

use crate::Column;
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
    pub columns: &'a [Column],
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
        (self.zero - v * self.scale).max(self.top).min(self.bottom)
    }

    /// Top and bottom in a column of pixels, if the line is there.
    fn span(&self, x: usize) -> Option<[f32; 2]> {
        let column = self.columns.get(x).filter(|column| !column.is_empty())?;
        Some([self.y(column.high), self.y(column.low)])
    }

    fn around(&self, x: usize) -> [Option<[f32; 2]>; 2] {
        [x.checked_sub(1).and_then(|x| self.span(x)), self.span(x + 1)]
    }
}

impl Raster {
    /// Paints a line.
    pub fn line(&mut self, line: Line<'_>, stroke: Stroke) {
        let half = stroke.thick / 2.0;
        for x in 0..line.columns.len() {
            let Some([top, bottom]) = line.span(x) else { continue };
            let at = line.at + x as i64;
            let [left, right] = [x.checked_sub(1), Some(x + 1)];
            let empty = |x: Option<usize>| x.and_then(|x| line.columns.get(x)).is_none_or(Column::is_empty);
            if empty(left) && empty(right) {
                // Alone between two gaps: a dot, that it can be seen.
                self.dot(at, top - stroke.thick, bottom + stroke.thick, stroke);
                continue;
            }
            match stroke.dashed {
                Some(_) if is_filled(&line, x, stroke.thick) => self.edges(&line, x, stroke),
                Some(dash) if is_left_out(&line, x, dash, half) => {}
                _ => self.bar(at, top - half, bottom + half, stroke.color),
            }
        }
    }

    fn bar(&mut self, x: i64, top: f32, bottom: f32, color: Color) {
        if let Ok(x) = usize::try_from(x) {
            self.span(x, top, bottom, color);
        }
    }

    fn dot(&mut self, x: i64, top: f32, bottom: f32, stroke: Stroke) {
        let reach = stroke.thick as i64;
        for x in x - reach..=x + reach {
            self.bar(x, top, bottom, stroke.color);
        }
    }

    /// The upper and the lower edge of an area, each half-way to its neighbours.
    fn edges(&mut self, line: &Line<'_>, x: usize, stroke: Stroke) {
        let Some(own) = line.span(x) else { return };
        let around = line.around(x).map(|span| span.unwrap_or(own));
        for edge in 0..2 {
            let ways = around.map(|span| (span[edge] + own[edge]) / 2.0);
            let (top, bottom) = (ways[0].min(ways[1]).min(own[edge]), ways[0].max(ways[1]).max(own[edge]));
            let at = line.at + x as i64;
            self.bar(at, top - stroke.thick / 2.0, bottom + stroke.thick / 2.0, stroke.color);
        }
    }
}

/// Whether the line goes up and down in a column, more than just through it.
fn is_filled(line: &Line<'_>, x: usize, thick: f32) -> bool {
    let Some(([top, bottom], column)) = line.span(x).zip(line.columns.get(x)) else { return false };
    let through = (line.y(column.left) - line.y(column.right)).abs();
    let through = if through.is_nan() { 0.0 } else { through };
    bottom - top - through > 4.0 * thick
}

/// Whether a column is between two dashes, and the line just passes from one to the other there: what sticks
/// out is painted, so that no peak falls into a gap.
fn is_left_out(line: &Line<'_>, x: usize, dash: Dash, tolerance: f32) -> bool {
    let period = dash.on + dash.off;
    let phase = (x as i64 + dash.origin).rem_euclid(period.max(1) as i64) as usize;
    let Some(into) = phase.checked_sub(dash.on) else { return false };
    let ends: Range<Option<usize>> = x.checked_sub(into + 1)..x.checked_add(period - phase);
    let (Some([top, bottom]), Some([top0, bottom0]), Some([top1, bottom1])) =
        (line.span(x), ends.start.and_then(|x| line.span(x)), ends.end.and_then(|x| line.span(x)))
    else {
        return false;
    };
    top >= top0.min(top1) - tolerance && bottom <= bottom0.max(bottom1) + tolerance
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::{Random, samples};
    use crate::{Pyramid, columns};

    const WHITE: Color = [255; 4];
    const BLACK: Color = [0, 0, 0, 255];

    fn picture(samples: &[f32], first: f64, per_pixel: f64, dashed: bool) -> (Raster, Vec<Column>) {
        let mut drawn = Vec::new();
        columns(samples, &Pyramid::new(samples), first, per_pixel, 400, &mut drawn);
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
            for (x, column) in drawn.iter().enumerate() {
                let beside = |x: Option<usize>| x.and_then(|x| drawn.get(x)).filter(|c| !c.is_empty());
                let around = [beside(x.checked_sub(1)), beside(Some(x + 1))];
                // A peak by more than a pixel: higher than what is beside it.
                let rises = |of: fn(&Column) -> f32, sign: f32| {
                    around.iter().flatten().all(|c| (of(column) - of(c)) * sign * 0.24 > 1.0)
                };
                for (v, is_peak) in
                    [(column.high, rises(|c| c.high, 1.0)), (column.low, rises(|c| c.low, -1.0))]
                {
                    if is_peak && !column.is_empty() {
                        assert!(
                            is_inked(&raster, x, v),
                            "round {round}, column {x}, {per_pixel} a pixel: {v}"
                        );
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
                let mut drawn = Vec::new();
                let from = (first + at) as f64 * per_pixel;
                columns(&samples, &pyramid, from, per_pixel, painted.len() + 2 * reach, &mut drawn);
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
        let inked = |raster: &Raster, drawn: &[Column]| {
            (0..400).filter(|&x| is_inked(raster, x, (drawn[x].low + drawn[x].high) / 2.0)).count()
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
