//! Where a piece of one signal is found in another: normalised cross-correlation by FFT (Lewis 1995).

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

/// A maximum between samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Position in samples from the first value.
    pub position: f64,
    /// Height there.
    pub height: f64,
}

/// Pearson correlation of `piece` with each place in `searched` where it fits whole.
///
/// Value `k` compares `piece` with `searched[k..k + piece.len()]`, each with its own mean taken out:
/// -1..1, and 0 where either does not move. Empty if `piece` is empty or does not fit. Neither may have
/// missing samples.
pub fn correlate(piece: &[f64], searched: &[f64]) -> Vec<f64> {
    let (m, n) = (piece.len(), searched.len());
    if m == 0 || m > n {
        return Vec::new();
    }
    // Without the overall means the running sums below lose less to rounding.
    let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
    let (piece_mean, searched_mean) = (mean(piece), mean(searched));
    let piece: Vec<f64> = piece.iter().map(|x| x - piece_mean).collect();
    let searched: Vec<f64> = searched.iter().map(|x| x - searched_mean).collect();
    let piece_energy: f64 = piece.iter().map(|x| x * x).sum();
    let floor = f64::EPSILON * searched.iter().map(|x| x * x).sum::<f64>();

    let products = sliding_products(&piece, &searched);
    let (mut sum, mut squares) = (0.0, 0.0);
    for x in &searched[..m] {
        sum += x;
        squares += x * x;
    }
    let mut out = Vec::with_capacity(n - m + 1);
    for (k, product) in products.into_iter().enumerate() {
        // The piece has no mean, so the place's own mean does not enter the product.
        let energy = squares - sum * sum / m as f64;
        let scale = (piece_energy * energy).sqrt();
        out.push(if energy > floor && scale > 0.0 { (product / scale).clamp(-1.0, 1.0) } else { 0.0 });
        if let Some(next) = searched.get(k + m) {
            sum += next - searched[k];
            squares += next * next - searched[k] * searched[k];
        }
    }
    out
}

/// Sum of `piece[i] * searched[k + i]` for each whole fit.
fn sliding_products(piece: &[f64], searched: &[f64]) -> Vec<f64> {
    // Circular wrapping only reaches places where the piece would not fit.
    let length = searched.len().next_power_of_two();
    let mut planner = FftPlanner::new();
    let forward = planner.plan_fft_forward(length);
    // One transform for both: the searched signal in the real part, the piece in the imaginary one.
    let mut both: Vec<Complex64> = searched.iter().map(|&x| Complex64::new(x, 0.0)).collect();
    both.resize(length, Complex64::ZERO);
    for (place, &x) in both.iter_mut().zip(piece) {
        place.im = x;
    }
    forward.process(&mut both);
    let mut product: Vec<Complex64> = (0..length)
        .map(|k| {
            let (one, mirrored) = (both[k], both[(length - k) % length].conj());
            let searched = (one + mirrored) * 0.5;
            let piece = (one - mirrored) * Complex64::new(0.0, -0.5);
            searched * piece.conj() / length as f64
        })
        .collect();
    planner.plan_fft_inverse(length).process(&mut product);
    product.truncate(searched.len() - piece.len() + 1);
    product.into_iter().map(|z| z.re).collect()
}

/// Pearson correlation of pairs, -1..1; pairs with a missing sample are left out. `None` where either side
/// does not move.
pub fn pearson(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> Option<f64> {
    let finite = pairs.filter(|(x, y)| x.is_finite() && y.is_finite());
    let n = finite.clone().count() as f64;
    let (sum_x, sum_y) = finite.clone().fold((0.0, 0.0), |(sx, sy), (x, y)| (sx + x, sy + y));
    let (mean_x, mean_y) = (sum_x / n, sum_y / n);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in finite {
        let (x, y) = (x - mean_x, y - mean_y);
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    let scale = (xx * yy).sqrt();
    (scale > 0.0).then(|| (xy / scale).clamp(-1.0, 1.0))
}

/// The highest inner maximum, placed between samples by the parabola through it and its neighbours.
///
/// `None` where the highest value is the first or the last: the true peak may lie outside.
pub fn highest_peak(values: &[f64]) -> Option<Peak> {
    let (k, _) = values.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let (before, top, after) = (values.get(k.checked_sub(1)?)?, values[k], values.get(k + 1)?);
    let bend = before - 2.0 * top + after;
    let shift = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
    Some(Peak { position: k as f64 + shift, height: top - 0.25 * (before - after) * shift })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wave(t: f64) -> f64 {
        (0.21 * t).sin() + 0.7 * (0.083 * t + 1.0).sin() + 0.4 * (0.37 * t * (1.0 + 0.001 * t)).sin()
    }

    #[test]
    fn a_piece_is_found_between_samples_whatever_its_level_and_gain() {
        let searched: Vec<f64> = (0..600).map(|k| wave(f64::from(k))).collect();
        let piece: Vec<f64> = (0..200).map(|k| 5.0 + 3.0 * wave(f64::from(k) + 123.4)).collect();
        let peak = highest_peak(&correlate(&piece, &searched)).unwrap();
        assert!((peak.position - 123.4).abs() < 0.01, "{peak:?}");
        assert!((peak.height - 1.0).abs() < 0.001, "{peak:?}");
    }

    #[test]
    fn nothing_to_compare_is_no_correlation() {
        assert!(correlate(&[], &[1.0]).is_empty());
        assert!(correlate(&[1.0, 2.0], &[1.0]).is_empty());
        assert_eq!(correlate(&[1.0, 2.0], &[3.0; 5]), [0.0; 4]);
        assert_eq!(correlate(&[2.0, 2.0], &[1.0, 5.0, 2.0]), [0.0; 2]);
        assert_eq!(highest_peak(&[]), None);
        assert_eq!(highest_peak(&[3.0, 2.0, 1.0]), None);
        assert_eq!(highest_peak(&[1.0, 2.0]), None);
    }
}
