//! Pixels, and the few shapes a chart is made of.

use std::ops::Range;

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

    /// Paints part of a column of pixels, those at both ends by the share that is covered.
    pub fn span(&mut self, x: usize, top: f32, bottom: f32, color: Color) {
        let (top, bottom) = (top.max(0.0), bottom.min(self.height as f32));
        if !self.dirty.contains(&x) || top >= bottom {
            return;
        }
        let (first, last) = (top as usize, bottom as usize);
        if first == last {
            return self.blend(x, first, bottom - top, color);
        }
        self.blend(x, first, (first + 1) as f32 - top, color);
        let start = ((first + 1) * self.width + x).min(self.pixels.len());
        let inner = self.pixels[start..].iter_mut().step_by(self.width);
        inner.take(last - first - 1).for_each(|pixel| *pixel = color);
        self.blend(x, last, bottom - last as f32, color);
    }

    fn blend(&mut self, x: usize, y: usize, share: f32, color: Color) {
        // Of 256 parts, so that whole numbers will do.
        let share = (share * 256.0) as i32;
        if let Some(pixel) = self.pixels.get_mut(y * self.width + x) {
            for (under, over) in pixel.iter_mut().zip(color) {
                *under = (i32::from(*under) + (((i32::from(over) - i32::from(*under)) * share) >> 8)) as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: Color = [255; 4];
    const BLACK: Color = [0, 0, 0, 255];

    /// Darkness of the middle column of a picture 3 wide, from the top.
    fn painted(top: f32, bottom: f32) -> Vec<u8> {
        let mut raster = Raster::default();
        raster.clear(3, 5, WHITE);
        raster.span(1, top, bottom, BLACK);
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
            assert_eq!(painted(top, bottom).iter().filter(|v| **v > 0).count() % 5, 0, "{top} {bottom}");
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
        raster.span(1, 0.0, 2.0, BLACK);
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
