//! Strokes between turning points, with hysteresis so that noise does not turn anything.

use super::stretches;

/// A movement from one turning point to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stroke {
    /// Sample at which it begins.
    pub from: usize,
    /// Sample at which the signal turns.
    pub to: usize,
}

/// Strokes up and down in turn; one ends when the signal has come back from its extreme by more than
/// `hysteresis`, and it ends at that extreme.
///
/// No stroke reaches across a missing sample, and one that has not ended there, or at the end, is left out.
/// The first of a stretch begins at the extreme before it, which may be cut off by the stretch's start.
pub fn strokes(samples: &[f32], hysteresis: f32) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    for stretch in stretches(samples) {
        let (mut low, mut high) = (stretch.start, stretch.start);
        // Where the stroke under way began, and whether it goes up; none until something has moved.
        let mut under_way: Option<(usize, bool)> = None;
        for k in stretch {
            let x = samples[k];
            if x > samples[high] {
                high = k;
            }
            if x < samples[low] {
                low = k;
            }
            let fell = samples[high] - x > hysteresis;
            let rose = x - samples[low] > hysteresis;
            let turned = match under_way {
                Some((from, true)) if fell => Some((Some(from), high, false)),
                Some((from, false)) if rose => Some((Some(from), low, true)),
                None if rose => Some((None, low, true)),
                None if fell => Some((None, high, false)),
                _ => None,
            };
            if let Some((from, to, up)) = turned {
                strokes.extend(from.map(|from| Stroke { from, to }));
                under_way = Some((to, up));
                if up { high = k } else { low = k }
            }
        }
    }
    strokes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(samples: &[f32], hysteresis: f32) -> Vec<(usize, usize)> {
        strokes(samples, hysteresis).iter().map(|s| (s.from, s.to)).collect()
    }

    #[test]
    fn small_returns_do_not_end_a_stroke() {
        let samples = [0.0, 4.0, 3.5, 9.0, 8.5, 2.0, 2.5, 1.0, 6.0, 5.5];
        assert_eq!(pairs(&samples, 1.0), [(0, 3), (3, 7)]);
        assert_eq!(pairs(&samples, 0.4), [(0, 1), (1, 2), (2, 3), (3, 5), (5, 6), (6, 7), (7, 8)]);
        assert_eq!(pairs(&samples, 20.0), []);
    }

    #[test]
    fn a_gap_ends_without_counting_what_it_cut() {
        let samples = [0.0, 5.0, 0.0, f32::NAN, 9.0, 0.0, 5.0];
        assert_eq!(pairs(&samples, 1.0), [(0, 1), (4, 5)]);
        assert_eq!(pairs(&[], 1.0), []);
    }
}
