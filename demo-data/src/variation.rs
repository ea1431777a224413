//! Other bikes, riders and tracks than the demo day's: none like another, and none for two purposes.
//!
//! A threshold that is set on some cases and then judged on the same ones proves nothing. So bikes, riders, tracks and
//! seeds of [`Split::Tuning`], [`Split::Evaluation`] and [`Split::Unseen`] are disjoint by construction: a seed is
//! a one-to-one mixture of split, purpose and number.
//!
//! ```
//! use evenkeel_demo_data::variation::{Case, Split};
//!
//! let case = Case { split: Split::Tuning, number: 3 };
//! let mut run = case.run(0); // the same bike, rider and track in another run: case.run(1)
//! run.until_s = 1.0;
//! assert!(run.ride().front_travel_m[0] > 0.02);
//! ```

use crate::bike::{Bike, End, Setup};
use crate::random::Random;
use crate::ride::Run;
use crate::rider::{Limb, Rider};
use crate::suspension::{AirSpring, DamperLaw, Spring};
use crate::track::{Corner, Feature, RoughnessClass, Section, Track};
use crate::truth::{RECORD_HZ, Truth};

/// Largest deviation from the demo's bike and rider.
const SPREAD: f64 = 0.10;
/// The same for lengths of a frame, which differ less.
const LENGTH_SPREAD: f64 = 0.02;
/// The same for the pace, since a jump is built for one speed.
const PACE_SPREAD: f64 = 0.03;
/// Tracks of a split; case `number` rides on track `number % TRACKS`.
pub const TRACKS: u16 = 16;

/// What a case may be used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Split {
    /// For setting thresholds.
    Tuning,
    /// For saying how good they are.
    Evaluation,
    /// For saying how good they are on a bike built differently: coil fork, air shock, a damper law of another
    /// shape, longer wheelbase, slacker fork, lighter rider with stiffer limbs.
    Unseen,
}

/// What a seed is for.
#[derive(Clone, Copy)]
enum Purpose {
    Hill = 1,
    Track,
    Owner,
    Ride,
}

/// One owner with a bike, and the track they ride on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Case {
    /// What it may be used for.
    pub split: Split,
    /// Which.
    pub number: u16,
}

impl Case {
    /// A run of this case; another `repeat` is another run of the same owner on the same hill.
    pub fn run(self, repeat: u16) -> Run {
        let mut random = Random::new(self.seed(Purpose::Owner, self.number, 0), 60);
        let (bike, mut rider) = self.owner(&mut random);
        let seed = self.seed(Purpose::Ride, self.number, repeat);
        // Nobody is equally fast twice.
        rider.pace *= 1.0 + 0.01 * Random::new(seed, 61).normal().clamp(-2.0, 2.0);
        let mut run = Run::new(bike, rider, self.hill_seed(), seed);
        run.track = self.track();
        run
    }

    /// Rides a run after a change to it. Who falls goes up and starts again, on another line; `None` for who falls
    /// every time.
    pub fn ride(self, repeat: u16, change: impl Fn(&mut Run)) -> Option<(Run, Truth)> {
        const STARTS: u16 = 4;
        const APART: u16 = 1000;
        (0..STARTS).find_map(|start| {
            let mut run = self.run(repeat.wrapping_add(APART.wrapping_mul(start)));
            change(&mut run);
            let truth = run.ride();
            stays_up(&run, &truth).then_some((run, truth))
        })
    }

    /// Which of the split's tracks.
    pub fn track_number(self) -> u16 {
        self.number % TRACKS
    }

    /// Seed of the hill's ground.
    pub fn hill_seed(self) -> u64 {
        self.seed(Purpose::Hill, self.track_number(), 0)
    }

    /// The track.
    pub fn track(self) -> Track {
        track(&mut Random::new(self.seed(Purpose::Track, self.track_number(), 0), 62))
    }

    fn seed(self, purpose: Purpose, number: u16, repeat: u16) -> u64 {
        mixed(
            (self.split as u64 + 1) << 48
                | (purpose as u64) << 32
                | u64::from(number) << 16
                | u64::from(repeat),
        )
    }

    fn owner(self, random: &mut Random) -> (Bike, Rider) {
        let (bike, usual) = match self.split {
            Split::Tuning | Split::Evaluation => (Bike::new(&Setup::default()), Rider::default()),
            Split::Unseen => unseen(),
        };
        let rider = varied_rider(&usual, random);
        let varied = varied_bike(&bike, &usual, &rider, random);
        (varied, rider)
    }
}

/// Whether a rider came down on the wheels: every number is one, the end was reached where it was meant to be, and the
/// rear wheel never slid for so long as it does under a bike that lies or goes sideways.
pub fn stays_up(run: &Run, truth: &Truth) -> bool {
    const SLIP: f32 = 0.5;
    const WINDOW: usize = (1.5 * RECORD_HZ) as usize;
    const SHARE: f64 = 0.6;
    let whole = run.until_s.is_finite() || truth.time_at_distance_s(run.track.finish_m).is_some();
    let finite = truth.rear_travel_m.iter().chain(&truth.front_travel_m).all(|travel| travel.is_finite());
    let rolls = truth.rear_slip.chunks(WINDOW).all(|window| {
        let sliding = window.iter().filter(|slip| slip.abs() > SLIP).count();
        (sliding as f64) < SHARE * WINDOW as f64
    });
    whole && finite && rolls
}

/// One-to-one on 64 bits (the finaliser of SplitMix64: Steele, Lea and Flood 2014; constants from memory).
fn mixed(value: u64) -> u64 {
    let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

fn factor(random: &mut Random, spread: f64) -> f64 {
    random.between(1.0 - spread, 1.0 + spread)
}

fn varied_rider(rider: &Rider, random: &mut Random) -> Rider {
    let mut limb = |limb: &Limb| {
        let mass = factor(random, SPREAD);
        // Stronger legs carry heavier people; what is left differs.
        Limb {
            mass_kg: mass * limb.mass_kg,
            ahead_m: factor(random, LENGTH_SPREAD) * limb.ahead_m,
            stiffness_n_per_m: mass * factor(random, SPREAD) * limb.stiffness_n_per_m,
            hardening_n_per_m3: mass * limb.hardening_n_per_m3,
            damping_n_s_per_m: mass * factor(random, SPREAD) * limb.damping_n_s_per_m,
        }
    };
    let (legs, arms) = (limb(&rider.legs), limb(&rider.arms));
    Rider {
        on_frame_kg: factor(random, SPREAD) * rider.on_frame_kg,
        legs,
        arms,
        pace: factor(random, PACE_SPREAD) * rider.pace,
        cornering_mps2: random.between(1.0 - SPREAD, 1.0) * rider.cornering_mps2,
        braking_mps2: factor(random, SPREAD) * rider.braking_mps2,
        front_brake_share: random.between(1.0, 1.0 + SPREAD) * rider.front_brake_share,
        drag_area_m2: factor(random, SPREAD) * rider.drag_area_m2,
        pedal_power_w: factor(random, SPREAD) * rider.pedal_power_w,
        ..*rider
    }
}

/// Springs and dampers fit what each end carries of this rider, as any owner sees to; within the spread they do not.
fn varied_bike(model: &Bike, usual: &Rider, rider: &Rider, random: &mut Random) -> Bike {
    let before_kg = usual.carried_kg(model);
    let mut bike = *model;
    let geometry = &mut bike.geometry;
    geometry.head_angle_rad += random.between(-1.0, 1.0).to_radians();
    for length_m in
        [&mut geometry.wheelbase_m, &mut geometry.mass_centre_ahead_m, &mut geometry.mass_centre_height_m]
    {
        *length_m *= factor(random, LENGTH_SPREAD);
    }
    for value in [
        &mut bike.frame_mass_kg,
        &mut bike.frame_inertia_kg_m2,
        &mut bike.front_unsprung_kg,
        &mut bike.rear_unsprung_kg,
        &mut bike.front_tyre.stiffness_n_per_m,
        &mut bike.rear_tyre.stiffness_n_per_m,
        &mut bike.front_tyre.damping_n_s_per_m,
        &mut bike.rear_tyre.damping_n_s_per_m,
        &mut bike.front_brake_n_per_bar,
        &mut bike.rear_brake_n_per_bar,
        &mut bike.rolling_resistance,
    ] {
        *value *= factor(random, SPREAD);
    }
    // The demo's rider has no grip to spare: with less, some fall.
    bike.grip.peak_friction *= random.between(1.0, 1.0 + SPREAD);
    let carried_kg = rider.carried_kg(&bike);
    for end in End::BOTH {
        let load = carried_kg[end as usize] / before_kg[end as usize];
        let unit = bike.unit_mut(end);
        unit.spring = unit.spring.scaled(load * factor(random, SPREAD));
        unit.damper = unit
            .damper
            .with_compression(load * factor(random, SPREAD))
            .with_rebound(load * factor(random, SPREAD));
        unit.friction_n *= factor(random, SPREAD);
        unit.stops.bump_force_n *= load;
    }
    bike
}

/// A bike and a rider that no threshold has seen.
fn unseen() -> (Bike, Rider) {
    let mut bike = Bike::new(&Setup::default());
    let mut rider = Rider::default();
    rider.on_frame_kg = 10.5;
    rider.legs = Limb {
        mass_kg: 42.0,
        ahead_m: 0.46,
        stiffness_n_per_m: 4600.0,
        damping_n_s_per_m: 560.0,
        ..rider.legs
    };
    rider.arms = Limb {
        mass_kg: 12.5,
        ahead_m: 1.00,
        stiffness_n_per_m: 1900.0,
        damping_n_s_per_m: 190.0,
        ..rider.arms
    };
    rider.front_brake_share = 0.60;
    bike.geometry.wheelbase_m = 1.310;
    bike.geometry.head_angle_rad = 62.0_f64.to_radians();
    bike.geometry.mass_centre_ahead_m = 0.63;
    bike.geometry.rear_path_back = 0.20;
    bike.geometry.rear_anti_rise = 0.70;
    bike.fork.spring = Spring::Coil { rate_n_per_m: 7.1e3, preload_n: 45.0 };
    bike.fork.friction_n = 20.0;
    bike.shock.spring = Spring::Air(AirSpring {
        pressure_bar: 11.2,
        area_m2: 1.0e-3,
        positive_length_m: 0.115,
        negative_length_m: 0.012,
        polytropic_exponent: 1.3,
    });
    bike.shock.friction_n = 60.0;
    // At the knee the power meets the slow slope; the knees are where the demo's bent law has about the same force.
    let law = DamperLaw::Power { exponent: 0.65 };
    let fork = &mut bike.fork.damper;
    (fork.law, fork.knee_mps) = (law, 0.3);
    fork.compression_slow_n_s_per_m = 340.0;
    fork.rebound_slow_n_s_per_m = 430.0;
    let shock = &mut bike.shock.damper;
    (shock.law, shock.knee_mps) = (law, 0.11);
    shock.compression_slow_n_s_per_m = 1400.0;
    shock.rebound_slow_n_s_per_m = 2700.0;
    (bike, rider)
}

/// A track made of the demo track's kinds of section: first the start straight, last the finish straight, between them
/// the others in any order, the chute always into its tight corner.
fn track(random: &mut Random) -> Track {
    let mut middle = vec![
        vec!["Rooty traverse"],
        vec!["Rock garden"],
        vec!["Three berms"],
        vec!["Two jumps"],
        vec!["Braking-bump chute", "Tight left"],
    ];
    // One kind comes twice.
    let again = (random.unit() * 3.0) as usize;
    middle.push(middle[again].clone());
    shuffle(&mut middle, random);
    let mut layout = Layout::default();
    layout.add("Start straight", random);
    for name in middle.into_iter().flatten() {
        layout.add(name, random);
    }
    layout.add("Finish straight", random);
    Track::new(layout.sections, layout.corners, layout.jumps, layout.drops)
}

/// Fisher and Yates.
fn shuffle<T>(items: &mut [T], random: &mut Random) {
    for last in (1..items.len()).rev() {
        items.swap(last, (random.unit() * (last + 1) as f64) as usize);
    }
}

#[derive(Default)]
struct Layout {
    sections: Vec<Section>,
    corners: Vec<Corner>,
    jumps: Vec<Feature>,
    drops: Vec<Feature>,
}

/// A kind of section: length, grade, class, speed; number of corners with bounds of radius and angle; drops.
struct Sort {
    length_m: f64,
    grade: f64,
    class: RoughnessClass,
    speed_mps: f64,
    corners: usize,
    radius_m: [f64; 2],
    angle_deg: [f64; 2],
    drop_m: Option<[f64; 2]>,
}

fn sort(name: &str) -> Sort {
    use RoughnessClass::{C, D, E};
    let sort = |length_m, grade, class, speed_mps, corners, radius_m, angle_deg| Sort {
        length_m,
        grade,
        class,
        speed_mps,
        corners,
        radius_m,
        angle_deg,
        drop_m: None,
    };
    match name {
        "Start straight" => sort(170.0, 0.12, C, 13.0, 1, [55.0, 80.0], [12.0, 25.0]),
        "Rooty traverse" => {
            Sort { drop_m: Some([0.25, 0.35]), ..sort(290.0, 0.13, D, 11.2, 4, [26.0, 38.0], [35.0, 55.0]) }
        }
        "Rock garden" => {
            Sort { drop_m: Some([0.30, 0.45]), ..sort(230.0, 0.17, E, 8.4, 2, [21.0, 28.0], [35.0, 48.0]) }
        }
        "Three berms" => sort(310.0, 0.13, D, 11.5, 3, [10.0, 12.0], [95.0, 135.0]),
        "Two jumps" => sort(250.0, 0.11, C, 11.6, 0, [50.0, 60.0], [10.0, 20.0]),
        "Braking-bump chute" => sort(240.0, 0.20, D, 12.8, 2, [48.0, 65.0], [18.0, 35.0]),
        "Tight left" => sort(60.0, 0.10, D, 9.5, 1, [7.3, 8.6], [100.0, 135.0]),
        _ => Sort { drop_m: Some([0.30, 0.42]), ..sort(250.0, 0.12, D, 13.5, 1, [40.0, 55.0], [25.0, 45.0]) },
    }
}

impl Layout {
    fn add(&mut self, name: &'static str, random: &mut Random) {
        let sort = sort(name);
        let start_m = self.sections.last().map_or(0.0, |section| section.end_m);
        // Jumps need their run-up.
        let longer = if name == "Two jumps" { 0.0 } else { 0.2 };
        let length_m = sort.length_m * random.between(1.0 - 0.5 * longer, 1.0 + longer);
        self.sections.push(Section {
            name,
            start_m,
            end_m: start_m + length_m,
            grade: factor(random, SPREAD) * sort.grade,
            class: rougher_or_smoother(sort.class, random),
            speed_mps: factor(random, 0.5 * PACE_SPREAD) * sort.speed_mps,
        });
        let mut side = if random.unit() < 0.5 || name == "Tight left" { 1.0 } else { -1.0 };
        let slot_m = length_m / sort.corners.max(1) as f64;
        // Speed is lost at the edge of the rocks, not in a corner.
        let [earliest, latest] = if name == "Rock garden" { [0.34, 0.45] } else { [0.12, 0.28] };
        for slot in 0..sort.corners {
            let [radius_m, angle_deg] =
                [sort.radius_m, sort.angle_deg].map(|[low, high]| random.between(low, high));
            let at = start_m + slot_m * (slot as f64 + random.between(earliest, latest));
            self.corners.push(Corner { start_m: at, radius_m, angle_deg: side * angle_deg });
            side = -side;
        }
        if let Some([low, high]) = sort.drop_m {
            // After one of the corners.
            let slot = (random.unit() * sort.corners as f64).floor();
            self.drops.push(Feature::Drop {
                at_m: start_m + slot_m * (slot + random.between(0.84, 0.94)),
                height_m: random.between(low, high),
            });
        }
        if name == "Two jumps" {
            let mut jump = |at: f64, height_m: f64, ramp_m, gap_m, landing_m| {
                let lip_m = start_m + at * length_m + random.between(-4.0, 4.0);
                let height_m = factor(random, SPREAD) * height_m;
                self.jumps.push(Feature::Jump { lip_m, height_m, ramp_m, gap_m, landing_m });
            };
            jump(0.30, 0.85, 5.0, 7.0, 6.0);
            jump(0.70, 1.25, 5.8, 8.5, 6.5);
        }
    }
}

/// Now and then one class off, but never worse than the demo track's worst.
fn rougher_or_smoother(class: RoughnessClass, random: &mut Random) -> RoughnessClass {
    use RoughnessClass::{C, D, E, F};
    let chance = random.unit();
    match class {
        C if chance < 0.25 => D,
        D if chance < 0.2 => C,
        E | F if chance < 0.25 => D,
        same => same,
    }
}
