//! From metres on the ground to places in the picture.

/// Width of the picture, and the bounds of its height, in units of about a CSS pixel.
pub const WIDTH: f64 = 372.0;
const HEIGHT: [f64; 2] = [150.0, 330.0];
/// Around the track, for names and the scale bar.
const MARGIN: [f64; 2] = [24.0, 26.0];
/// A start and a finish nearer than this share of the track's size show no direction.
const LOOP_SHARE: f64 = 0.1;

/// How the ground lies in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// The direction that points right, sine and cosine from east.
    right: [f64; 2],
    /// The ground at the picture's top left corner, in turned metres.
    corner_m: [f64; 2],
    pub px_per_m: f64,
    pub height: f64,
}

impl Frame {
    /// Fits points in metres east and north into the picture: north up, or with the start on the left and the finish on
    /// the right. `None` without two places.
    pub fn fit(points: impl Iterator<Item = [f64; 2]> + Clone, north_up: bool) -> Option<Self> {
        let known = points.filter(|point| point.iter().all(|metres| metres.is_finite()));
        let (first, last) = (known.clone().next()?, known.clone().last()?);
        let size = |right: [f64; 2]| {
            known.clone().fold([f64::MAX, f64::MIN, f64::MAX, f64::MIN], |[a, b, c, d], point| {
                let [x, y] = turned(right, point);
                [a.min(x), b.max(x), c.min(y), d.max(y)]
            })
        };
        let mut right = [0.0, 1.0];
        let [a, b, c, d] = size(right);
        let (way, extent_m) = ([last[0] - first[0], last[1] - first[1]], (b - a).max(d - c));
        let way_m = way[0].hypot(way[1]);
        if extent_m <= 0.0 {
            return None;
        }
        if !north_up && way_m > LOOP_SHARE * extent_m {
            right = [way[1] / way_m, way[0] / way_m];
        }
        let [west_m, east_m, south_m, north_m] = size(right);
        let (wide_m, high_m) = ((east_m - west_m).max(1e-3), (north_m - south_m).max(1e-3));
        let room = [WIDTH - 2.0 * MARGIN[0], HEIGHT[1] - 2.0 * MARGIN[1]];
        let px_per_m = (room[0] / wide_m).min(room[1] / high_m);
        let height = (high_m * px_per_m + 2.0 * MARGIN[1]).clamp(HEIGHT[0], HEIGHT[1]);
        let middle_m = [(west_m + east_m) / 2.0, (south_m + north_m) / 2.0];
        let corner_m = [middle_m[0] - WIDTH / 2.0 / px_per_m, middle_m[1] + height / 2.0 / px_per_m];
        Some(Self { right, corner_m, px_per_m, height })
    }

    /// A place on the ground in the picture, from its top left corner.
    pub fn px(&self, east_north_m: [f64; 2]) -> [f64; 2] {
        let [x, y] = turned(self.right, east_north_m);
        [(x - self.corner_m[0]) * self.px_per_m, (self.corner_m[1] - y) * self.px_per_m]
    }

    /// A place in the picture on the ground.
    pub fn east_north_m(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [along, up] = [self.corner_m[0] + x / self.px_per_m, self.corner_m[1] - y / self.px_per_m];
        let [sin, cos] = self.right;
        [along * cos - up * sin, along * sin + up * cos]
    }

    /// A round length (1, 2 or 5 times a power of ten) of at most a quarter of the picture, m.
    pub fn bar_m(&self) -> f64 {
        let most_m = WIDTH / 4.0 / self.px_per_m;
        let power = 10_f64.powf(most_m.log10().floor());
        [5.0, 2.0, 1.0].into_iter().map(|m| m * power).find(|m| *m <= most_m).unwrap_or(power)
    }
}

fn turned([sin, cos]: [f64; 2], [east, north]: [f64; 2]) -> [f64; 2] {
    [east * cos + north * sin, north * cos - east * sin]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// North-east for a kilometre with a bow to the left.
    fn way() -> Vec<[f64; 2]> {
        (0..=100)
            .map(|k| {
                let along = f64::from(k) * 10.0;
                let aside = 60.0 * (f64::from(k) * 0.0314).sin();
                [(along - aside) / 2_f64.sqrt(), (along + aside) / 2_f64.sqrt()]
            })
            .collect()
    }

    fn inside(frame: &Frame, point: [f64; 2]) -> bool {
        let [x, y] = frame.px(point);
        (MARGIN[0] - 0.1..=WIDTH - MARGIN[0] + 0.1).contains(&x)
            && (MARGIN[1] - 0.1..=frame.height - MARGIN[1] + 0.1).contains(&y)
    }

    #[test]
    fn gps_is_north_up_and_all_of_it_is_seen() {
        let frame = Frame::fit(way().into_iter(), true).unwrap();
        assert!(way().into_iter().all(|point| inside(&frame, point)));
        let ([x0, y0], [x1, y1]) = (frame.px([0.0, 0.0]), frame.px([0.0, 100.0]));
        assert!((x0 - x1).abs() < 1e-9 && (y0 - y1 - 100.0 * frame.px_per_m).abs() < 1e-9);
    }

    #[test]
    fn a_reckoned_way_goes_from_left_to_right_whatever_its_heading() {
        for turn in [0.0_f64, 1.0, 2.5, 4.0] {
            let (sin, cos) = turn.sin_cos();
            let way = || way().into_iter().map(move |[e, n]| [e * cos - n * sin, e * sin + n * cos]);
            let frame = Frame::fit(way(), false).unwrap();
            let ([x0, y0], [x1, y1]) = (frame.px([0.0, 0.0]), frame.px(way().next_back().unwrap()));
            assert!(x1 - x0 > 300.0 && (y0 - y1).abs() < 1.0, "{turn}: {x0} {y0}, {x1} {y1}");
            // A bow to the left is above.
            assert!(frame.px(way().nth(50).unwrap())[1] < y0 - 10.0);
            assert!(way().all(|point| inside(&frame, point)));
        }
    }

    #[test]
    fn the_picture_leads_back_to_the_ground() {
        for north_up in [true, false] {
            let frame = Frame::fit(way().into_iter(), north_up).unwrap();
            let [east, north] = frame.east_north_m(frame.px([123.0, -45.0]));
            assert!((east - 123.0).abs() < 1e-9 && (north + 45.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_bar_is_round_and_not_too_long() {
        for px_per_m in [0.01, 0.17, 0.3, 1.0, 7.0] {
            let frame = Frame { right: [0.0, 1.0], corner_m: [0.0; 2], px_per_m, height: 200.0 };
            let bar = frame.bar_m();
            assert!(bar * px_per_m <= WIDTH / 4.0 && bar * px_per_m > WIDTH / 11.0, "{bar}");
        }
        assert_eq!(
            Frame { right: [0.0, 1.0], corner_m: [0.0; 2], px_per_m: 0.3, height: 200.0 }.bar_m(),
            200.0
        );
    }

    #[test]
    fn one_place_is_no_way() {
        assert_eq!(Frame::fit([[3.0, 4.0]; 9].into_iter(), true), None);
        assert_eq!(Frame::fit([[f64::NAN; 2]; 9].into_iter(), true), None);
        assert_eq!(Frame::fit(std::iter::empty(), false), None);
    }
}
