//! The generic signal tools beside SciPy and NumPy, run live on the same arrays.

use evenkeel_core::signal::{
    Duration, KaplanMeier, SavitzkyGolay, Sos, Welch, correlate, median_interval, percentiles, rainflow,
    resample, theil_sen, theil_sen_interval, wilson,
};
use evenkeel_tests::python::reference;

/// Reproducible noise, uniform in -1..1 (xorshift64*, Vigna 2016).
fn noise(n: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut next = || {
        state ^= state >> 12;
        state ^= state << 25;
        state ^= state >> 27;
        (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    };
    (0..n).map(|_| next()).collect()
}

/// A signal with most of its power at low frequency, as travel has.
fn wander(n: usize, seed: u64) -> Vec<f64> {
    let mut sum = 0.0;
    let step = |x| {
        sum += x;
        sum
    };
    noise(n, seed).into_iter().map(step).collect()
}

/// Largest difference, as a share of the reference's largest magnitude.
fn relative_error(ours: &[f64], theirs: &[f64]) -> f64 {
    assert_eq!(ours.len(), theirs.len());
    let scale = theirs.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
    let differences = ours.iter().zip(theirs).map(|(a, b)| (a - b).abs());
    let worst = differences.fold(0.0_f64, |most, d| if d.is_nan() { f64::INFINITY } else { most.max(d) });
    worst / scale
}

/// Source: `scipy.signal.butter(output='sos')` and `sosfiltfilt`, 1e-6 relative.
#[test]
fn butterworth_zero_phase_equals_scipy() {
    let samples = wander(3000, 1);
    let low = |order, hz, rate| ([0.0, order as f64, hz, 0.0, rate], Sos::low_pass(order, hz, rate));
    let high = |order, hz, rate| ([1.0, order as f64, hz, 0.0, rate], Sos::high_pass(order, hz, rate));
    let band =
        |order, from, to, rate| ([2.0, order as f64, from, to, rate], Sos::band_pass(order, from, to, rate));
    let cases = [
        low(4, 0.5, 1000.0),
        low(4, 85.0, 200.0),
        low(8, 40.0, 1000.0),
        low(1, 3.0, 100.0),
        low(5, 20.0, 200.0),
        high(4, 0.3, 200.0),
        high(3, 60.0, 1000.0),
        high(2, 3.0, 500.0),
        band(4, 0.3, 12.0, 200.0),
        band(4, 4.0, 30.0, 1000.0),
        band(3, 3.0, 20.0, 1000.0),
        band(1, 0.5, 90.0, 200.0),
    ];
    let mut rows = Vec::new();
    let mut ours = Vec::new();
    for (row, filter) in cases {
        let filter = filter.unwrap();
        // The second is the shortest signal that can be filtered.
        for n in [samples.len(), filter.extension() + 1] {
            rows.extend(row);
            rows.push(n as f64);
            ours.push((row, filter.zero_phase(&samples[..n])));
        }
        assert!(filter.zero_phase(&samples[..filter.extension()]).iter().all(|y| y.is_nan()));
    }
    let theirs = reference("butterworth", &[("filters", &rows), ("samples", &samples)]);
    for (k, (row, ours)) in ours.iter().enumerate() {
        let error = relative_error(ours, &theirs[&format!("filtered_{k}")]);
        assert!(error < 1e-6, "kind, order, cutoffs, rate {row:?}, {} samples: {error:e}", ours.len());
    }
}

/// Source: `scipy.signal.savgol_filter(deriv=1, mode='interp')`, 1e-6.
#[test]
fn savitzky_golay_slope_equals_scipy() {
    let samples = wander(2000, 2);
    let tools = [100.0, 200.0, 500.0, 1000.0, 2000.0].map(|rate_hz| (rate_hz, SavitzkyGolay::new(rate_hz)));
    let windows: Vec<f64> =
        tools.iter().flat_map(|(rate_hz, tool)| [*rate_hz, tool.window() as f64]).collect();
    let theirs = reference("savgol", &[("samples", &samples), ("windows", &windows)]);
    for (rate_hz, tool) in tools {
        let error = relative_error(&tool.derivative(&samples), &theirs[&format!("slope_{rate_hz}")]);
        assert!(error < 1e-6, "{rate_hz} Hz: {error:e}");
    }
}

/// Source: `scipy.signal.welch`, `csd` and `coherence`, 1e-5. Parseval's theorem within 1 % for 60 s.
#[test]
fn welch_equals_scipy_and_keeps_the_power() {
    for rate_hz in [200.0, 100.5] {
        let n = (60.0 * rate_hz) as usize;
        let x = noise(n, 3);
        let own = noise(n, 4);
        let y: Vec<f64> = (0..n).map(|k| x[k.saturating_sub(3)] + 0.5 * own[k] + 0.2).collect();
        let welch = Welch::new(rate_hz);
        let spectrum = welch.density(&x).unwrap();
        let cross = welch.cross(&x, &y).unwrap();

        let theirs = reference("welch", &[("x", &x), ("y", &y), ("rate_hz", &[rate_hz])]);
        let (re, im): (Vec<f64>, Vec<f64>) = cross.xy.iter().map(|z| (z.re, z.im)).unzip();
        let frequency_hz: Vec<f64> = (0..re.len()).map(|k| k as f64 * spectrum.step_hz).collect();
        for (name, ours) in [
            ("frequency_hz", &frequency_hz),
            ("density", &spectrum.density),
            ("density", &cross.xx),
            ("cross_re", &re),
            ("cross_im", &im),
            ("coherence", &cross.coherence()),
        ] {
            let error = relative_error(ours, &theirs[name]);
            assert!(error < 1e-5, "{name} at {rate_hz} Hz: {error:e}");
        }

        let mean_square = x.iter().map(|x| x * x).sum::<f64>() / n as f64;
        let kept = spectrum.power(0.0, rate_hz) / mean_square;
        println!("{rate_hz} Hz: spectrum holds {kept:.4} of the power");
        assert!((kept - 1.0).abs() < 0.01, "{kept} of the power");
    }
}

/// Source: `numpy.percentile` (linear), exact to rounding.
#[test]
fn percentiles_equal_numpy() {
    let samples = wander(1001, 5);
    let percents = [0.0, 0.1, 5.0, 25.0, 33.3, 50.0, 90.0, 95.0, 99.9, 100.0];
    let lengths = [1.0, 2.0, 3.0, 10.0, 1000.0, 1001.0];
    let theirs =
        reference("percentile", &[("samples", &samples), ("percents", &percents), ("lengths", &lengths)]);
    for n in lengths {
        let ours = percentiles(&samples[..n as usize], percents).unwrap();
        let theirs = &theirs[&format!("percentiles_{n}")];
        for ((ours, theirs), p) in ours.iter().zip(theirs).zip(percents) {
            assert!(
                (ours - theirs).abs() <= 2.0 * f64::EPSILON * theirs.abs(),
                "p{p} of {n}: {ours} {theirs}"
            );
        }
    }
}

/// Source: `numpy.interp`, downwards after `scipy.signal.butter(8)` and `sosfiltfilt`, on tones.
#[test]
fn resampled_tones_equal_scipy() {
    let (source_hz, duration_s) = (500.0, 10.0);
    let times_s: Vec<f64> = (0..5001).map(|k| f64::from(k) / source_hz).collect();
    let tone = |hz: f64, t: f64| (std::f64::consts::TAU * hz * t).sin();
    let values: Vec<f32> = times_s
        .iter()
        .map(|&t| (tone(3.0, t) + 0.5 * tone(38.0, t) + 0.25 * tone(170.0, t)) as f32)
        .collect();
    let rates_hz = [1000.0, 640.0, 200.0, 130.0];
    let theirs = reference(
        "resample",
        &[
            ("times_s", &times_s),
            ("values", &values.iter().map(|&x| f64::from(x)).collect::<Vec<_>>()),
            ("rates_hz", &rates_hz),
            ("source_hz", &[source_hz]),
            ("duration_s", &[duration_s]),
        ],
    );
    for rate_hz in rates_hz {
        let ours = resample(&times_s, &values, 0.0, rate_hz, (duration_s * rate_hz) as usize);
        let ours: Vec<f64> = ours.into_iter().map(f64::from).collect();
        let error = relative_error(&ours, &theirs[&format!("resampled_{rate_hz}")]);
        assert!(error < 1e-6, "to {rate_hz} Hz: {error:e}");
    }
}

/// Source: `scipy.stats.pearsonr` at every place.
#[test]
fn sliding_correlation_equals_scipy() {
    let searched = wander(700, 6);
    let piece: Vec<f64> =
        noise(150, 7).iter().zip(&searched[200..]).map(|(noise, x)| 40.0 + 0.3 * x + 0.5 * noise).collect();
    let theirs = reference("correlation", &[("piece", &piece), ("searched", &searched)]);
    let error = relative_error(&correlate(&piece, &searched), &theirs["correlation"]);
    assert!(error < 1e-9, "{error:e}");
}

/// Source: `scipy.stats.theilslopes`.
#[test]
fn robust_slope_equals_scipy() {
    let (x, y) = (noise(301, 8), wander(301, 9));
    let theirs = reference("theil_sen", &[("x", &x), ("y", &y)]);
    assert!(relative_error(&[theil_sen(&x, &y).unwrap()], &theirs["slope"]) < 1e-12);
    let (slope, interval) = theil_sen_interval(&x, &y).unwrap();
    assert_eq!(Some(slope), theil_sen(&x, &y));
    assert!(relative_error(&interval, &theirs["interval"]) < 1e-12);

    // Steps of a tenth give ties in both.
    let tenths = |values: Vec<f64>| values.iter().map(|v| (10.0 * v).round() / 10.0).collect::<Vec<_>>();
    let (x, y) = (tenths(noise(60, 13)), tenths(noise(60, 14)));
    let theirs = reference("theil_sen", &[("x", &x), ("y", &y)]);
    let (slope, interval) = theil_sen_interval(&x, &y).unwrap();
    assert!((slope - theirs["slope"][0]).abs() < 1e-12);
    assert!(relative_error(&interval, &theirs["interval"]) < 1e-12);
}

/// Source: `scipy.stats.binomtest(...).proportion_ci(method="wilson")` and `scipy.stats.quantile_test`.
#[test]
fn intervals_of_shares_and_medians_equal_scipy() {
    let shares = [(0, 12), (1, 12), (6, 12), (12, 12), (37, 410), (1, 1)];
    let sent: Vec<f64> = shares.iter().flat_map(|&(count, n)| [count as f64, n as f64]).collect();
    let values = noise(300, 15);
    let lengths = [6.0, 7.0, 9.0, 20.0, 41.0, 300.0];
    let theirs = reference("interval", &[("shares", &sent), ("values", &values), ("lengths", &lengths)]);
    let ours: Vec<f64> = shares.iter().flat_map(|&(count, n)| wilson(count, n).unwrap()).collect();
    assert!(relative_error(&ours, &theirs["wilson"]) < 1e-12);
    for n in lengths {
        let ours = median_interval(&values[..n as usize]).unwrap();
        assert_eq!(ours.as_slice(), theirs[&format!("median_{n}")], "{n} values");
    }
}

/// Source: `scipy.stats.ecdf` with censored data.
#[test]
fn censored_durations_equal_scipy() {
    // Steps of a twentieth give ties, among them events and ends of watching at the same time.
    let times_s: Vec<f64> = noise(200, 10).iter().map(|x| (20.0 * x.abs()).ceil() / 20.0).collect();
    let censored: Vec<f64> = noise(200, 11).iter().map(|&x| f64::from(x > 0.2)).collect();
    let durations: Vec<Duration> = times_s
        .iter()
        .zip(&censored)
        .map(|(&t, &cut)| if cut > 0.0 { Duration::Censored(t) } else { Duration::Observed(t) })
        .collect();
    let theirs = reference("kaplan_meier", &[("times_s", &times_s), ("censored", &censored)]);
    let estimate = KaplanMeier::new(&durations);
    let (low, high): (Vec<f64>, Vec<f64>) = estimate.bounds().into_iter().map(|[a, b]| (a, b)).unzip();
    let (times_s, left): (Vec<f64>, Vec<f64>) = estimate.steps.into_iter().unzip();
    assert_eq!(times_s, theirs["times_s"]);
    assert!(relative_error(&left, &theirs["left"]) < 1e-12);
    // None is left after the last, which then has no bounds.
    let known = left.iter().filter(|left| **left > 0.0).count();
    assert!(relative_error(&low[..known], &theirs["low"][..known]) < 1e-9);
    assert!(relative_error(&high[..known], &theirs["high"][..known]) < 1e-9);
}

/// Source: the `rainflow` package (ASTM E1049-85).
#[test]
fn rainflow_equals_the_package() {
    let samples = wander(2000, 12);
    let theirs = reference("rainflow_count", &[("samples", &samples)]);
    let mut ours: Vec<[f64; 3]> = rainflow(&samples).iter().map(|c| [c.range, c.mean, c.count]).collect();
    ours.sort_by(|a, b| a.partial_cmp(b).unwrap());
    assert!(relative_error(&ours.concat(), &theirs["cycles"]) < 1e-12);
}
