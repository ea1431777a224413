//! Dynamic time warping in a band, and how sure each place of it is.

use std::ops::Range;

/// What it costs to lay one sequence over the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WarpCosts {
    /// Of a squared difference of two values. Where noise of standard deviation `s` stays alike over `k` values,
    /// `1 / (2 s^2 k)` makes costs negative log likelihoods.
    pub difference: f64,
    /// Of a step that goes on in one sequence only.
    pub step: f64,
    /// Of a pair in which a value is missing.
    pub missing: f64,
}

/// One sequence laid over the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Warp {
    /// Cost of the cheapest path.
    pub cost: f64,
    /// Pairs of the cheapest path, row and column, both rising or staying.
    pub path: Vec<(usize, usize)>,
    /// For each row the mean column over all paths, each weighted by `exp(-cost)`.
    pub mean: Vec<f64>,
    /// Standard deviation of the column in each row over the same.
    pub spread: Vec<f64>,
}

/// Lays `columns` over `rows` by dynamic time warping (Sakoe and Chiba 1978): of all paths in the band that
/// advance by one row, one column or both at each step, the one whose pairs and steps cost least. `NaN` is
/// missing.
///
/// `band` says for each row which columns it may meet (Sakoe and Chiba's window, of any shape); starts and
/// ends must not fall. The path begins anywhere in the first row's band and ends anywhere in the last row's.
/// Time and memory go with the number of cells in the band. `None` if no path fits.
pub fn warp(rows: &[f64], columns: &[f64], band: &[Range<usize>], costs: WarpCosts) -> Option<Warp> {
    let cells = Cells::new(rows, columns, band, costs)?;
    let (cost, path) = cells.cheapest()?;
    let (mean, spread) = cells.spread(&path);
    Some(Warp { cost, path, mean, spread })
}

/// How a path came into a cell.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Step {
    Start,
    Both,
    Row,
    Column,
}

impl Step {
    /// Of equals the first is taken.
    const ALL: [Self; 3] = [Self::Both, Self::Row, Self::Column];

    fn back(self, row: usize, column: usize) -> Option<(usize, usize)> {
        match self {
            Self::Start => None,
            Self::Both => Some((row.checked_sub(1)?, column.checked_sub(1)?)),
            Self::Row => Some((row.checked_sub(1)?, column)),
            Self::Column => Some((row, column.checked_sub(1)?)),
        }
    }
}

struct Cells<'a> {
    band: &'a [Range<usize>],
    /// Where each row's cells begin.
    starts: Vec<usize>,
    cost: Vec<f64>,
    step: f64,
}

impl<'a> Cells<'a> {
    fn new(rows: &[f64], columns: &[f64], band: &'a [Range<usize>], costs: WarpCosts) -> Option<Self> {
        let inside = |range: &Range<usize>| range.start < range.end && range.end <= columns.len();
        let rising = |pair: &[Range<usize>]| pair[0].start <= pair[1].start && pair[0].end <= pair[1].end;
        if rows.is_empty()
            || band.len() != rows.len()
            || !band.iter().all(inside)
            || !band.windows(2).all(rising)
        {
            return None;
        }
        let mut starts = Vec::with_capacity(rows.len());
        let mut cost = Vec::new();
        for (&row, range) in rows.iter().zip(band) {
            starts.push(cost.len());
            cost.extend(columns[range.clone()].iter().map(|&column| {
                let pair = costs.difference * (row - column) * (row - column);
                if pair.is_nan() { costs.missing } else { pair }
            }));
        }
        Some(Self { band, starts, cost, step: costs.step })
    }

    fn at(&self, row: usize, column: usize) -> Option<usize> {
        let range = self.band.get(row)?;
        range.contains(&column).then(|| self.starts[row] + column - range.start)
    }

    fn cheapest(&self) -> Option<(f64, Vec<(usize, usize)>)> {
        let mut best = vec![f64::INFINITY; self.cost.len()];
        let mut came = vec![Step::Start; self.cost.len()];
        for (row, range) in self.band.iter().enumerate() {
            for (here, column) in (self.starts[row]..).zip(range.clone()) {
                let start = (if row == 0 { 0.0 } else { f64::INFINITY }, Step::Start);
                let ways = Step::ALL.into_iter().filter_map(|step| {
                    let penalty = if step == Step::Both { 0.0 } else { self.step };
                    let (row, column) = step.back(row, column)?;
                    Some((best[self.at(row, column)?] + penalty, step))
                });
                let (before, step) = ways.fold(start, |best, way| if way.0 < best.0 { way } else { best });
                best[here] = before + self.cost[here];
                came[here] = step;
            }
        }
        let row = self.band.len() - 1;
        let cost = |column: usize| self.at(row, column).map_or(f64::INFINITY, |at| best[at]);
        let column = self.band[row].clone().min_by(|&a, &b| cost(a).total_cmp(&cost(b)))?;
        let total = cost(column);
        if !total.is_finite() {
            return None;
        }
        let mut path = vec![(row, column)];
        let mut here = (row, column);
        while let Some(before) = came[self.at(here.0, here.1)?].back(here.0, here.1) {
            path.push(before);
            here = before;
        }
        path.reverse();
        Some((total, path))
    }

    /// Mean and standard deviation of the column in each row, by the forward-backward algorithm (Baum and
    /// others 1970; any text on hidden Markov models), each row scaled so that nothing vanishes.
    fn spread(&self, path: &[(usize, usize)]) -> (Vec<f64>, Vec<f64>) {
        let rows = self.band.len();
        let alone = (-self.step).exp();
        let like: Vec<f64> = self.cost.iter().map(|cost| (-cost).exp()).collect();
        let scale = |cells: &mut [f64]| {
            let most = cells.iter().copied().fold(0.0, f64::max);
            cells.iter_mut().for_each(|cell| *cell /= if most > 0.0 { most } else { 1.0 });
        };
        let mut forward = vec![0.0; like.len()];
        for row in 0..rows {
            for column in self.band[row].clone() {
                let here = self.starts[row] + column - self.band[row].start;
                let from = |at: Option<usize>| at.map_or(0.0, |at| forward[at]);
                let left = alone * from(column.checked_sub(1).and_then(|c| self.at(row, c)));
                let above = match row.checked_sub(1) {
                    None => 1.0,
                    Some(up) => {
                        from(column.checked_sub(1).and_then(|c| self.at(up, c)))
                            + alone * from(self.at(up, column))
                    }
                };
                forward[here] = like[here] * (above + left);
            }
            scale(&mut forward[self.starts[row]..][..self.band[row].len()]);
        }
        let mut backward = vec![0.0; like.len()];
        let (mut mean, mut spread) = (vec![f64::NAN; rows], vec![f64::NAN; rows]);
        for row in (0..rows).rev() {
            for column in self.band[row].clone().rev() {
                let here = self.starts[row] + column - self.band[row].start;
                let to = |at: Option<usize>| at.map_or(0.0, |at| like[at] * backward[at]);
                let right = alone * to(self.at(row, column + 1));
                let below = if row + 1 == rows {
                    1.0
                } else {
                    to(self.at(row + 1, column + 1)) + alone * to(self.at(row + 1, column))
                };
                backward[here] = below + right;
            }
            let cells = self.starts[row]..self.starts[row] + self.band[row].len();
            scale(&mut backward[cells.clone()]);
            let weighted = |of: &dyn Fn(f64) -> f64| {
                self.band[row]
                    .clone()
                    .zip(cells.clone())
                    .map(|(c, at)| of(c as f64) * forward[at] * backward[at])
                    .sum::<f64>()
            };
            let sum = weighted(&|_| 1.0);
            if sum > 0.0 {
                mean[row] = weighted(&|c| c) / sum;
                spread[row] = (weighted(&|c| (c - mean[row]).powi(2)) / sum).sqrt();
            }
        }
        // Where the numbers vanish all the same, nothing but the path is known.
        for &(row, column) in path {
            if mean[row].is_nan() {
                (mean[row], spread[row]) = (column as f64, self.band[row].len() as f64 / 2.0);
            }
        }
        (mean, spread)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COSTS: WarpCosts = WarpCosts { difference: 1.0, step: 0.1, missing: 0.2 };

    fn everywhere(rows: usize, columns: usize) -> Vec<Range<usize>> {
        vec![0..columns; rows]
    }

    #[test]
    fn a_sequence_lies_on_itself() {
        let x: Vec<f64> = (0..50).map(|k| (f64::from(k) * 0.3).sin()).collect();
        let found = warp(&x, &x, &everywhere(50, 50), COSTS).unwrap();
        assert_eq!(found.cost, 0.0);
        assert!(found.path.iter().all(|(row, column)| row == column));
        assert_eq!(found.path.len(), 50);
    }

    #[test]
    fn a_shifted_and_stretched_sequence_is_followed_and_a_flat_stretch_is_unsure() {
        let shape = |x: f64| if x < 60.0 { (x * 0.2).sin() } else { 0.0 };
        let rows: Vec<f64> = (0..120).map(|k| shape(f64::from(k))).collect();
        let columns: Vec<f64> = (0..140).map(|k| shape(f64::from(k) * 0.95 - 5.0)).collect();
        let sharp = WarpCosts { difference: 50.0, step: 2.0, missing: 0.5 };
        let found = warp(&rows, &columns, &everywhere(120, 140), sharp).unwrap();
        for row in 10..50 {
            let expected = (row as f64 + 5.0) / 0.95;
            assert!((found.mean[row] - expected).abs() < 1.0, "{row}: {} {expected}", found.mean[row]);
        }
        assert!(found.spread[100] > 3.0 * found.spread[30], "{:?}", found.spread);
    }

    #[test]
    fn missing_values_cost_what_they_should_and_bands_that_do_not_fit_give_nothing() {
        let x = [1.0, f64::NAN, 3.0];
        let found = warp(&x, &x, &[0..1, 0..2, 2..3], COSTS).unwrap();
        assert!((found.cost - 0.2).abs() < 1e-12);
        assert_eq!(found.path, [(0, 0), (1, 1), (2, 2)]);
        assert_eq!(warp(&x, &x, &[0..1, 0..2], COSTS), None);
        assert_eq!(warp(&x, &x, &[0..1, 0..0, 2..3], COSTS), None);
        assert_eq!(warp(&x, &x, &[1..2, 0..3, 2..3], COSTS), None);
        assert_eq!(warp(&[], &x, &[], COSTS), None);
        // Rows whose bands do not touch.
        assert_eq!(warp(&x, &[0.0; 9], &[0..1, 5..6, 8..9], COSTS), None);
    }
}
