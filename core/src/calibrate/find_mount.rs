//! Finding out from the data how an inertial unit lies on the bike.

use std::f64::consts::FRAC_PI_4;
use std::fmt;
use std::ops::Range;

use super::{Inertial, Mount};
use crate::rotation::{Vector, add_scaled, dot, norm};
use crate::{NotMeasured, STANDARD_GRAVITY};

/// Specific force at rest may differ from standard gravity by this share (offset and scale of
/// consumer parts; common practice).
const GRAVITY_TOLERANCE: f64 = 0.15;
/// Largest levelling turn: beyond it two square ways to lie are almost equally near.
const LEVEL_LIMIT_RAD: f64 = 0.61;
/// Forward acceleration and change of speed are compared in steps of this length, s.
const STEP_S: f64 = 0.5;
/// The forward direction must lie this many standard errors inside its quarter of the circle.
const MARGIN: f64 = 4.0;

/// How the unit lies, and how sure that is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundMount {
    /// From the unit's axes to the bike's, levelled.
    pub mount: Mount,
    /// Size of the levelling turn, rad.
    pub levelled_by_rad: f64,
    /// Angle, seen from above, between the forward direction that the data shows and the bike's x
    /// axis as found, rad, + left. It is shown, not taken out: it is far less exact than level.
    pub forward_offset_rad: f64,
    /// How far that direction lies inside its quarter of the circle, in standard errors (4 or more).
    pub forward_margin: f64,
}

/// What is left where the data does not decide.
#[derive(Clone, Debug, PartialEq)]
pub struct MountUndecided {
    /// The ways to lie that fit: 4 where level is known, else all 24.
    pub remaining: Vec<Mount>,
    /// Why it stops there.
    pub reason: NotMeasured,
}

impl fmt::Display for MountUndecided {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ways to lie remain; {}", self.remaining.len(), self.reason.0)
    }
}

impl std::error::Error for MountUndecided {}

impl Mount {
    /// Finds how a unit lies.
    ///
    /// `inertial` is in the unit's own axes. `level_still` are samples at which the bike stood
    /// still and level: there mean specific force points up, which chooses the axis and the
    /// levelling turn. `speed_mps` on the same grid (NaN where missing) then decides forward: mean
    /// horizontal specific force over steps of 0.5 s is regressed on change of speed (ordinary
    /// least squares), and its direction must lie 4 standard errors inside one quarter of the
    /// circle. A stretch with braking is best; a leaning bike feels no sideways force in a turn, so
    /// turns disturb little, and a slope only adds noise.
    ///
    /// # Errors
    /// [`MountUndecided`] with the ways that remain, where rest or speed do not decide.
    pub fn find(
        inertial: &Inertial,
        level_still: Range<usize>,
        speed_mps: Option<&[f32]>,
    ) -> Result<FoundMount, MountUndecided> {
        let undecided = |remaining: Vec<Self>, reason| MountUndecided { remaining, reason };
        inertial.check().map_err(|reason| undecided(Self::all().collect(), reason))?;
        let at_rest =
            mean_accel(inertial, level_still).map_err(|reason| undecided(Self::all().collect(), reason))?;
        let level: Vec<Self> = Self::all().filter_map(|mount| levelled(mount, at_rest)).collect();
        if level.is_empty() {
            let reason = "at rest gravity points between the unit's axes; fit the unit squarer to the bike";
            return Err(undecided(Self::all().collect(), NotMeasured::because(reason)));
        }
        let forward =
            Forward::find(inertial, speed_mps).map_err(|reason| undecided(level.clone(), reason))?;
        let mut found = level.iter().map(|&mount| forward.seen_from(mount));
        found.find(|found| found.forward_margin >= MARGIN).ok_or_else(|| {
            let reason = "specific force follows change of speed too little to tell which way is forward; \
                          mark a straight stretch with hard braking, or choose from the remaining ways";
            undecided(level.clone(), NotMeasured::because(reason))
        })
    }
}

/// Mean specific force over a stretch at rest, m/s^2.
fn mean_accel(inertial: &Inertial, still: Range<usize>) -> Result<Vector, NotMeasured> {
    let samples = || still.clone().filter(|&i| i < inertial.len() && inertial.is_whole_at(i));
    let count = samples().count();
    if (count as f64) < 0.5 * inertial.rate_hz {
        return Err(NotMeasured::because("half a second of the level bike at rest is needed to find up"));
    }
    let sum = samples().fold([0.0; 3], |sum, i| add_scaled(sum, 1.0, inertial.accel_at(i)));
    let mean = sum.map(|c| c / count as f64);
    let share = norm(mean) / STANDARD_GRAVITY;
    if (share - 1.0).abs() > GRAVITY_TOLERANCE {
        return Err(NotMeasured::because(format!(
            "the accelerometer reads {share:.2} g at rest instead of 1; check its unit and scale"
        )));
    }
    Ok(mean)
}

/// A square way to lie with the levelling turn that makes rest read upwards, if that is small.
fn levelled(square: Mount, at_rest: Vector) -> Option<Mount> {
    let [x, y, z] = square.apply(at_rest);
    // The smallest turn that takes (x, y, z) to +z is about (y, -x, 0).
    let aside = x.hypot(y);
    let angle = aside.atan2(z);
    let about = |c: f64| if aside > 0.0 { angle * c / aside } else { 0.0 };
    (angle <= LEVEL_LIMIT_RAD).then(|| square.levelled(about(y), about(-x)))
}

/// Change of specific force per change of acceleration along the path, in the unit's own axes:
/// of length 1 on level ground, and pointing forward.
struct Forward {
    slope: Vector,
    standard_error: f64,
}

impl Forward {
    fn find(inertial: &Inertial, speed_mps: Option<&[f32]>) -> Result<Self, NotMeasured> {
        let speed_mps = speed_mps.ok_or_else(|| NotMeasured::because("forward needs a speed channel"))?;
        if speed_mps.len() != inertial.len() {
            return Err(NotMeasured::because("speed and the inertial unit are not on one grid"));
        }
        let step = ((STEP_S * inertial.rate_hz).round() as usize).max(1);
        let step_s = step as f64 / inertial.rate_hz;
        let mean = |of: &dyn Fn(usize) -> f64, k: usize| {
            (k * step..(k + 1) * step).map(of).sum::<f64>() / step as f64
        };
        // Mean specific force and mean speed of each step; NaN where a sample is missing.
        let steps: Vec<(Vector, f64)> = (0..inertial.len() / step)
            .map(|k| {
                let accel = inertial.accel_mps2.map(|axis| mean(&|i| f64::from(axis[i]), k));
                (accel, mean(&|i| f64::from(speed_mps[i]), k))
            })
            .collect();
        // The change of mean speed between two steps belongs to the mean force over both.
        let pairs: Vec<(Vector, f64)> = steps
            .windows(2)
            .map(|pair| {
                let accel = add_scaled(pair[0].0, 1.0, pair[1].0).map(|c| 0.5 * c);
                (accel, (pair[1].1 - pair[0].1) / step_s)
            })
            .filter(|(accel, change)| change.is_finite() && accel.iter().all(|c| c.is_finite()))
            .collect();
        // Neighbouring pairs share a step: they count half.
        let independent = pairs.len() as f64 / 2.0;
        if independent < 4.0 {
            return Err(NotMeasured::because("forward needs four seconds with speed"));
        }
        let count = pairs.len() as f64;
        let mean_accel = pairs.iter().fold([0.0; 3], |sum, p| add_scaled(sum, 1.0 / count, p.0));
        let mean_change = pairs.iter().map(|p| p.1).sum::<f64>() / count;
        let centred = || pairs.iter().map(|p| (add_scaled(p.0, -1.0, mean_accel), p.1 - mean_change));
        let spread: f64 = centred().map(|(_, change)| change * change).sum();
        if spread / count < 0.1_f64.powi(2) {
            return Err(NotMeasured::because("speed hardly changes; forward needs braking or pedalling"));
        }
        let slope = centred().fold([0.0; 3], |sum, (accel, change)| add_scaled(sum, change / spread, accel));
        let residual: f64 = centred()
            .map(|(accel, change)| add_scaled(accel, -change, slope))
            .map(|rest| dot(rest, rest) / 3.0)
            .sum();
        let variance = residual / count / spread * (count / (independent - 2.0));
        Ok(Self { slope, standard_error: variance.sqrt() })
    }

    fn seen_from(&self, mount: Mount) -> FoundMount {
        let [x, y, _] = mount.apply(self.slope);
        let offset = y.atan2(x);
        let standard_error_rad = self.standard_error / x.hypot(y);
        let [level_x, level_y] = mount.level_rad();
        FoundMount {
            mount,
            levelled_by_rad: level_x.hypot(level_y),
            forward_offset_rad: offset,
            forward_margin: (FRAC_PI_4 - offset.abs()) / standard_error_rad,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotation::Rotation;

    const RATE_HZ: f64 = 100.0;

    struct Log {
        accel: [Vec<f32>; 3],
        gyro: [Vec<f32>; 3],
        speed: Vec<f32>,
    }

    impl Log {
        /// 3 s at rest, then 17 s straight down a slope of 8 degrees with pedalling and braking
        /// (`swing_mps2`) on ground that shakes every axis by 4 m/s^2 RMS; the unit lies as `mount` says.
        fn new(mount: &Mount, swing_mps2: f64) -> Self {
            let mut seed = 7_u32;
            let mut noise = |rms: f64| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
                rms * 12_f64.sqrt() * (f64::from(seed >> 8) / f64::from(1 << 24) - 0.5)
            };
            let columns = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]].map(|axis| mount.apply(axis));
            let mut log = Self { accel: Default::default(), gyro: Default::default(), speed: Vec::new() };
            let mut speed = 0.0;
            for i in 0..2000 {
                let t = i as f64 / RATE_HZ;
                let rides = t >= 3.0;
                let change = if rides { swing_mps2 * (1.3 * (t - 3.0)).sin() } else { 0.0 };
                speed += change / RATE_HZ;
                let slope = if rides { 8_f64.to_radians() } else { 0.0 };
                let shake = if rides { 4.0 } else { 0.05 };
                let bike = [
                    change - STANDARD_GRAVITY * slope.sin() + noise(shake),
                    noise(shake),
                    STANDARD_GRAVITY * slope.cos() + noise(shake),
                ];
                for (c, column) in columns.into_iter().enumerate() {
                    log.accel[c].push(dot(column, bike) as f32);
                    log.gyro[c].push(noise(0.002) as f32);
                }
                log.speed.push((speed + noise(0.1)) as f32);
            }
            log
        }

        fn inertial(&self) -> Inertial<'_> {
            Inertial {
                accel_mps2: self.accel.each_ref().map(Vec::as_slice),
                gyro_radps: self.gyro.each_ref().map(Vec::as_slice),
                rate_hz: RATE_HZ,
            }
        }
    }

    #[test]
    fn each_of_the_24_ways_to_lie_is_found_with_its_tilt() {
        for square in Mount::all() {
            let true_mount = square.levelled(6_f64.to_radians(), -9_f64.to_radians());
            let log = Log::new(&true_mount, 2.0);
            let found = Mount::find(&log.inertial(), 0..300, Some(&log.speed)).unwrap();
            let text = true_mount.to_string();
            assert_eq!(found.mount.to_string().split(" level").next(), text.split(" level").next());
            for (found, tilt) in found.mount.level_rad().into_iter().zip(true_mount.level_rad()) {
                assert!((found - tilt).to_degrees().abs() < 0.1, "{found} is not {tilt}");
            }
            assert!(found.forward_margin >= MARGIN);
            assert!(found.forward_offset_rad.to_degrees().abs() < 15.0);
        }
    }

    #[test]
    fn a_unit_turned_about_the_vertical_shows_its_offset() {
        let log = Log::new(&Mount::default(), 2.0);
        let turn = Rotation::from_vector([0.0, 0.0, 20_f64.to_radians()]);
        let mut turned = [const { Vec::new() }; 3];
        for i in 0..log.speed.len() {
            let seen = turn.apply(log.inertial().accel_at(i));
            for c in 0..3 {
                turned[c].push(seen[c] as f32);
            }
        }
        let log = Log { accel: turned, ..log };
        let found = Mount::find(&log.inertial(), 0..300, Some(&log.speed)).unwrap();
        assert!((found.forward_offset_rad.to_degrees() - 20.0).abs() < 8.0, "{found:?}");
    }

    #[test]
    fn without_speed_the_four_ways_with_up_right_remain() {
        let true_mount: Mount = "+y -z -x".parse().unwrap();
        let log = Log::new(&true_mount, 2.0);
        let left = Mount::find(&log.inertial(), 0..300, None).unwrap_err();
        assert_eq!(left.remaining.len(), 4);
        assert!(left.remaining.iter().all(|mount| mount.to_string().contains("-x level")));
        assert!(left.reason.0.contains("speed"));
    }

    #[test]
    fn speed_that_says_nothing_decides_nothing() {
        let log = Log::new(&Mount::default(), 0.0);
        let left = Mount::find(&log.inertial(), 0..300, Some(&log.speed)).unwrap_err();
        assert_eq!((left.remaining.len(), left.reason.0.contains("hardly changes")), (4, true));
        let weak = Log::new(&Mount::default(), 0.25);
        let left = Mount::find(&weak.inertial(), 0..300, Some(&weak.speed)).unwrap_err();
        assert_eq!((left.remaining.len(), left.reason.0.contains("too little")), (4, true));
        let missing = vec![f32::NAN; 2000];
        assert_eq!(Mount::find(&log.inertial(), 0..300, Some(&missing)).unwrap_err().remaining.len(), 4);
    }

    #[test]
    fn rest_that_is_no_rest_leaves_all() {
        let log = Log::new(&Mount::default(), 2.0);
        let all_left = |inertial: &Inertial, still| {
            let left = Mount::find(inertial, still, Some(&log.speed)).unwrap_err();
            assert_eq!(left.remaining.len(), 24);
            left.reason.0
        };
        assert!(all_left(&log.inertial(), 0..10).contains("half a second"));
        assert!(all_left(&log.inertial(), 5000..9000).contains("half a second"));
        let in_g = Log {
            accel: log.accel.clone().map(|a| a.iter().map(|v| v / 9.81).collect()),
            ..Log::new(&Mount::default(), 2.0)
        };
        assert!(all_left(&in_g.inertial(), 0..300).contains("0.10 g"));
        let corner = [(); 3].map(|()| vec![5.66; 2000]);
        let between = Log { accel: corner, ..Log::new(&Mount::default(), 2.0) };
        assert!(all_left(&between.inertial(), 0..300).contains("squarer"));
    }
}
