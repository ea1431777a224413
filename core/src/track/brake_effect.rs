//! What braking does to the rear suspension: the same ground ridden with the rear brake on and off.

use serde::{Deserialize, Serialize};

use crate::measured::{Measured, NotMeasured};
use crate::ride::{Ride, Trace, applications, unfit};
use crate::role::{End, Role};
use crate::signal::{DRAWS, Sos, bootstrap};

/// The ground moves the rear axle in this band, Hz: below it the rider does, above it the tyre.
const BAND_HZ: [f64; 2] = [3.0, 20.0];
/// Travel must be logged this fast for the band, Hz.
const RATE_MIN_HZ: f64 = 50.0;
/// The same ground is the same stretch of this length, m.
const CELL_M: f64 = 5.0;
/// Speeds that differ by no more than this are alike, m/s.
const LIKE_SPEED_MPS: f64 = 1.0;
/// A stretch is braked where the brake is on for this share of it, ...
const BRAKED_SHARE: f64 = 0.8;
/// ... and free where it is on for no more than this.
const FREE_SHARE: f64 = 0.1;
/// A stretch needs this much time for an RMS, s.
const CELL_MIN_S: f64 = 0.2;
/// Fewer stretches than this prove nothing.
const CELLS_MIN: usize = 8;

/// One run as the effect of braking needs it; all of one length.
#[derive(Clone, Debug, PartialEq)]
pub struct BrakedRun {
    /// Distance along the track, m: the same place has the same distance in every run. NaN where unknown.
    pub distance_m: Vec<f64>,
    /// Rear axle speed, 3-20 Hz, m/s.
    pub rear_axle_mps: Vec<f32>,
    /// Speed of the bike, m/s.
    pub speed_mps: Vec<f32>,
    /// The rear brake is on.
    pub rear_brake_on: Vec<bool>,
    /// Samples a second, Hz.
    pub rate_hz: f64,
}

/// How much the rear axle moves with its brake on, over how much it moves with it off, at like speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BrakeEffect {
    /// RMS rear axle speed 3-20 Hz, braked over free: below 1 where braking stiffens the rear. `n` counts
    /// stretches of 5 m; the 95 % interval describes these runs, not the next one.
    pub ratio: Measured,
    /// Both were ridden on the same ground. If not it is an association only: riders brake where the
    /// ground is rough.
    pub same_ground: bool,
}

impl BrakedRun {
    /// Reads a run. `distance_m`: distance along the track by sample of the run's grid.
    ///
    /// # Errors
    /// Rear travel, the rear brake or speed is not measured, or travel is too slow.
    pub fn of(ride: &Ride, distance_m: Vec<f64>) -> Result<Self, NotMeasured> {
        let unfit = unfit(&ride.readout.channels);
        let traces = ride.traces.as_ref().ok_or_else(|| NotMeasured::because("nothing is logged"))?;
        let grid = traces.grid();
        let (travel, brake) = (Role::Travel(End::Rear), Role::Brake(End::Rear));
        let logged = |role: Role| {
            if let Some(reason) = unfit.get(role) {
                return Err(reason.clone());
            }
            let nothing = || NotMeasured::because(format!("no {} is logged", role.words()));
            traces.logged().get(role).ok_or_else(nothing)
        };
        let native_hz = logged(travel)?.native_rate_hz;
        if native_hz < RATE_MIN_HZ {
            return Err(NotMeasured::because(format!(
                "rear axle travel is logged at {native_hz:.0} Hz; its movement up to 20 Hz needs {RATE_MIN_HZ:.0} Hz"
            )));
        }
        let axle = traces.get(Trace::AxleSpeed(End::Rear)).ok_or_else(|| {
            NotMeasured::because("rear axle travel is logged in pieces too short for a speed")
        })?;
        let speed =
            traces.get(Trace::Speed).ok_or_else(|| NotMeasured::because("no speed is logged"))?.to_vec();
        if distance_m.len() != grid.len {
            return Err(NotMeasured::because("distance and the run's channels are not on one grid"));
        }
        let band = Sos::band_pass(4, BAND_HZ[0], BAND_HZ[1], grid.rate_hz)
            .map_err(|_| NotMeasured::because("rear axle travel is logged too slowly"))?;
        let mut rear_brake_on = vec![false; grid.len];
        for on in applications(&logged(brake)?.samples, grid.rate_hz) {
            rear_brake_on[on.range].fill(true);
        }
        Ok(Self {
            distance_m,
            rear_axle_mps: band.zero_phase_stretches(axle),
            speed_mps: speed,
            rear_brake_on,
            rate_hz: grid.rate_hz,
        })
    }

    /// Its stretches of 5 m that are either braked or free.
    fn cells(&self) -> Vec<Cell> {
        let mut cells: Vec<Cell> = Vec::new();
        let mut sum = Sum::default();
        let mut place = None;
        let end = [(f64::NAN, (f32::NAN, f32::NAN), false)];
        let samples = self.distance_m.iter().zip(self.rear_axle_mps.iter().zip(&self.speed_mps));
        let samples = samples.zip(&self.rear_brake_on).map(|((d, (a, v)), on)| (*d, (*a, *v), *on));
        for (distance_m, (axle, speed), on) in samples.chain(end) {
            let here = (!distance_m.is_nan()).then(|| (distance_m / CELL_M).floor() as i64);
            if here != place {
                cells.extend(place.and_then(|place| sum.cell(place, self.rate_hz)));
                (sum, place) = (Sum::default(), here);
            }
            if !axle.is_nan() && !speed.is_nan() {
                sum.n += 1.0;
                sum.axle_squared += f64::from(axle).powi(2);
                sum.speed += f64::from(speed);
                sum.on += f64::from(u8::from(on));
            }
        }
        cells
    }
}

/// Sums over one stretch.
#[derive(Default)]
struct Sum {
    n: f64,
    axle_squared: f64,
    speed: f64,
    on: f64,
}

impl Sum {
    fn cell(&self, place: i64, rate_hz: f64) -> Option<Cell> {
        let share = self.on / self.n;
        let enough = self.n >= CELL_MIN_S * rate_hz && self.axle_squared > 0.0;
        let braked = share >= BRAKED_SHARE;
        (enough && (braked || share <= FREE_SHARE)).then(|| Cell {
            place,
            braked,
            speed_mps: self.speed / self.n,
            log_rms: 0.5 * (self.axle_squared / self.n).ln(),
        })
    }
}

/// One stretch of 5 m in one run.
#[derive(Clone, Copy, Debug)]
struct Cell {
    place: i64,
    braked: bool,
    speed_mps: f64,
    log_rms: f64,
}

/// Effect of the rear brake on the rear suspension over some runs of one track.
///
/// RMS rear axle speed 3-20 Hz in the same 5 m of track at speeds within 1 m/s, braked in one run and free in
/// another: the geometric mean of braked over free, each stretch counted once, with a bootstrap interval
/// over stretches. With fewer than 8 such stretches every braked one is compared with free ones anywhere at
/// like speed, and [`same_ground`](BrakeEffect::same_ground) is false.
///
/// # Errors
/// Not even that can be compared.
pub fn brake_effect(runs: &[BrakedRun]) -> Result<BrakeEffect, NotMeasured> {
    let cells: Vec<Vec<Cell>> = runs.iter().map(BrakedRun::cells).collect();
    let same_ground = on_the_same_ground(&cells);
    if same_ground.len() >= CELLS_MIN {
        return effect(&same_ground, true);
    }
    let anywhere = anywhere(&cells);
    if anywhere.len() >= CELLS_MIN {
        return effect(&anywhere, false);
    }
    Err(NotMeasured::because(
        "the rear brake was not on for long enough, or never off at like speed, to compare the two",
    ))
}

fn effect(log_ratios: &[f64], same_ground: bool) -> Result<BrakeEffect, NotMeasured> {
    let found = bootstrap(log_ratios, mean, DRAWS, 1)
        .ok_or_else(|| NotMeasured::because("the rear axle's speed is missing where it is compared"))?;
    let ratio =
        Measured::value(found.estimate.exp()).with_n(found.n).with_interval(found.interval.map(f64::exp));
    Ok(BrakeEffect { ratio, same_ground })
}

/// By stretch: mean log ratio of every braked to every free passage at like speed in another run.
fn on_the_same_ground(runs: &[Vec<Cell>]) -> Vec<f64> {
    let mut places: Vec<i64> = runs.iter().flatten().map(|cell| cell.place).collect();
    places.sort_unstable();
    places.dedup();
    // A place that is passed twice in one run (a bike pushed back) counts as first passed.
    let at = |run: &[Cell], place: i64| run.iter().find(|cell| cell.place == place).copied();
    places
        .into_iter()
        .filter_map(|place| {
            let here: Vec<Cell> = runs.iter().filter_map(|run| at(run, place)).collect();
            let ratios: Vec<f64> = here
                .iter()
                .filter(|cell| cell.braked)
                .flat_map(|braked| here.iter().filter_map(move |free| log_ratio(braked, free)))
                .collect();
            (!ratios.is_empty()).then(|| mean(&ratios))
        })
        .collect()
}

/// By braked stretch: mean log ratio to every free one at like speed.
fn anywhere(runs: &[Vec<Cell>]) -> Vec<f64> {
    runs.iter()
        .flatten()
        .filter(|cell| cell.braked)
        .filter_map(|braked| {
            let ratios: Vec<f64> = runs.iter().flatten().filter_map(|free| log_ratio(braked, free)).collect();
            (!ratios.is_empty()).then(|| mean(&ratios))
        })
        .collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn log_ratio(braked: &Cell, free: &Cell) -> Option<f64> {
    let like = !free.braked && (braked.speed_mps - free.speed_mps).abs() <= LIKE_SPEED_MPS;
    like.then_some(braked.log_rms - free.log_rms)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::Random;

    const RATE_HZ: f64 = 100.0;
    const EFFECT: f64 = 0.8;

    /// 300 m at `speed_mps` on ground that is three times as rough beyond 150 m; `brakes` by distance.
    fn run(speed_mps: f64, seed: u64, brakes: impl Fn(f64) -> bool) -> BrakedRun {
        let mut random = Random::seeded(seed);
        let n = (300.0 / speed_mps * RATE_HZ) as usize;
        let distance_m: Vec<f64> = (0..n).map(|i| i as f64 * speed_mps / RATE_HZ).collect();
        let rear_brake_on: Vec<bool> = distance_m.iter().map(|d| brakes(*d)).collect();
        let rear_axle_mps = distance_m.iter().zip(&rear_brake_on).map(|(d, on)| {
            let rough = if *d > 150.0 { 0.3 } else { 0.1 };
            (rough * if *on { EFFECT } else { 1.0 } * (random.share() - 0.5)) as f32
        });
        BrakedRun {
            rear_axle_mps: rear_axle_mps.collect(),
            speed_mps: vec![speed_mps as f32; n],
            rear_brake_on,
            distance_m,
            rate_hz: RATE_HZ,
        }
    }

    /// Riders brake where it is rough.
    fn rough(distance_m: f64) -> bool {
        distance_m > 150.0
    }

    #[test]
    fn the_same_ground_shows_the_effect_itself() {
        let runs = [run(8.0, 1, rough), run(8.6, 2, |_| false), run(7.5, 3, rough)];
        let found = brake_effect(&runs).unwrap();
        assert!(found.same_ground);
        assert_eq!(found.ratio.n(), Some(30));
        let [low, high] = *found.ratio.interval().unwrap();
        assert!(low < EFFECT && EFFECT < high && high - low < 0.15, "{low}..{high}");
        // In any order.
        let turned: Vec<BrakedRun> = runs.iter().rev().cloned().collect();
        let again = brake_effect(&turned).unwrap();
        assert!((again.ratio.get().unwrap() / found.ratio.get().unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn elsewhere_it_is_an_association_and_rough_ground_misleads_it() {
        let found = brake_effect(&[run(8.0, 1, rough)]).unwrap();
        assert!(!found.same_ground);
        assert!((found.ratio.get().unwrap() / (3.0 * EFFECT) - 1.0).abs() < 0.1, "{found:?}");
        // Another run at another speed is no pair.
        let found = brake_effect(&[run(8.0, 1, rough), run(9.5, 2, |_| false)]).unwrap();
        assert!(!found.same_ground);
    }

    #[test]
    fn nothing_braked_or_nothing_free_is_not_measured() {
        assert!(brake_effect(&[run(8.0, 1, |_| false), run(8.0, 2, |_| false)]).is_err());
        assert!(brake_effect(&[run(8.0, 1, |_| true), run(8.0, 2, |_| true)]).is_err());
        assert!(brake_effect(&[]).is_err());
        let lost = BrakedRun {
            rear_axle_mps: vec![f32::NAN; run(8.0, 1, rough).distance_m.len()],
            ..run(8.0, 1, rough)
        };
        assert!(brake_effect(&[lost]).is_err());
    }
}
