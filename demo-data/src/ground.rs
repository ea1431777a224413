//! Height of the ground over the smooth base of the track, as a tyre rolls over it.
//!
//! Roughness follows ISO 8608: displacement density `G_d(n) = G_d(n0) (n / n0)^-2`. A density that falls with the
//! square is integrated white noise, so the slope is drawn as white noise of density `(2 pi n0)^2 G_d(n0)` and summed,
//! with a leak that keeps wavelengths beyond the leak length from piling up. Classes change along the track
//! simply by scaling the noise.
//!
//! Across the track ISO 8608 says nothing. The ground is taken as isotropic (Dodds and Robson 1973): its slope across,
//! over a tyre's width, is as rough as its slope along and tells nothing of it. The rear wheel runs a hand's breadth
//! beside the front one; over that, what remains of an isotropic ground's coherence for the wavelengths that matter
//! (`z K1(z)` with `z = 2 pi n` times the offset) is about [`LINE_COHERENCE`].

use crate::random::Random;
use crate::track::{Feature, RoughnessClass, Track, box_average};

/// Spatial frequency at which ISO 8608 states its classes.
pub const REFERENCE_PER_M: f64 = 0.1;
/// Spatial frequency below which the generated roughness levels off.
pub const LEAK_PER_M: f64 = 0.03;
/// Spacing of the generated heights.
pub const GRID_M: f64 = 0.02;
/// Length over which a tyre evens out the ground.
pub const ENVELOPE_M: f64 = 0.3;

/// Correlation of the cross slopes that the two wheels meet.
pub const LINE_COHERENCE: f64 = 0.8;

const BEFORE_M: f64 = 12.0;

/// Heights on a regular grid.
#[derive(Clone, Debug)]
pub struct Ground {
    start_m: f64,
    height_m: Vec<f64>,
    /// Under the front and the rear wheel.
    cross_slope: [Vec<f32>; 2],
}

/// ISO 8608 roughness, before the tyre, of `count` points whose class may change along the way.
pub fn roughness(random: &mut Random, count: usize, psd_m3: impl Fn(usize) -> f64) -> Vec<f64> {
    let reference = std::f64::consts::TAU * REFERENCE_PER_M;
    let keep = 1.0 - std::f64::consts::TAU * LEAK_PER_M * GRID_M;
    let mut height = 0.0;
    (0..count)
        .map(|index| {
            // One-sided density S of white noise sampled every GRID_M has the variance S / (2 GRID_M).
            let slope_psd = reference * reference * psd_m3(index);
            let slope = (slope_psd / (2.0 * GRID_M)).sqrt() * random.normal();
            height = keep * height + slope * GRID_M;
            height
        })
        .collect()
}

impl Ground {
    /// Flat ground.
    pub fn flat() -> Self {
        Self { start_m: 0.0, height_m: vec![0.0; 4], cross_slope: Default::default() }
    }

    /// The hill as one run's line meets it: the hill's seed makes what everybody rides over, the line's seed a
    /// little of its own.
    pub fn of_track(track: &Track, hill_seed: u64, line_seed: u64) -> Self {
        let count = ((track.stop_m + 60.0 + BEFORE_M) / GRID_M) as usize;
        let place = |index: usize| index as f64 * GRID_M - BEFORE_M;
        // Start platform and run-out are raked.
        let raked = |distance_m: f64| distance_m < 4.0 || distance_m > track.finish_m + 25.0;
        let psd_m3 = |index: usize| {
            let distance_m = place(index);
            if raked(distance_m) { 1e-6 } else { track.section_at(distance_m).class.displacement_psd_m3() }
        };
        let mut height_m = roughness(&mut Random::new(hill_seed, 1), count, psd_m3);
        let own = roughness(&mut Random::new(line_seed, 2), count, |index| 0.04 * psd_m3(index));
        for (height, own) in height_m.iter_mut().zip(own) {
            *height += own;
        }
        let mut add = |feature: &Feature| add_feature(&mut height_m, feature);
        let mut line = Random::new(line_seed, 3);
        let mut bumps = Vec::new();
        for feature in scattered(track, &mut Random::new(hill_seed, 4)) {
            let feature = on_another_line(feature, &mut line);
            add(&feature);
            bumps.push(feature);
        }
        track.drops.iter().chain(&track.rollers).chain(&track.jumps).for_each(&mut add);
        let mut hill = Random::new(hill_seed, 5);
        let both = cross_slope(&mut hill, &bumps, count, psd_m3);
        let each = [Random::new(hill_seed, 6), Random::new(line_seed, 7)]
            .map(|mut random| cross_slope(&mut random, &bumps, count, psd_m3));
        let cross_slope = each.map(|own| {
            let mixed: Vec<f64> = both
                .iter()
                .zip(own)
                .map(|(both, own)| LINE_COHERENCE.sqrt() * both + (1.0 - LINE_COHERENCE).sqrt() * own)
                .collect();
            envelope(&mixed).into_iter().map(|slope| slope as f32).collect()
        });
        Self { start_m: -BEFORE_M, height_m: envelope(&height_m), cross_slope }
    }

    /// Ground from given heights, `GRID_M` apart, already smoothed; for checks and benches.
    pub fn from_heights(start_m: f64, height_m: Vec<f64>) -> Self {
        if height_m.len() < 4 {
            Self::flat()
        } else {
            Self { start_m, height_m, cross_slope: Default::default() }
        }
    }

    /// The same ground with given cross slopes under the front and the rear wheel, on the grid of its heights.
    #[must_use]
    pub fn with_cross_slopes(self, cross_slope: [Vec<f32>; 2]) -> Self {
        Self { cross_slope, ..self }
    }

    /// Slope across the track at a distance, + rising to the left, on the front and on the rear wheel's line. Beyond the
    /// grid the ground is level.
    pub fn cross_slope_at(&self, distance_m: f64) -> [f64; 2] {
        let place = (distance_m - self.start_m) / GRID_M;
        [&self.cross_slope[0], &self.cross_slope[1]].map(|slopes| {
            let index = place.max(0.0) as usize;
            match slopes.get(index..index.saturating_add(2)) {
                Some(&[a, b]) => f64::from(a) + f64::from(b - a) * (place - index as f64).clamp(0.0, 1.0),
                _ => 0.0,
            }
        })
    }

    /// Height and slope at a distance (Catmull-Rom, so that the slope has no jumps).
    pub fn at(&self, distance_m: f64) -> (f64, f64) {
        // A bike that is nowhere is at the start.
        let place = (distance_m - self.start_m) / GRID_M;
        let place = if place.is_nan() { 1.0 } else { place.clamp(1.0, (self.height_m.len() - 3) as f64) };
        let index = place as usize;
        let t = place - index as f64;
        let h = &self.height_m[index - 1..index + 3];
        let a = 0.5 * (h[2] - h[0]);
        let b = h[0] - 2.5 * h[1] + 2.0 * h[2] - 0.5 * h[3];
        let c = 0.5 * (h[3] - h[0]) + 1.5 * (h[1] - h[2]);
        (((c * t + b) * t + a) * t + h[1], ((3.0 * c * t + 2.0 * b) * t + a) / GRID_M)
    }
}

/// What a tyre's length makes of the ground: a triangular average over `ENVELOPE_M`.
pub fn envelope(height_m: &[f64]) -> Vec<f64> {
    let reach = (ENVELOPE_M / GRID_M / 4.0) as usize;
    box_average(&box_average(height_m, reach), reach)
}

/// Slope across, before the tyre: of the rough ground, and of bumps hit beside their middle.
fn cross_slope(
    random: &mut Random,
    bumps: &[Feature],
    count: usize,
    psd_m3: impl Fn(usize) -> f64,
) -> Vec<f64> {
    // Most rocks and roots lie across the track.
    const LYING_ACROSS: f64 = 1.0;
    let reference = std::f64::consts::TAU * REFERENCE_PER_M;
    let mut slope: Vec<f64> = (0..count)
        .map(|index| reference * (psd_m3(index) / (2.0 * GRID_M)).sqrt() * random.normal())
        .collect();
    for bump in bumps {
        if let Feature::Bump { at_m, height_m, length_m } = *bump {
            let steepest = LYING_ACROSS * std::f64::consts::PI * height_m / length_m;
            let tilt = steepest * random.normal().clamp(-1.5, 1.5);
            add_feature(&mut slope, &Feature::Bump { at_m, height_m: tilt, length_m });
        }
    }
    slope
}

/// Roots, rocks and braking bumps, laid out by the hill's seed.
fn scattered(track: &Track, random: &mut Random) -> Vec<Feature> {
    let mut features = Vec::new();
    for section in &track.sections {
        let mut at_m = section.start_m + 8.0;
        while at_m < section.end_m - 4.0 {
            let (gap_m, height_m, length_m) = match section.name {
                "Rooty traverse" => {
                    (random.between(0.9, 5.0), random.between(0.02, 0.06), random.between(0.14, 0.32))
                }
                "Rock garden" => {
                    let large = random.unit() < 0.16;
                    let height_m =
                        if large { random.between(0.09, 0.16) } else { random.between(0.025, 0.07) };
                    (random.between(0.9, 3.4), height_m, random.between(0.40, 0.95))
                }
                // Braking digs bumps where everybody brakes: towards the corner, and more so at its mouth.
                "Braking-bump chute" if at_m > section.end_m - 90.0 => {
                    let near = (at_m - section.end_m + 90.0) / 90.0;
                    (random.between(1.25, 1.65), (0.035 + 0.04 * near) * random.between(0.8, 1.2), 1.1)
                }
                "Three berms" | "Tight left" | "Finish straight" => {
                    (random.between(4.0, 14.0), random.between(0.02, 0.07), random.between(0.35, 0.8))
                }
                _ => (random.between(8.0, 25.0), random.between(0.02, 0.05), random.between(0.3, 0.8)),
            };
            at_m += gap_m;
            if !track.is_jump(at_m) {
                features.push(Feature::Bump { at_m, height_m, length_m });
            }
        }
    }
    features
}

/// Nobody meets a rock in the same way twice.
fn on_another_line(feature: Feature, random: &mut Random) -> Feature {
    match feature {
        Feature::Bump { at_m, height_m, length_m } => Feature::Bump {
            at_m: at_m + 0.05 * random.normal(),
            height_m: height_m * (1.0 + 0.12 * random.normal()).clamp(0.5, 1.5),
            length_m,
        },
        other => other,
    }
}

fn add_feature(height_m: &mut [f64], feature: &Feature) {
    let mut raise = |from_m: f64, to_m: f64, shape: &dyn Fn(f64) -> f64| {
        let first = ((from_m + BEFORE_M) / GRID_M).max(0.0) as usize;
        let last = (((to_m + BEFORE_M) / GRID_M).max(0.0) as usize).min(height_m.len().saturating_sub(1));
        for (index, height) in height_m.iter_mut().enumerate().take(last + 1).skip(first) {
            *height += shape(index as f64 * GRID_M - BEFORE_M);
        }
    };
    match *feature {
        Feature::Bump { at_m, height_m, length_m } => {
            let start_m = at_m - 0.5 * length_m;
            raise(start_m, start_m + length_m, &|x| {
                height_m * libm::sin(std::f64::consts::PI * ((x - start_m) / length_m).clamp(0.0, 1.0))
            });
        }
        Feature::Roller { at_m, height_m, length_m } => {
            let start_m = at_m - 0.5 * length_m;
            raise(start_m, start_m + length_m, &|x| {
                height_m * 0.5 * (1.0 - libm::cos(std::f64::consts::TAU * (x - start_m) / length_m))
            });
        }
        Feature::Drop { at_m, height_m } => {
            // The ground before the edge is built up over 9 m; the step itself takes 0.25 m.
            const BUILD_UP_M: f64 = 9.0;
            raise(at_m - BUILD_UP_M, at_m, &|x| {
                let share = (x - at_m + BUILD_UP_M) / BUILD_UP_M;
                height_m * share * share * (3.0 - 2.0 * share)
            });
            raise(at_m + GRID_M, at_m + 0.25, &|x| height_m * (1.0 - (x - at_m) / 0.25));
        }
        Feature::Jump { lip_m, height_m, ramp_m, gap_m, landing_m } => {
            raise(lip_m - ramp_m, lip_m, &|x| {
                let share = (x - lip_m + ramp_m) / ramp_m;
                height_m * share * share
            });
            raise(lip_m + GRID_M, lip_m + gap_m, &|_| 0.92 * height_m);
            let edge_m = lip_m + gap_m;
            raise(edge_m + GRID_M, edge_m + landing_m, &|x| {
                let share = ((x - edge_m) / landing_m).clamp(0.0, 1.0);
                0.92 * height_m * (1.0 + libm::cos(std::f64::consts::PI * share)) / 2.0
            });
        }
    }
}

/// The line of ISO 8608 for a class at a spatial frequency in cycles per metre.
pub fn iso_8608_psd_m3(class: RoughnessClass, frequency_per_m: f64) -> f64 {
    let ratio = REFERENCE_PER_M / frequency_per_m;
    class.displacement_psd_m3() * ratio * ratio
}
