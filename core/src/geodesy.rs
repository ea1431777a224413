//! Positions on the earth, in metres about a place.

use serde::{Deserialize, Serialize};

/// Equatorial radius of WGS 84, m (NIMA TR8350.2).
const EQUATOR_M: f64 = 6_378_137.0;
/// Flattening of WGS 84 (NIMA TR8350.2).
const FLATTENING: f64 = 1.0 / 298.257_223_563;
/// First eccentricity squared.
const ECCENTRICITY_2: f64 = FLATTENING * (2.0 - FLATTENING);

/// The plane that touches the earth's ellipsoid, or lies parallel to it at some height, at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LocalPlane {
    latitude_rad: f64,
    longitude_rad: f64,
    height_m: f64,
}

impl LocalPlane {
    /// The plane at a place: latitude, longitude, height over the ellipsoid. A kilometre of height makes
    /// distances 0.016 % longer.
    pub fn new(latitude_rad: f64, longitude_rad: f64, height_m: f64) -> Self {
        Self { latitude_rad, longitude_rad, height_m }
    }

    /// Metres east and north of a place at the same height: geocentric coordinates,
    /// `x = (N + h) cos(lat) cos(lon)`, `y = (N + h) cos(lat) sin(lon)`, `z = (N (1 - e^2) + h) sin(lat)` with
    /// `N = a / sqrt(1 - e^2 sin^2(lat))`, turned into the plane (any text on geodesy). Right over any
    /// distance that a bike goes, and across the 180th meridian.
    pub fn east_north_m(&self, latitude_rad: f64, longitude_rad: f64) -> [f64; 2] {
        let vertical_m = |latitude: f64| EQUATOR_M / (1.0 - ECCENTRICITY_2 * latitude.sin().powi(2)).sqrt();
        // Distance from the axis, and along it.
        let meridian = |latitude: f64| {
            let vertical_m = vertical_m(latitude);
            let axial_m = (vertical_m * (1.0 - ECCENTRICITY_2) + self.height_m) * latitude.sin();
            ((vertical_m + self.height_m) * latitude.cos(), axial_m)
        };
        let ((from_axis, along), (own_from_axis, own_along)) =
            (meridian(latitude_rad), meridian(self.latitude_rad));
        let (sin, cos) = (longitude_rad - self.longitude_rad).sin_cos();
        let (own_sin, own_cos) = self.latitude_rad.sin_cos();
        let east = from_axis * sin;
        let north = (along - own_along) * own_cos - (from_axis * cos - own_from_axis) * own_sin;
        [east, north]
    }
}

/// Distance over ground between two nearby places, each latitude and longitude in rad, m.
pub(crate) fn ground_distance_m(a: [f64; 2], b: [f64; 2]) -> f64 {
    let [east, north] = LocalPlane::new(a[0], a[1], 0.0).east_north_m(b[0], b[1]);
    east.hypot(north)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lengths of a degree on WGS 84, km, as printed in texts on geodesy (memory).
    #[test]
    fn lengths_of_a_degree() {
        for (latitude_deg, north_km, east_km) in [
            (0.0, 110.574, 111.320),
            (15.0, 110.649, 107.550),
            (30.0, 110.852, 96.486),
            (45.0, 111.132, 78.847),
            (60.0, 111.412, 55.800),
            (75.0, 111.618, 28.902),
        ] {
            let latitude = f64::to_radians(latitude_deg);
            // A thousandth of a degree, so that the plane's own flatness does not count.
            let step = 0.001_f64.to_radians();
            let plane = LocalPlane::new(latitude, 0.3, 0.0);
            let [_, north] = plane.east_north_m(latitude + step, 0.3);
            let [east, _] = plane.east_north_m(latitude, 0.3 + step);
            assert!((north - north_km).abs() < 6e-4, "{latitude_deg}: {north} km a degree north");
            assert!((east - east_km).abs() < 6e-4, "{latitude_deg}: {east} km a degree east");
        }
    }

    #[test]
    fn the_180th_meridian_is_no_edge() {
        let plane = LocalPlane::new(-0.3, 179.999_f64.to_radians(), 0.0);
        let [east, _] = plane.east_north_m(-0.3, -179.999_f64.to_radians());
        assert!((east / 0.002_f64.to_radians() / 6.1e6 - 1.0).abs() < 0.02, "{east}");
    }
}
