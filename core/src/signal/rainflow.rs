//! Cycle counting by the rainflow method of ASTM E1049-85, section 5.4.4.

/// One counted cycle or half cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycle {
    /// From its lowest to its highest point.
    pub range: f64,
    /// Middle between the two.
    pub mean: f64,
    /// 1 or 0.5.
    pub count: f64,
}

/// The cycles of a signal, in the order in which they close, the remaining half cycles last.
///
/// The first and last samples count as reversals; missing samples are skipped.
pub fn rainflow<T: Copy + Into<f64>>(samples: &[T]) -> Vec<Cycle> {
    let mut cycles = Vec::new();
    let mut open: Vec<f64> = Vec::new();
    let cycle = |a: f64, b: f64, count| Cycle { range: (a - b).abs(), mean: 0.5 * (a + b), count };
    for point in reversals(samples) {
        open.push(point);
        while let [.., a, b, c] = *open.as_slice() {
            if (c - b).abs() < (b - a).abs() {
                break;
            }
            if open.len() == 3 {
                // The range holds the starting point: half a cycle, and the start moves on.
                cycles.push(cycle(a, b, 0.5));
                open.remove(0);
            } else {
                cycles.push(cycle(a, b, 1.0));
                open.truncate(open.len() - 3);
                open.push(c);
            }
        }
    }
    cycles.extend(open.windows(2).map(|pair| cycle(pair[0], pair[1], 0.5)));
    cycles
}

/// The first sample, every one at which the signal turns, and the last.
fn reversals<T: Copy + Into<f64>>(samples: &[T]) -> Vec<f64> {
    let mut points: Vec<f64> = Vec::new();
    for x in samples.iter().map(|&x| x.into()).filter(|x| x.is_finite()) {
        match *points.as_slice() {
            [.., last] if last == x => {}
            // Going on in the same direction: the end moves, nothing turned.
            [.., before, last] if (last - before) * (x - last) > 0.0 => {
                points.pop();
                points.push(x);
            }
            _ => points.push(x),
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ASTM E1049-85, figure 6.
    #[test]
    fn the_standards_worked_example() {
        let cycles = rainflow(&[-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]);
        for (range, count) in [(3.0, 0.5), (4.0, 1.5), (6.0, 0.5), (8.0, 1.0), (9.0, 0.5)] {
            let found: f64 = cycles.iter().filter(|c| c.range == range).map(|c| c.count).sum();
            assert_eq!(found, count, "range {range}");
        }
        assert_eq!(cycles.iter().map(|c| c.count).sum::<f64>(), 4.0);
    }

    #[test]
    fn no_movement_has_no_cycles() {
        assert_eq!(rainflow::<f32>(&[]), []);
        assert_eq!(rainflow(&[1.0, 1.0, f64::NAN, 1.0]), []);
        assert_eq!(rainflow(&[0.0, 1.0, 2.0]), [Cycle { range: 2.0, mean: 1.0, count: 0.5 }]);
    }
}
