//! The vibration weightings beside SciPy.

use evenkeel_core::signal::{Random, Sampling, Weighting};
use evenkeel_tests::python::reference;

/// Source: `scipy.signal.freqs_zpk` of the poles and zeros of ISO 8041-1, and the same filter run forward in
/// time (`sosfilt`, bilinear at 32 times the rate) on the same samples.
#[test]
fn weightings_are_the_analogue_filters() {
    let rate_hz = 1000.0;
    let n = 16_384_usize;
    // Tones from 0.3 to 200 Hz that swell and die away, so that neither way of filtering has an end.
    let mut random = Random::seeded(3);
    let tones: Vec<[f64; 2]> =
        (0..60).map(|k| [0.3 * 1.1166_f64.powi(k), std::f64::consts::TAU * random.share()]).collect();
    let samples: Vec<f64> = (0..n)
        .map(|k| {
            let t = k as f64 / rate_hz;
            let swell = (std::f64::consts::PI * ((k as f64 / n as f64 - 0.1) / 0.5).clamp(0.0, 1.0)).sin();
            let sum: f64 = tones.iter().map(|[f, phase]| (std::f64::consts::TAU * f * t + phase).sin()).sum();
            f64::from((swell.powi(4) * sum) as f32)
        })
        .collect();
    let frequency_hz: Vec<f64> = (0..80).map(|k| 0.1 * 1.1_f64.powi(k)).collect();
    let theirs = reference(
        "weighting",
        &[("samples", &samples), ("rate_hz", &[rate_hz]), ("frequency_hz", &frequency_hz)],
    );
    let as_logged: Vec<f32> = samples.iter().map(|&x| x as f32).collect();
    for (name, weighting) in
        [("hand_arm", Weighting::HAND_ARM), ("whole_body", Weighting::WHOLE_BODY_VERTICAL)]
    {
        let their_gain = theirs[&format!("{name}_re")].iter().zip(&theirs[&format!("{name}_im")]);
        for (f_hz, (re, im)) in frequency_hz.iter().zip(their_gain) {
            let gain = weighting.gain(*f_hz);
            let error = (gain.re - re).hypot(gain.im - im) / re.hypot(*im);
            assert!(error < 1e-9, "{name} at {f_hz} Hz: {error:e}");
        }
        let ours = weighting.apply(&as_logged, Sampling { rate_hz, native_rate_hz: rate_hz });
        let filtered = &theirs[&format!("{name}_filtered")];
        let most = filtered.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let rms = |x: &mut dyn Iterator<Item = f64>| (x.map(|x| x * x).sum::<f64>() / n as f64).sqrt();
        let theirs = rms(&mut filtered.iter().copied());
        let ratio = rms(&mut ours.iter().map(|&x| f64::from(x))) / theirs;
        let apart = ours.iter().zip(filtered).map(|(a, b)| (f64::from(*a) - b).abs()).fold(0.0, f64::max);
        println!("{name}: RMS {ratio:.6} of SciPy's, samples within {:.1e} of the peak", apart / most);
        assert!((ratio - 1.0).abs() < 0.002, "{name}: {ratio}");
        assert!(apart < 0.002 * most, "{name}: {apart} of {most}");
    }
}
