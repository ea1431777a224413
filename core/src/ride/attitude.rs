//! How the bike's frame lies in space, from its inertial unit.

use std::ops::Range;

use super::bridge::{Bridge, bridge};
use super::motion_smoother::{Knot, Noise, Prior, smooth};
use super::strapdown::Strapdown;
use crate::calibrate::{Inertial, gyro_bias, still_stretches};
use crate::rotation::{Rotation, Vector, add_scaled, cross, norm};
use crate::{NotMeasured, STANDARD_GRAVITY};

/// Slowest sampling that still follows the frame's turns over rough ground, Hz (common practice).
const RATE_MIN_HZ: f64 = 50.0;
/// Knots of the smoother per second.
const KNOT_RATE_HZ: f64 = 20.0;
/// Missing samples up to this long are bridged, s.
const BRIDGE_S: f64 = 0.05;
/// Shorter stretches say too little about up, s.
const STRETCH_MIN_S: f64 = 2.0;
/// Gyro offset of consumer parts where no rest has shown it, rad/s (3 deg/s; common practice).
const BIAS_DEVIATION_RADPS: f64 = 0.05;
/// How well rest shows the offset that holds while riding, rad/s (0.03 deg/s).
const REST_DEVIATION_RADPS: f64 = 5e-4;
/// Integration and smoothing are repeated until the offset moves by less than this, rad/s ...
const BIAS_SETTLED_RADPS: f64 = 2e-4;
/// ... and the first guess of up by less than this, rad, ...
const UP_SETTLED_RAD: f64 = 0.02;
/// ... at most so often. Two rounds are usual.
const ROUNDS_MAX: usize = 4;
/// Faster than this a smoothly rolling bike is not at rest, whatever its inertial unit says, m/s.
const REST_SPEED_MPS: f32 = 0.5;
/// Beyond any bike: a broken number, m/s.
const SPEED_MAX_MPS: f32 = 60.0;

/// Orientation of the frame: yaw, then pitch, then roll (ISO 8855: x forward, y left, z up).
///
/// One value per sample of the input; NaN where the input misses a sample (or has a number that no
/// sensor can give), and where a stretch between gaps is under 2 s.
#[derive(Clone, Debug, PartialEq)]
pub struct Attitude {
    /// Lean, rad, + to the right.
    pub roll_rad: Vec<f32>,
    /// Pitch against the horizontal, rad, + nose down.
    pub pitch_rad: Vec<f32>,
    /// Heading, rad, + turning left; 0 at the start of each stretch, not wrapped. It drifts.
    pub yaw_rad: Vec<f32>,
    /// Rate of turn about the earth's vertical, rad/s, + to the left.
    pub yaw_rate_radps: Vec<f32>,
    /// Gyro offset that was taken off, rad/s, bike axes (that of the longest stretch).
    pub gyro_bias_radps: [f64; 3],
    /// Speed was known at half of the knots or more.
    pub speed_used: bool,
    /// Missing samples that were bridged.
    pub bridged: usize,
}

impl Attitude {
    /// Finds the orientation of the frame.
    ///
    /// `inertial` is in bike axes (after [`Mount`](crate::calibrate::Mount)), at 50 Hz or more;
    /// `speed_mps` on the same grid is the bike's speed, NaN where it is not known.
    ///
    /// The run is over, so that every moment is judged with what came before and after it: turn
    /// rates are integrated at the full rate, and a Kalman smoother at 20 knots a second finds what
    /// that leaves open, upwards and the gyros' offset, from specific force and from how a bike can
    /// move: along its own x axis, at the wheel's speed where that is known. Specific force thus
    /// has forward and centripetal acceleration taken out. Seeing specific force in the slowly
    /// creeping integrated frame is the idea of Laidig and Seel 2023, "VQF: Highly accurate IMU
    /// orientation estimation with bias estimation and magnetic disturbance rejection",
    /// Information Fusion 91; for the smoother's sources see its file.
    ///
    /// Without speed the same constraint holds, with a speed that is found along with the rest.
    /// Up to 50 ms of missing samples are bridged (turn rates by cubics, which the smoother takes to miss by
    /// some 0.3 rad/s); longer gaps part stretches that stand alone. Bridging costs accuracy where the frame
    /// shakes: 50 ms of everything lost every 4 s raised the RMS error of pitch from 0.2 to 0.5 deg on
    /// simulated rides, lost every second to 0.7 deg (the worst of four: 0.9). An offset of the accelerometer is not found: level the mount first.
    ///
    /// # Errors
    /// Where the rate is under 50 Hz, a channel is dead, channels differ in length, or no stretch
    /// of 2 s is without a gap.
    pub fn find(inertial: &Inertial, speed_mps: Option<&[f32]>) -> Result<Self, NotMeasured> {
        check(inertial, speed_mps)?;
        let rolls = |i: usize| speed_mps.is_some_and(|speed| speed[i] > REST_SPEED_MPS);
        let rest = still_stretches(inertial).into_iter().flatten().filter(|&i| !rolls(i));
        let still = runs(rest, 0, inertial.rate_hz as usize);
        let bias = match gyro_bias(inertial, &still) {
            Ok(found) => (found.bias_radps, [REST_DEVIATION_RADPS; 3]),
            Err(_) => ([0.0; 3], [BIAS_DEVIATION_RADPS; 3]),
        };
        let mut stretches = whole_stretches(inertial);
        stretches.sort_by_key(|range| std::cmp::Reverse(range.len()));
        if stretches.is_empty() {
            return Err(NotMeasured::because("the inertial unit has no 2 s without a gap"));
        }

        let missing = || vec![f32::NAN; inertial.len()];
        let mut attitude = Self {
            roll_rad: missing(),
            pitch_rad: missing(),
            yaw_rad: missing(),
            yaw_rate_radps: missing(),
            gyro_bias_radps: bias.0,
            speed_used: false,
            bridged: 0,
        };
        let mut bias = bias;
        let (mut knots, mut knots_with_speed) = (0, 0);
        for (n, range) in stretches.into_iter().enumerate() {
            let stretch = Stretch::read(inertial, speed_mps, &still, range);
            let found = stretch.solve(bias);
            attitude.write(inertial, &stretch, &found);
            knots += stretch.speed_at_knots.len();
            knots_with_speed += stretch.speed_at_knots.iter().flatten().count();
            if n == 0 {
                // The longest stretch tells the shorter ones what it learned about the gyros.
                attitude.gyro_bias_radps = found.bias;
                bias = (found.bias, found.bias_deviation.map(|sd| sd.max(REST_DEVIATION_RADPS)));
            }
        }
        attitude.speed_used = 2 * knots_with_speed >= knots;
        Ok(attitude)
    }

    fn write(&mut self, inertial: &Inertial, stretch: &Stretch, found: &Solution) {
        let (mut turns, mut last, mut first) = (0.0, 0.0, None);
        for (i, &orientation) in found.orientation.iter().enumerate() {
            let at = stretch.range.start + i;
            let angles = orientation.yaw_pitch_roll();
            let step: f64 = angles.yaw - last;
            turns -= (step / std::f64::consts::TAU).round();
            last = angles.yaw;
            let yaw = angles.yaw + turns * std::f64::consts::TAU;
            let start = *first.get_or_insert(yaw);
            if !inertial.is_whole_at(at) {
                self.bridged += 1;
                continue;
            }
            let rate = add_scaled(stretch.gyro[i].map(f64::from), -1.0, found.bias);
            self.roll_rad[at] = angles.roll as f32;
            self.pitch_rad[at] = angles.pitch as f32;
            self.yaw_rad[at] = (yaw - start) as f32;
            self.yaw_rate_radps[at] = orientation.apply(rate)[2] as f32;
        }
    }
}

fn check(inertial: &Inertial, speed_mps: Option<&[f32]>) -> Result<(), NotMeasured> {
    inertial.check()?;
    if inertial.rate_hz < RATE_MIN_HZ {
        return Err(NotMeasured::because(format!(
            "the inertial unit is logged at {:.0} Hz; attitude needs {RATE_MIN_HZ:.0} Hz",
            inertial.rate_hz
        )));
    }
    if speed_mps.is_some_and(|speed| speed.len() != inertial.len()) {
        return Err(NotMeasured::because("speed and the inertial unit are not on one grid"));
    }
    let channels = [("accelerometer", inertial.accel_mps2), ("gyro", inertial.gyro_radps)];
    let mut spans = Vec::with_capacity(6);
    for (sensor, axes) in channels {
        for (name, axis) in ["x", "y", "z"].into_iter().zip(axes) {
            let span = span(axis).ok_or_else(|| {
                NotMeasured::because(format!("the frame's {sensor} has no values on {name}"))
            })?;
            spans.push((sensor, name, span));
        }
    }
    // On a bike that moves every channel moves; if all stand, so did the bike.
    let moved = spans.iter().any(|&(_, _, span)| span > MOVING_SPAN);
    match spans.iter().find(|&&(_, _, span)| span == 0.0) {
        Some((sensor, name, _)) if moved => Err(NotMeasured::because(format!(
            "the frame's {sensor} is dead on {name}: it always reads the same"
        ))),
        _ => Ok(()),
    }
}

/// A span of readings that only a moving bike has, m/s^2 or rad/s.
const MOVING_SPAN: f64 = 2.0;

/// Largest less smallest value; `None` if there is none.
fn span(axis: &[f32]) -> Option<f64> {
    let values = || axis.iter().copied().filter(|v| v.is_finite());
    let max = values().reduce(f32::max)?;
    let min = values().reduce(f32::min)?;
    Some(f64::from(max) - f64::from(min))
}

/// Stretches of 2 s and more whose gaps are short enough to be bridged.
fn whole_stretches(inertial: &Inertial) -> Vec<Range<usize>> {
    let whole = (0..inertial.len()).filter(|&i| inertial.is_whole_at(i));
    let bridge = (BRIDGE_S * inertial.rate_hz).floor() as usize;
    runs(whole, bridge, (STRETCH_MIN_S * inertial.rate_hz).ceil() as usize)
}

/// Runs of increasing sample numbers that skip at most `bridge` and span at least `shortest`.
fn runs(samples: impl Iterator<Item = usize>, bridge: usize, shortest: usize) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for i in samples {
        match runs.last_mut() {
            Some(last) if i - last.end <= bridge => last.end = i + 1,
            _ => runs.push(i..i + 1),
        }
    }
    runs.retain(|run| run.len() >= shortest);
    runs
}

/// One stretch without gaps.
struct Stretch {
    range: Range<usize>,
    accel: Vec<[f32; 3]>,
    gyro: Vec<[f32; 3]>,
    /// Samples that were not measured.
    bridged: Vec<bool>,
    rate_hz: f64,
    /// Samples from knot to knot.
    block: usize,
    speed_at_knots: Vec<Option<f64>>,
    rest_at_knots: Vec<bool>,
}

struct Solution {
    /// Bike axes to earth, z up, at every sample.
    orientation: Vec<Rotation>,
    bias: Vector,
    bias_deviation: Vector,
}

impl Stretch {
    fn read(
        inertial: &Inertial,
        speed_mps: Option<&[f32]>,
        still: &[Range<usize>],
        range: Range<usize>,
    ) -> Self {
        let block = ((inertial.rate_hz / KNOT_RATE_HZ).round() as usize).max(1);
        let knots = knots(range.len(), block);
        let near = |knot: usize| {
            let at = range.start + knot;
            at.saturating_sub(block / 2).max(range.start)..(at + block / 2 + 1).min(range.end)
        };
        let speed_at = |knot: usize| {
            let known = speed_mps?[near(knot)].iter().filter(|v| v.abs() <= SPEED_MAX_MPS);
            let (count, sum) = known.fold((0.0, 0.0), |(n, sum), &v| (n + 1.0, sum + f64::from(v)));
            (count > 0.0).then(|| sum / count)
        };
        let rest_at = |knot: usize| {
            let near = near(knot);
            still.iter().any(|rest| rest.start <= near.start && near.end <= rest.end)
        };
        Self {
            accel: bridged(inertial, &range, |i| inertial.accel_at(i), Bridge::Straight),
            gyro: bridged(inertial, &range, |i| inertial.gyro_at(i), Bridge::Cubic),
            bridged: range.clone().map(|i| !inertial.is_whole_at(i)).collect(),
            rate_hz: inertial.rate_hz,
            block,
            speed_at_knots: knots.iter().map(|&knot| speed_at(knot)).collect(),
            rest_at_knots: knots.iter().map(|&knot| rest_at(knot)).collect(),
            range,
        }
    }

    /// Integrates and smooths in rounds: each starts from the offset and the first up that the last
    /// one found, so that what the smoother has to find, and its linearisation, become small.
    fn solve(&self, (known_bias, bias_deviation): (Vector, Vector)) -> Solution {
        let knots = knots(self.accel.len(), self.block);
        let mut bias = known_bias;
        let mut start = Rotation::NONE;
        let mut round = 1;
        loop {
            let (accel, gyro) = (&self.accel, &self.gyro);
            let strapdown =
                Strapdown::integrate(accel, gyro, &self.bridged, self.rate_hz, self.block, bias, start);
            let seen = self.knots(&knots, &strapdown);
            let first_speed = self.speed_at_knots[0].unwrap_or(0.0);
            let up = if round == 1 { first_up(&strapdown) } else { UP.map(|c| c * STANDARD_GRAVITY) };
            let prior = Prior {
                velocity: (seen[0].axes[0].map(|c| c * first_speed), 8.0),
                up: (up, 3.0),
                bias: (add_scaled(known_bias, -1.0, bias), bias_deviation),
            };
            let smoothed = smooth(&seen, &strapdown.intervals, &prior, &Noise::RIDE);
            bias = add_scaled(bias, 1.0, smoothed.bias);
            let settled = norm(smoothed.bias) < BIAS_SETTLED_RADPS
                && norm(cross(smoothed.up[0], up)) < UP_SETTLED_RAD * norm(up) * norm(smoothed.up[0]);
            if settled || round == ROUNDS_MAX {
                let turned = strapdown.orientation.into_iter().enumerate();
                let orientation =
                    turned.map(|(i, turned)| upright(&smoothed.up, &knots, i / self.block, i).after(turned));
                return Solution {
                    orientation: orientation.collect(),
                    bias,
                    bias_deviation: smoothed.bias_deviation,
                };
            }
            start = Rotation::between(smoothed.up[0], UP).after(start);
            round += 1;
        }
    }

    fn knots(&self, knots: &[usize], strapdown: &Strapdown) -> Vec<Knot> {
        let known = self.speed_at_knots.iter().zip(&self.rest_at_knots);
        let knot = |(&at, (&speed, &at_rest)): (&usize, (&Option<f64>, &bool))| Knot {
            axes: strapdown.orientation[at].axes(),
            speed,
            at_rest,
        };
        knots.iter().zip(known).map(knot).collect()
    }
}

/// A first guess of up: mean specific force over three seconds, in the integrated frame.
fn first_up(strapdown: &Strapdown) -> Vector {
    let few = strapdown.intervals.iter().take((3.0 * KNOT_RATE_HZ) as usize);
    let sum = few.fold([0.0; 3], |sum, interval| add_scaled(sum, 1.0, interval.specific_impulse));
    let length = norm(sum);
    let direction = if length > 0.0 { sum.map(|c| c / length) } else { UP };
    direction.map(|c| c * STANDARD_GRAVITY)
}

const UP: Vector = [0.0, 0.0, 1.0];

/// Sample numbers of the knots: every `block`, and the last sample.
fn knots(len: usize, block: usize) -> Vec<usize> {
    let last = len - 1;
    (0..last).step_by(block).chain([last]).collect()
}

/// The small turn that sets the integrated frame upright at sample `i`, between knots `k` and `k + 1`.
fn upright(up: &[Vector], knots: &[usize], k: usize, i: usize) -> Rotation {
    let k = k.min(knots.len() - 2);
    let share = (i - knots[k]) as f64 / (knots[k + 1] - knots[k]) as f64;
    let up = std::array::from_fn(|c| up[k][c] + share * (up[k + 1][c] - up[k][c]));
    Rotation::between(up, UP)
}

/// Values over a range whose ends are whole, with what [`Bridge`] puts where samples are missing.
fn bridged(
    inertial: &Inertial,
    range: &Range<usize>,
    value_at: impl Fn(usize) -> Vector,
    kind: Bridge,
) -> Vec<[f32; 3]> {
    let mut axes = [(); 3].map(|()| Vec::with_capacity(range.len()));
    for i in range.clone() {
        let value = if inertial.is_whole_at(i) { value_at(i) } else { [f64::NAN; 3] };
        axes.iter_mut().zip(value).for_each(|(axis, value)| axis.push(value));
    }
    axes.iter_mut().for_each(|axis| bridge(axis, inertial.rate_hz, kind));
    (0..range.len()).map(|i| axes.each_ref().map(|axis| axis[i] as f32)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Channels of a unit that never stops doing what it does, with a little noise.
    fn steady(accel: Vector, gyro: Vector, seconds: f64) -> ([Vec<f32>; 3], [Vec<f32>; 3]) {
        let n = (seconds * 200.0) as usize;
        let mut seed = 1_u32;
        let mut noise = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // Numerical Recipes
            f64::from(seed >> 8) / f64::from(1 << 24) - 0.5
        };
        let mut channel = |value: f64, size: f64| (0..n).map(|_| (value + size * noise()) as f32).collect();
        (accel.map(|value| channel(value, 0.1)), gyro.map(|value| channel(value, 0.01)))
    }

    fn inertial<'a>((accel, gyro): &'a ([Vec<f32>; 3], [Vec<f32>; 3])) -> Inertial<'a> {
        Inertial {
            accel_mps2: accel.each_ref().map(Vec::as_slice),
            gyro_radps: gyro.each_ref().map(Vec::as_slice),
            rate_hz: 200.0,
        }
    }

    /// Every sample of a channel lies within `tolerance` of `expected`, in degrees.
    fn near(channel: &[f32], expected: f64, tolerance: f64, what: &str) {
        for (i, &value) in channel.iter().enumerate() {
            let degrees = f64::from(value).to_degrees();
            assert!((degrees - expected).abs() < tolerance, "{what} is {degrees} at {i}, not {expected}");
        }
    }

    /// Up in bike axes for yaw-pitch-roll: the last row of the rotation matrix (ISO 8855, or any
    /// text on flight mechanics).
    fn up(roll_deg: f64, pitch_deg: f64) -> Vector {
        let ((sr, cr), (sp, cp)) = (roll_deg.to_radians().sin_cos(), pitch_deg.to_radians().sin_cos());
        [-sp, cp * sr, cp * cr]
    }

    #[test]
    fn static_tilts_are_exact_to_a_tenth_of_a_degree() {
        for (roll, pitch) in
            [(0.0, 0.0), (0.0, 15.0), (0.0, -20.0), (30.0, 0.0), (-45.0, 10.0), (80.0, -60.0)]
        {
            let offset = [0.01, -0.02, 0.015];
            let channels = steady(up(roll, pitch).map(|c| c * STANDARD_GRAVITY), offset, 8.0);
            let found = Attitude::find(&inertial(&channels), None).unwrap();
            near(&found.roll_rad, roll, 0.1, "roll");
            near(&found.pitch_rad, pitch, 0.1, "pitch");
            near(&found.yaw_rad, 0.0, 0.1, "yaw");
            for (found, offset) in found.gyro_bias_radps.iter().zip(offset) {
                assert!((found - offset).abs() < 1e-3, "gyro offset {found}, not {offset}");
            }
        }
    }

    /// A bike balanced in a turn to the left: no sideways force, lean atan(v^2 / g R) (any text on
    /// vehicle dynamics).
    fn steady_turn(speed_mps: f64, yaw_rate_radps: f64, known: bool) -> Attitude {
        let lean = (speed_mps * yaw_rate_radps / STANDARD_GRAVITY).atan();
        let gyro = [0.0, -yaw_rate_radps * lean.sin(), yaw_rate_radps * lean.cos()];
        let channels = steady([0.0, 0.0, STANDARD_GRAVITY / lean.cos()], gyro, 30.0);
        let speed = vec![speed_mps as f32; channels.0[0].len()];
        Attitude::find(&inertial(&channels), known.then_some(&speed[..])).unwrap()
    }

    #[test]
    fn a_steady_turn_leans_though_nothing_pulls_sideways() {
        let found = steady_turn(10.0, 10.0 / 20.0, true);
        near(&found.roll_rad, -27.02, 1.0, "roll");
        near(&found.pitch_rad, 0.0, 1.0, "pitch");
        assert!(found.speed_used);
        let found = steady_turn(8.0, 60_f64.to_radians(), true);
        near(&found.roll_rad, -40.51, 1.0, "roll");
        near(&found.yaw_rate_radps, 60.0, 1.0, "yaw rate");
        let turned = f64::from(found.yaw_rad[found.yaw_rad.len() - 1]).to_degrees();
        assert!((turned - 30.0 * 60.0).abs() < 15.0, "turned by {turned}");
    }

    #[test]
    fn a_steady_turn_leans_without_speed_too() {
        let found = steady_turn(8.0, 60_f64.to_radians(), false);
        near(&found.roll_rad[1000..5000], -40.51, 2.0, "roll");
        assert!(!found.speed_used);
    }

    #[test]
    fn gaps_stay_missing_and_part_only_where_they_are_long() {
        let mut channels = steady(up(20.0, 5.0).map(|c| c * STANDARD_GRAVITY), [0.0; 3], 20.0);
        let (short, long) = (1000..1008, 2000..2100);
        channels.0[1][short.clone()].fill(f32::NAN);
        channels.1[2][long.clone()].fill(f32::NAN);
        let found = Attitude::find(&inertial(&channels), None).unwrap();
        assert_eq!(found.bridged, short.len());
        for i in 0..found.roll_rad.len() {
            let missing = short.contains(&i) || long.contains(&i);
            assert_eq!(found.roll_rad[i].is_nan(), missing, "at {i}");
        }
        near(&found.roll_rad[..short.start], 20.0, 0.1, "roll before");
        near(&found.roll_rad[short.end..long.start], 20.0, 0.1, "roll between");
        near(&found.roll_rad[long.end..], 20.0, 0.1, "roll after");
    }

    #[test]
    fn what_cannot_be_measured_says_why() {
        let channels = steady([3.0, 0.0, 9.0], [0.0, 0.0, 1.0], 10.0);
        let good = inertial(&channels);
        let reason =
            |inertial: Inertial, speed: Option<&[f32]>| Attitude::find(&inertial, speed).unwrap_err().0;
        assert!(reason(Inertial { rate_hz: 25.0, ..good }, None).contains("25 Hz"));
        assert!(reason(Inertial { rate_hz: f64::NAN, ..good }, None).contains("rate"));
        assert!(reason(good, Some(&[1.0])).contains("grid"));
        let short = &good.gyro_radps[0][..10];
        assert!(reason(Inertial { gyro_radps: [short; 3], ..good }, None).contains("length"));
        let short =
            Inertial { accel_mps2: good.accel_mps2.map(|a| &a[..10]), gyro_radps: [short; 3], ..good };
        assert!(reason(short, None).contains("2 s"));
        assert!(
            reason(Inertial { accel_mps2: [&[]; 3], gyro_radps: [&[]; 3], ..good }, None)
                .contains("no samples")
        );

        let mut dead = channels.clone();
        dead.0[0].iter_mut().enumerate().for_each(|(i, v)| *v = (i % 7) as f32);
        dead.1[1].fill(0.25);
        assert_eq!(reason(inertial(&dead), None), "the frame's gyro is dead on y: it always reads the same");
        dead.1[1].fill(f32::NAN);
        assert_eq!(reason(inertial(&dead), None), "the frame's gyro has no values on y");
    }

    #[test]
    fn wild_values_do_no_harm() {
        let mut channels = steady([0.0, 0.0, 9.8], [0.0; 3], 6.0);
        channels.0[0][300] = f32::MAX;
        channels.1[1][500] = f32::MIN;
        channels.1[2][700] = f32::INFINITY;
        let speed = vec![f32::MAX; 1200];
        let found = Attitude::find(&inertial(&channels), Some(&speed)).unwrap();
        assert_eq!((found.bridged, found.speed_used), (3, false));
        let seen: Vec<f32> = found.roll_rad.into_iter().filter(|roll| !roll.is_nan()).collect();
        assert_eq!(seen.len(), 1197);
        near(&seen, 0.0, 0.1, "roll");
    }
}
