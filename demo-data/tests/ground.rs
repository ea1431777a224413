//! The generated ground against ISO 8608.

use evenkeel_demo_data::ground::{GRID_M, envelope, iso_8608_psd_m3, roughness};
use evenkeel_demo_data::random::Random;
use evenkeel_demo_data::track::RoughnessClass;
use rustfft::{FftPlanner, num_complex::Complex};

const SEGMENT: usize = 4096;

/// Welch's method (1967) with Hann windows and half overlap: frequency in cycles/m, one-sided density in m^3.
fn density(height_m: &[f64]) -> Vec<(f64, f64)> {
    let window: Vec<f64> =
        (0..SEGMENT).map(|i| 0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / SEGMENT as f64).cos()).collect();
    let power: f64 = window.iter().map(|w| w * w).sum();
    let fft = FftPlanner::new().plan_fft_forward(SEGMENT);
    let mut sum = vec![0.0; SEGMENT / 2];
    let mut segments = 0.0;
    for start in (0..height_m.len() - SEGMENT).step_by(SEGMENT / 2) {
        let part = &height_m[start..start + SEGMENT];
        let mean = part.iter().sum::<f64>() / SEGMENT as f64;
        let mut bins: Vec<_> =
            part.iter().zip(&window).map(|(h, w)| Complex::new((h - mean) * w, 0.0)).collect();
        fft.process(&mut bins);
        for (total, bin) in sum.iter_mut().zip(bins) {
            *total += bin.norm_sqr();
        }
        segments += 1.0;
    }
    (1..SEGMENT / 2)
        .map(|i| (i as f64 / (SEGMENT as f64 * GRID_M), 2.0 * sum[i] * GRID_M / (power * segments)))
        .collect()
}

/// Mean ratio of the density to ISO's line in a band.
fn against_the_line(density: &[(f64, f64)], class: RoughnessClass, low: f64, high: f64) -> f64 {
    let ratios: Vec<f64> = density
        .iter()
        .filter(|(n, _)| (low..high).contains(n))
        .map(|(n, value)| value / iso_8608_psd_m3(class, *n))
        .collect();
    assert!(!ratios.is_empty());
    ratios.iter().sum::<f64>() / ratios.len() as f64
}

/// ISO 8608:2016: `G_d(n) = G_d(n0) (n/n0)^-2`, classes C to F (geometric means from memory), octave by octave.
#[test]
fn roughness_follows_the_line_of_its_class() {
    for class in [RoughnessClass::C, RoughnessClass::D, RoughnessClass::E, RoughnessClass::F] {
        let height_m = roughness(&mut Random::new(3, 1), 1_000_000, |_| class.displacement_psd_m3());
        let density = density(&height_m);
        for low in [0.125, 0.25, 0.5, 1.0, 2.0, 4.0] {
            let ratio = against_the_line(&density, class, low, 2.0 * low);
            assert!((0.9..1.1).contains(&ratio), "{class:?}: {ratio} times the line from {low} cycle/m");
        }
    }
}

/// Isotropic ground (Dodds and Robson 1973): as steep across as along, and neither tells of the other. On the start straight
/// (class C, few bumps), after the tyre.
#[test]
fn the_ground_is_as_steep_across_as_along() {
    let track = evenkeel_demo_data::track::Track::harrowdean_bank();
    let (mut along, mut front, mut rear, mut both, mut mixed) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for hill in 0..40 {
        let ground = evenkeel_demo_data::ground::Ground::of_track(&track, hill, 1);
        for place_m in (1090..1140).map(f64::from) {
            let (_, slope) = ground.at(place_m);
            let [f, r] = ground.cross_slope_at(place_m);
            along += slope * slope;
            front += f * f;
            rear += r * r;
            both += f * r;
            mixed += slope * f;
        }
    }
    assert!((0.7..1.4).contains(&(front / along)), "{}", front / along);
    assert!((0.8..1.25).contains(&(rear / front)), "{}", rear / front);
    let wheels = both / (front * rear).sqrt();
    assert!((wheels - evenkeel_demo_data::ground::LINE_COHERENCE).abs() < 0.08, "{wheels}");
    assert!((mixed / (along * front).sqrt()).abs() < 0.1);
}

/// A tyre keeps what is longer than itself and loses what is shorter.
#[test]
fn the_tyre_evens_out_what_is_shorter_than_itself() {
    let class = RoughnessClass::D;
    let height_m = roughness(&mut Random::new(3, 1), 500_000, |_| class.displacement_psd_m3());
    let density = density(&envelope(&height_m));
    assert!(against_the_line(&density, class, 0.15, 0.5) > 0.9);
    assert!(against_the_line(&density, class, 5.0, 8.0) < 0.1);
}

/// The densities four apart that the classes are made of.
#[test]
fn classes_are_four_apart() {
    use RoughnessClass::{C, D, E, F};
    for (smoother, rougher) in [(C, D), (D, E), (E, F)] {
        assert_eq!(rougher.displacement_psd_m3(), 4.0 * smoother.displacement_psd_m3());
    }
    assert_eq!(D.displacement_psd_m3(), 1024e-6);
}
