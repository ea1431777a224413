//! GPS gates: a line across the track through a point.

use super::{Path, PathSource};
use crate::measured::NotMeasured;

/// Travel over this much path gives its direction, m; less would be the receiver's noise.
const DIRECTION_M: f64 = 5.0;

/// A line through a point, perpendicular to the direction of travel there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gate {
    /// Metres east and north, as the path has them.
    pub east_north_m: [f64; 2],
    /// A path that passes further away than this is not through the gate, m.
    pub half_width_m: f64,
}

impl Gate {
    /// A gate at a place on the earth, on the plane of a path.
    ///
    /// # Errors
    /// For a path that has no place on the earth.
    pub fn at(
        latitude_rad: f64,
        longitude_rad: f64,
        half_width_m: f64,
        path: &Path,
    ) -> Result<Self, NotMeasured> {
        let plane = path.plane.ok_or_else(|| NotMeasured::because("a GPS gate needs a GPS position"))?;
        Ok(Self { east_north_m: plane.east_north_m(latitude_rad, longitude_rad), half_width_m })
    }

    /// Times at which a GPS path passes through the gate, s on the run's clock. The gate stands across the
    /// way that the path itself takes there, so one that turns back passes twice.
    ///
    /// # Errors
    /// For a path that is dead reckoned, since its directions are not those of the map, or one that never
    /// comes through.
    pub fn crossings_s(&self, path: &Path) -> Result<Vec<f64>, NotMeasured> {
        if path.source != PathSource::Gps {
            return Err(NotMeasured::because("a GPS gate needs a GPS position"));
        }
        let known: Vec<(usize, [f64; 2])> = (0..path.grid.len)
            .map(|k| (k, [f64::from(path.east_m[k]), f64::from(path.north_m[k])]))
            .filter(|(_, place)| place.iter().all(|metres| metres.is_finite()))
            .collect();
        let apart = |a: [f64; 2], b: [f64; 2]| [b[0] - a[0], b[1] - a[1]];
        let size = |d: [f64; 2]| d[0].hypot(d[1]);
        let mut ahead = 0;
        let mut before: Option<(usize, f64)> = None;
        let mut crossings = Vec::new();
        for (n, &(k, place)) in known.iter().enumerate() {
            // The direction from here to where the path has gone on far enough.
            ahead = ahead.max(n);
            while ahead + 1 < known.len() && size(apart(place, known[ahead].1)) < DIRECTION_M {
                ahead += 1;
            }
            let way = apart(place, known[ahead].1);
            let length = size(way);
            let to_gate = apart(place, self.east_north_m);
            if length == 0.0 || size(to_gate) > 4.0 * self.half_width_m.max(DIRECTION_M) {
                before = None;
                continue;
            }
            let along = (to_gate[0] * way[0] + to_gate[1] * way[1]) / length;
            let aside = (to_gate[1] * way[0] - to_gate[0] * way[1]) / length;
            if let Some((earlier, before)) = before
                && before > 0.0
                && along <= 0.0
                && aside.abs() <= self.half_width_m
            {
                let share = before / (before - along);
                let sample = earlier as f64 + share * (k - earlier) as f64;
                crossings.push(path.grid.start_s + sample / path.grid.rate_hz);
            }
            before = Some((k, along));
        }
        if crossings.is_empty() {
            Err(NotMeasured::because("the run does not come through the gate"))
        } else {
            Ok(crossings)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::Grid;

    /// East at 10 m/s for 20 s, then back 3 m further north.
    fn path(source: PathSource) -> Path {
        let grid = Grid { start_s: 50.0, rate_hz: 50.0, len: 2001 };
        let east = |k: usize| if k <= 1000 { 0.2 * k as f32 } else { 200.0 - 0.2 * (k - 1000) as f32 };
        let north = |k: usize| if k <= 1000 { 0.0 } else { 3.0 };
        Path {
            source,
            plane: None,
            grid,
            east_m: (0..grid.len).map(east).collect(),
            north_m: (0..grid.len).map(north).collect(),
        }
    }

    #[test]
    fn a_gate_is_passed_each_way_within_its_width() {
        let gate = |east, north, half_width_m| Gate { east_north_m: [east, north], half_width_m };
        let path = path(PathSource::Gps);
        let times = gate(83.1, 1.0, 5.0).crossings_s(&path).unwrap();
        assert_eq!(times.len(), 2, "{times:?}");
        assert!((times[0] - 58.31).abs() < 1e-3 && (times[1] - 81.69).abs() < 1e-3, "{times:?}");
        let times = gate(83.1, -1.0, 2.0).crossings_s(&path).unwrap();
        assert_eq!(times.len(), 1);
        assert!(gate(83.1, 20.0, 5.0).crossings_s(&path).is_err());
    }

    #[test]
    fn dead_reckoning_has_no_map() {
        let gate = Gate { east_north_m: [10.0, 0.0], half_width_m: 5.0 };
        assert!(gate.crossings_s(&path(PathSource::DeadReckoned)).unwrap_err().0.contains("GPS position"));
    }
}
