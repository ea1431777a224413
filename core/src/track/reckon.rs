//! Where the bike went, in metres east and north.

use serde::{Deserialize, Serialize};

use crate::align::Grid;
use crate::geodesy::LocalPlane;
use crate::measured::NotMeasured;
use crate::ride::{Trace, Traces};
use crate::role::Role;
use crate::signal::median;

/// Where a path comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PathSource {
    /// GPS positions; east and north are those of the map.
    Gps,
    /// Dead reckoning: "east" is where the bike pointed at the start, and errors of heading grow on the way.
    DeadReckoned,
}

/// The way of one run on its grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Path {
    /// Where it comes from.
    pub source: PathSource,
    /// Where the metres are counted from; a GPS path alone has a place on the earth.
    pub plane: Option<LocalPlane>,
    /// The run's grid.
    pub grid: Grid,
    /// Metres east of the first known place, NaN where missing.
    pub east_m: Vec<f32>,
    /// Metres north of the first known place, NaN where missing.
    pub north_m: Vec<f32>,
}

/// Positions of the GPS in the plane that touches the earth at the first fix: turned into metres in `f64`
/// before they are kept in `f32`.
///
/// # Errors
/// Where no latitude or no longitude is logged.
pub fn gps_path(traces: &Traces) -> Result<Path, NotMeasured> {
    let logged = traces.logged();
    let missing = || NotMeasured::because("no GPS position is logged");
    let latitude = logged.get(Role::Latitude).ok_or_else(missing)?;
    let longitude = logged.get(Role::Longitude).ok_or_else(missing)?;
    let height_m = logged.get(Role::Height).and_then(|height| median(&height.samples)).unwrap_or(0.0);
    let angles: Vec<[f64; 2]> = latitude
        .samples
        .iter()
        .zip(&longitude.samples)
        .map(|(lat, lon)| [latitude.origin + f64::from(*lat), longitude.origin + f64::from(*lon)])
        .collect();
    let first = angles
        .iter()
        .find(|place| place.iter().all(|angle| angle.is_finite()))
        .ok_or_else(|| NotMeasured::because("the GPS had no fix during the run"))?;
    let plane = LocalPlane::new(first[0], first[1], height_m);
    let places = angles.iter().map(|&[latitude, longitude]| plane.east_north_m(latitude, longitude));
    let (east_m, north_m) = places.map(|[east, north]| (east as f32, north as f32)).unzip();
    Ok(Path { source: PathSource::Gps, plane: Some(plane), grid: traces.grid(), east_m, north_m })
}

/// Dead reckoning: the integral of speed along the heading, `east = sum of v cos(pitch) cos(yaw) dt`, north
/// with the sine, unsmoothed. Pitch, where known, turns speed along the slope into speed over the map. Missing
/// where speed or yaw is, and all after, since nothing says where the bike went meanwhile.
///
/// # Errors
/// Without speed or heading.
pub fn dead_reckoned(traces: &Traces) -> Result<Path, NotMeasured> {
    let needs = |what: &str| NotMeasured::because(format!("dead reckoning needs {what}"));
    let speed = traces.get(Trace::Speed).ok_or_else(|| needs("the bike's speed"))?;
    let yaw = traces.get(Trace::Yaw).ok_or_else(|| needs("the frame's turn rates and acceleration"))?;
    let pitch = traces.get(Trace::Pitch);
    let period_s = 1.0 / traces.grid().rate_hz;
    let (mut east_m, mut north_m) = (Vec::with_capacity(speed.len()), Vec::with_capacity(speed.len()));
    let (mut place, mut begun) = ([0.0_f64; 2], false);
    for (k, (&speed, &yaw)) in speed.iter().zip(yaw).enumerate() {
        east_m.push(if begun { place[0] as f32 } else { f32::NAN });
        north_m.push(if begun { place[1] as f32 } else { f32::NAN });
        let over_the_map = pitch.map_or(1.0, |pitch| f64::from(pitch[k]).cos());
        let step_m = f64::from(speed) * over_the_map * period_s;
        let (sin, cos) = f64::from(yaw).sin_cos();
        let step = [step_m * cos, step_m * sin];
        if !begun && step.iter().all(|d| d.is_finite()) {
            begun = true;
            (east_m[k], north_m[k]) = (0.0, 0.0);
        }
        if begun {
            place = [place[0] + step[0], place[1] + step[1]];
        }
    }
    Ok(Path { source: PathSource::DeadReckoned, plane: None, grid: traces.grid(), east_m, north_m })
}
