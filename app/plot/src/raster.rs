//! Pixels, and the few shapes a chart is made of.

use std::ops::Range;

use crate::extremes::Extremes;

/// Columns that are painted at once: so few that their heights are much the same.
const TILE: usize = 32;

/// Red, green, blue, and 255 for opaque.
pub type Color = [u8; 4];

/// A picture, row after row from the top.
#[derive(Clone, Debug, Default)]
pub struct Raster {
    width: usize,
    height: usize,
    pixels: Vec<Color>,
    /// The columns that are painted; all others stay as they are.
    dirty: Range<usize>,
}

impl Raster {
    /// Takes this size and this colour throughout.
    pub fn clear(&mut self, width: usize, height: usize, color: Color) {
        (self.width, self.height) = (width, height);
        self.pixels.clear();
        self.pixels.resize(width * height, color);
        self.dirty = 0..width;
    }

    /// The columns that are painted: all after [`clear`](Self::clear), the new ones after [`shift`](Self::shift).
    pub fn dirty(&self) -> Range<usize> {
        self.dirty.clone()
    }

    /// Moves the picture to the left, or by less than nothing to the right. Only the columns that come into it are
    /// cleared, and only they are painted until the next call; gives them, none if they are all.
    pub fn shift(&mut self, by: i64, color: Color) -> Option<Range<usize>> {
        let columns = usize::try_from(by.unsigned_abs()).ok().filter(|columns| *columns < self.width)?;
        // In one go: what runs over from one row into the next lies in the columns to be cleared.
        let kept = self.pixels.len().checked_sub(columns)?;
        self.dirty = if by < 0 {
            self.pixels.copy_within(..kept, columns);
            0..columns
        } else {
            self.pixels.copy_within(columns.., 0);
            self.width - columns..self.width
        };
        self.fill(self.dirty.clone(), 0..self.height, color);
        Some(self.dirty.clone())
    }

    /// Pixels in a row.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.height
    }

    /// Four bytes a pixel: red, green, blue, opacity.
    pub fn bytes(&self) -> &[u8] {
        self.pixels.as_flattened()
    }

    /// Fills a rectangle; what is beyond what is painted is left out.
    pub fn fill(&mut self, x: Range<usize>, y: Range<usize>, color: Color) {
        let x = x.start.max(self.dirty.start)..x.end.min(self.dirty.end);
        if x.is_empty() {
            return;
        }
        for row in y.start..y.end.min(self.height) {
            let start = row * self.width;
            self.pixels[start + x.start..start + x.end].fill(color);
        }
    }

    /// Paints parts of columns of pixels from `x` on, each from its top to its bottom, pixels at both ends by the
    /// share that is covered; nothing where the top is below the bottom.
    pub fn spans(&mut self, x: i64, tops: &[f32], bottoms: &[f32], color: Color) {
        let [start, end] = [self.dirty.start, self.dirty.end].map(|at| (at as i64 - x).max(0) as usize);
        let end = end.min(tops.len()).min(bottoms.len());
        for start in (start..end).step_by(TILE) {
            let tile = start..end.min(start + TILE);
            let (tops, bottoms) = (&tops[tile.clone()], &bottoms[tile]);
            let [ends, other] = [tops, bottoms].map(Extremes::of);
            let [low, high] = Extremes::ends(&[ends, other, ends, other]);
            let at = (x + start as i64) as usize;
            // Row by row, where they lie side by side, and without a branch: many pixels in one instruction.
            for y in low[0] as usize..(high[1].ceil() as usize).min(self.height) {
                let (above, below) = (y as f32, (y + 1) as f32);
                let row = &mut self.pixels[y * self.width + at..][..tops.len()];
                for ((pixel, &top), &bottom) in row.iter_mut().zip(tops).zip(bottoms) {
                    let covered =
                        if below < bottom { below } else { bottom } - if above > top { above } else { top };
                    let share = if covered > 0.0 { covered * 256.0 } else { 0.0 } as i32;
                    *pixel = blend(*pixel, color, share as u32);
                }
            }
        }
    }
}

/// One colour over another, by so many parts of 256. Two of its bytes at once, each with eight bits of room above.
#[inline]
fn blend(under: Color, over: Color, share: u32) -> Color {
    let [under, over] = [under, over].map(u32::from_le_bytes);
    let mixed = |under: u32, over: u32| {
        under.wrapping_add(over.wrapping_sub(under).wrapping_mul(share) >> 8) & 0x00ff_00ff
    };
    let even = mixed(under & 0x00ff_00ff, over & 0x00ff_00ff);
    let odd = mixed(under >> 8 & 0x00ff_00ff, over >> 8 & 0x00ff_00ff);
    (even | odd << 8).to_le_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::Random;

    const WHITE: Color = [255; 4];
    const BLACK: Color = [0, 0, 0, 255];

    /// Darkness of the middle column of a picture 3 wide, from the top.
    fn painted(top: f32, bottom: f32) -> Vec<u8> {
        let mut raster = Raster::default();
        raster.clear(3, 5, WHITE);
        raster.spans(1, &[top], &[bottom], BLACK);
        assert!(raster.bytes().chunks(12).all(|row| row[0] == 255 && row[8] == 255));
        raster.bytes().chunks(12).map(|row| 255 - row[4]).collect()
    }

    #[test]
    fn a_span_covers_its_ends_in_part() {
        assert_eq!(painted(1.0, 3.0), [0, 255, 255, 0, 0]);
        assert_eq!(painted(1.5, 3.25), [0, 128, 255, 64, 0]);
        assert_eq!(painted(2.25, 2.75), [0, 0, 128, 0, 0]);
        assert_eq!(painted(-9.0, 99.0), [255; 5]);
        assert_eq!(painted(4.0, 5.0), [0, 0, 0, 0, 255]);
        for (top, bottom) in [(5.0, 9.0), (-3.0, 0.0), (3.0, 2.0), (f32::NAN, f32::NAN)] {
            assert_eq!(painted(top, bottom), [0; 5], "{top} {bottom}");
        }
    }

    #[test]
    fn spans_side_by_side_are_those_painted_pixel_by_pixel() {
        let mut random = Random(5);
        let (width, height) = (211, 37);
        for round in 0..60 {
            let color = [(); 4].map(|()| random.below(256) as u8);
            let mut raster = Raster::default();
            raster.clear(width, height, WHITE);
            let mut expected = raster.bytes().to_vec();
            for _ in 0..3 {
                let x = random.below(2 * width) as i64 - width as i64;
                let mut some = || -> Vec<f32> {
                    let y = |i| {
                        if (i / 40 + round) % 3 > 0 { 50.0 * random.unit() as f32 - 6.0 } else { f32::NAN }
                    };
                    (0..width).map(y).collect()
                };
                let (tops, bottoms) = (some(), some());
                raster.spans(x, &tops, &bottoms, color);
                for (i, (top, bottom)) in tops.iter().zip(&bottoms).enumerate() {
                    let Some(x) = usize::try_from(x + i as i64).ok().filter(|x| *x < width) else { continue };
                    for y in 0..height {
                        let covered = bottom.min(y as f32 + 1.0) - top.max(y as f32);
                        if top.is_nan() || bottom.is_nan() || covered <= 0.0 {
                            continue;
                        }
                        let share = f64::from((covered * 256.0).floor()) / 256.0;
                        for (under, over) in expected[4 * (y * width + x)..][..4].iter_mut().zip(color) {
                            let mixed = f64::from(*under) + (f64::from(over) - f64::from(*under)) * share;
                            *under = mixed.floor() as u8;
                        }
                    }
                }
            }
            assert!(raster.bytes() == expected, "round {round}");
        }
    }

    #[test]
    fn a_shifted_picture_is_painted_where_it_is_new_alone() {
        let mut raster = Raster::default();
        raster.clear(4, 2, WHITE);
        raster.fill(1..2, 0..2, BLACK);
        let dark =
            |raster: &Raster| -> Vec<bool> { raster.bytes().chunks(4).map(|pixel| pixel[0] == 0).collect() };
        assert_eq!(raster.shift(1, WHITE), Some(3..4));
        raster.fill(2..9, 0..1, BLACK);
        raster.spans(1, &[0.0], &[2.0], BLACK);
        assert_eq!(dark(&raster), [true, false, false, true, true, false, false, false]);
        assert_eq!(raster.shift(-2, WHITE), Some(0..2));
        assert_eq!(dark(&raster), [false, false, true, false, false, false, true, false]);
        assert_eq!(raster.shift(4, WHITE), None);
    }

    #[test]
    fn a_rectangle_stays_in_the_picture() {
        let mut raster = Raster::default();
        raster.clear(3, 3, WHITE);
        raster.fill(2..9, 1..9, BLACK);
        let dark: Vec<bool> = raster.bytes().chunks(4).map(|pixel| pixel[0] == 0).collect();
        assert_eq!(dark, [false, false, false, false, false, true, false, false, true]);
    }
}
