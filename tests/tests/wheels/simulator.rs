//! A bike of one mass on two wheels: each has inertia, a brake, and what the tyre holds; loads shake.
//!
//! Nothing of it comes from the demo's model: it stays as a second opinion. Wheel pulses, brake pressures,
//! travel and a frame unit are logged as text, as any logger would.

use std::f64::consts::TAU;
use std::fmt::Write;

use evenkeel_core::{Axis, Calibration, Channel, End, Place, Profile, Role, Unit};

/// Steps of the integration, Hz.
const STEP_HZ: f64 = 8000.0;
/// Rate of the truth, Hz.
pub const TRUTH_HZ: f64 = 1000.0;
const GRAVITY: f64 = 9.806_65;
const MASS_KG: f64 = 95.0;
/// Moment of inertia over radius squared.
const WHEEL_KG: f64 = 1.7;
const WHEELBASE_M: f64 = 1.25;
const CENTRE_HEIGHT_M: f64 = 1.0;
pub const CIRCUMFERENCE_M: f64 = 2.3;
/// Braking force at the tread per pressure.
const NEWTON_PER_BAR: f64 = 40.0;

/// What is to be simulated.
#[derive(Clone, Copy)]
pub struct Plan {
    pub seed: u64,
    pub duration_s: f64,
    /// Pulses a turn, both wheels.
    pub pulses: f64,
    /// Rows a second.
    pub rate_hz: f64,
    /// The rider locks the rear wheel.
    pub locks: bool,
    pub front_sensor: bool,
    /// Turns sensors and lean left for right.
    pub mirrored: bool,
    /// Added to every time stamp.
    pub late_s: f64,
}

impl Plan {
    pub const LOCKING: Self = Self {
        seed: 1,
        duration_s: 90.0,
        pulses: 24.0,
        rate_hz: 500.0,
        locks: true,
        front_sensor: true,
        mirrored: false,
        late_s: 0.0,
    };
}

/// Pseudo-random numbers (splitmix64, Steele, Lea and Flood 2014).
struct Random(u64);

impl Random {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// About normal, standard deviation 1 (sum of twelve).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// A sum of sines that shakes within a band, standard deviation 1.
struct Shake(Vec<[f64; 2]>);

impl Shake {
    fn new(random: &mut Random, low_hz: f64, high_hz: f64) -> Self {
        Self((0..12).map(|_| [random.between(low_hz, high_hz), random.between(0.0, TAU)]).collect())
    }

    fn at(&self, t: f64) -> f64 {
        self.0.iter().map(|[hz, phase]| (TAU * hz * t + phase).sin()).sum::<f64>() / 6.0_f64.sqrt()
    }
}

/// One pull of a lever.
struct Pull {
    from_s: f64,
    to_s: f64,
    bar: f64,
}

fn pressure(pulls: &[Pull], t: f64) -> f64 {
    let shape = |pull: &Pull| {
        pull.bar
            * ((t - pull.from_s) / 0.04).clamp(0.0, 1.0).min((1.0 - (t - pull.to_s) / 0.06).clamp(0.0, 1.0))
    };
    pulls.iter().map(shape).fold(0.0, f64::max)
}

/// What was simulated.
pub struct Simulated {
    pub text: String,
    pub profile: Profile,
    /// At `TRUTH_HZ`.
    pub speed_mps: Vec<f64>,
    pub pitch_rad: Vec<f64>,
    pub rear_slip: Vec<f64>,
    pub front_slip: Vec<f64>,
    pub in_flight: Vec<bool>,
    pub distance_m: f64,
}

/// Friction over load: rises to its peak near a slip of 0.2, then falls a little (shape after Burckhardt).
fn friction(slip: f64) -> f64 {
    let size = slip.abs();
    slip.signum() * (0.85 * (1.0 - (-16.0 * size).exp()) - 0.15 * size)
}

/// A wheel's tread speed after one step.
fn spin(tread_mps: f64, speed_mps: f64, load_n: f64, brake_n: f64) -> (f64, f64) {
    let slip = (speed_mps - tread_mps) / speed_mps.max(1.5);
    let held_n = load_n * friction(slip.clamp(-1.0, 1.0));
    let next = tread_mps + (held_n - brake_n) / WHEEL_KG / STEP_HZ;
    // A brake stops a wheel and does not turn it back.
    (next.max(0.0), held_n)
}

impl Plan {
    pub fn simulate(&self) -> Simulated {
        let mut random = Random(self.seed.wrapping_mul(0x5851_f42d_4c95_7f2d));
        let (front_pulls, rear_pulls, flights) = self.levers(&mut random);
        let shakes: Vec<Shake> = [(1.0, 9.0), (1.0, 9.0), (3.0, 15.0), (3.0, 15.0), (8.0, 60.0), (8.0, 60.0)]
            .map(|(low, high)| Shake::new(&mut random, low, high))
            .into();
        let aim = Shake::new(&mut random, 0.02, 0.12);
        let mut out = Simulated {
            text: String::new(),
            profile: self.profile(),
            speed_mps: Vec::new(),
            pitch_rad: Vec::new(),
            rear_slip: Vec::new(),
            front_slip: Vec::new(),
            in_flight: Vec::new(),
            distance_m: 0.0,
        };
        out.text = "time [s]".to_owned();
        for channel in &out.profile.channels {
            let _ = write!(out.text, ",{}", channel.header);
        }
        out.text.push('\n');

        let (mut speed, mut front, mut rear) = (6.0, 6.0, 6.0);
        let (mut front_m, mut rear_m) = (0.0, 0.0);
        let (mut slope, mut dive, mut braking) = (0.15, 0.0, 0.0);
        let mut pitch_before = slope;
        let steps_per_row = (STEP_HZ / self.rate_hz).round() as usize;
        let (mut row_force, mut row_turn) = ([0.0; 2], 0.0);
        let mut counted = [0.0_f64; 2];
        for step in 0..(self.duration_s * STEP_HZ) as usize {
            let t = step as f64 / STEP_HZ;
            let flies = flights.iter().any(|[from, to]| (*from..*to).contains(&t));
            let bars = [pressure(&front_pulls, t), pressure(&rear_pulls, t)];
            let transfer = braking * MASS_KG * CENTRE_HEIGHT_M / WHEELBASE_M;
            let half_n = 0.5 * MASS_KG * GRAVITY;
            let load = |share: f64, shake: &Shake| {
                if flies { 0.0 } else { ((half_n + share * transfer) * (1.0 + 0.3 * shake.at(t))).max(0.0) }
            };
            let (held_front, held_rear);
            (front, held_front) = spin(front, speed, load(1.0, &shakes[0]), NEWTON_PER_BAR * bars[0]);
            (rear, held_rear) = spin(rear, speed, load(-1.0, &shakes[1]), NEWTON_PER_BAR * bars[1]);
            let drag = if flies { 0.0 } else { (30.0 + 0.3 * speed * speed) / MASS_KG };
            let gain = GRAVITY * f64::sin(slope) - (held_front + held_rear) / MASS_KG - drag;
            speed = (speed + gain / STEP_HZ).max(0.1);
            out.distance_m += speed / STEP_HZ;
            braking += ((held_front + held_rear) / MASS_KG - braking) * 10.0 / STEP_HZ;
            if !flies {
                // The ground is as steep as the wanted speed needs it, between flat and 25 deg.
                let wanted = 8.0 + 2.0 * aim.at(t);
                let asked = (0.15 + 0.08 * (wanted - speed)).clamp(0.0, 0.44);
                slope += (asked - slope) * 1.5 / STEP_HZ;
            }
            // The fork dives by a degree and a half at 5 m/s^2.
            dive += (0.0052 * braking - dive) * 8.0 / STEP_HZ;
            let pitch = slope + dive;
            let turn = (pitch - pitch_before) * STEP_HZ;
            pitch_before = pitch;
            row_force[0] += (gain - GRAVITY * pitch.sin()) / steps_per_row as f64;
            row_force[1] += if flies { 0.0 } else { GRAVITY * pitch.cos() } / steps_per_row as f64;
            row_turn += turn / steps_per_row as f64;
            // The axles' paths and the ground's unevenness move the wheels a little against the bike.
            front_m += front / STEP_HZ;
            rear_m += rear / STEP_HZ;

            if step % (STEP_HZ / TRUTH_HZ) as usize == 0 {
                out.speed_mps.push(speed);
                out.pitch_rad.push(pitch);
                out.rear_slip.push(1.0 - rear / speed);
                out.front_slip.push(1.0 - front / speed);
                out.in_flight.push(flies);
            }
            if (step + 1) % steps_per_row == 0 {
                let ground = if flies { 0.0 } else { 1.0 };
                let rolled = |way_m: f64, shake: &Shake| way_m + ground * 0.006 * shake.at(t);
                for (count, way_m) in
                    counted.iter_mut().zip([rolled(front_m, &shakes[2]), rolled(rear_m, &shakes[3])])
                {
                    // A counter only goes up.
                    *count = count.max((way_m / CIRCUMFERENCE_M * self.pulses).floor());
                }
                let travel = |middle: f64, shake: &Shake| 1e3 * ground * (middle + 0.015 * shake.at(t));
                let left = if self.mirrored { -1.0 } else { 1.0 };
                let mut row = vec![
                    travel(0.05, &shakes[2]),
                    travel(0.06, &shakes[3]),
                    bars[0] + 0.02 * random.normal(),
                    bars[1] + 0.02 * random.normal(),
                    counted[1],
                    row_force[0] + ground * 2.0 * shakes[4].at(t) + 0.3 * random.normal(),
                    left * (0.5 * ground * shakes[5].at(t) + 0.3 * random.normal()),
                    row_force[1] + ground * 3.0 * shakes[5].at(t) + 0.3 * random.normal(),
                    left * 0.01 * random.normal(),
                    row_turn + 0.01 * random.normal(),
                    left * 0.01 * random.normal(),
                ];
                if self.front_sensor {
                    row.push(counted[0]);
                }
                let _ = write!(out.text, "{:.4}", t + self.late_s);
                for value in row {
                    let _ = write!(out.text, ",{value:.4}");
                }
                out.text.push('\n');
                (row_force, row_turn) = ([0.0; 2], 0.0);
            }
        }
        out
    }

    /// Pulls of the front and the rear lever, and flights.
    fn levers(&self, random: &mut Random) -> (Vec<Pull>, Vec<Pull>, Vec<[f64; 2]>) {
        let (mut front, mut rear, mut flights) = (Vec::new(), Vec::new(), Vec::new());
        let mut t = 4.0;
        let mut count = 0;
        while t < self.duration_s - 4.0 {
            let length = random.between(0.05, 0.7);
            let pull = |from_s: f64, length: f64, bar: f64| Pull { from_s, to_s: from_s + length, bar };
            match count % 5 {
                // Hard on the rear, alone or over a light front brake.
                0 | 2 if self.locks => rear.push(pull(t, length, random.between(22.0, 38.0))),
                1 if self.locks => {
                    front.push(pull(t - 0.3, length + 0.8, random.between(3.0, 5.6)));
                    rear.push(pull(t, length, random.between(22.0, 38.0)));
                }
                0..=2 => {
                    front.push(pull(t - 0.3, length + 0.8, random.between(3.0, 5.6)));
                    rear.push(pull(t, length, random.between(2.2, 4.1)));
                }
                // Both as riders should.
                3 => {
                    front.push(pull(t, 1.5, random.between(3.7, 6.3)));
                    rear.push(pull(t, 1.3, random.between(2.2, 3.7)));
                }
                // A jump; every other one with the rear wheel stopped in the air.
                _ => {
                    flights.push([t, t + 0.45]);
                    if count % 10 == 9 {
                        rear.push(pull(t + 0.1, 0.2, 18.0));
                    }
                }
            }
            t += 1.2 + random.between(0.8, 1.6);
            count += 1;
        }
        (front, rear, flights)
    }

    fn profile(&self) -> Profile {
        let mut channels = vec![
            ("fork travel [mm]", Role::Travel(End::Front), Unit::Millimetre),
            ("rear travel [mm]", Role::Travel(End::Rear), Unit::Millimetre),
            ("front brake [bar]", Role::Brake(End::Front), Unit::Bar),
            ("rear brake [bar]", Role::Brake(End::Rear), Unit::Bar),
            ("rear wheel [pulses]", Role::WheelPulses(End::Rear), Unit::Count),
        ];
        const AXES: [Axis; 3] = [Axis::X, Axis::Y, Axis::Z];
        let force = ["frame accel x [m/s2]", "frame accel y [m/s2]", "frame accel z [m/s2]"];
        let turn = ["frame gyro x [rad/s]", "frame gyro y [rad/s]", "frame gyro z [rad/s]"];
        for (header, axis) in force.into_iter().zip(AXES) {
            channels.push((header, Role::Accel(Place::Frame, axis), Unit::MetrePerSecondSquared));
        }
        for (header, axis) in turn.into_iter().zip(AXES) {
            channels.push((header, Role::Gyro(Place::Frame, axis), Unit::RadianPerSecond));
        }
        if self.front_sensor {
            channels.push(("front wheel [pulses]", Role::WheelPulses(End::Front), Unit::Count));
        }
        Profile {
            channels: channels
                .into_iter()
                .map(|(header, role, unit)| Channel {
                    header: header.to_owned(),
                    role,
                    unit,
                    calibration: Calibration::default(),
                })
                .collect(),
            frame_mount: Default::default(),
            bar_mount: Default::default(),
        }
    }
}
