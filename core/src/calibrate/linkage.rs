//! From shock stroke to rear axle travel.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::pchip::{MonotoneCubic, TableError};
use crate::import::{ImportError, Layout, Reader, TimeBase, sniff};
use crate::unit::Unit;

/// A bike's linkage: rear axle travel over shock stroke, m, joined by a monotone cubic.
///
/// Its slope is the leverage ratio. In JSON: the list of `[stroke_m, travel_m]` points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(into = "Vec<[f64; 2]>", try_from = "Vec<[f64; 2]>")]
pub struct Linkage {
    points_m: Vec<[f64; 2]>,
    curve: MonotoneCubic,
}

impl Linkage {
    /// A linkage through points of shock stroke and rear axle travel, m.
    ///
    /// # Errors
    /// Too few points, points that are not numbers, or travel that does not grow with stroke.
    pub fn through(points_m: &[[f64; 2]]) -> Result<Self, TableError> {
        let curve = MonotoneCubic::through(points_m)?;
        let mut points_m = points_m.to_vec();
        points_m.sort_by(|a, b| a[0].total_cmp(&b[0]));
        if let Some(pair) = points_m.windows(2).find(|pair| pair[1][1] <= pair[0][1]) {
            return Err(TableError(format!(
                "axle travel does not grow between strokes {} and {} m; check the order of the two columns",
                pair[0][0], pair[1][0]
            )));
        }
        Ok(Self { points_m, curve })
    }

    /// Reads a table of shock stroke and rear axle travel, both in `unit`, from delimited text.
    ///
    /// # Errors
    /// Where the text is no table of two columns or more, with file, line and column; or as
    /// [`through`](Self::through).
    pub fn from_text(name: &str, text: &[u8], unit: Unit) -> Result<Self, LinkageError> {
        // Stroke is not time: every row counts, in any order.
        let layout = Layout { time: TimeBase::Rate { rate_hz: 1.0 }, ..sniff(text, name)? };
        let mut reader = Reader::new(name, layout)?;
        reader.feed(text)?;
        let imported = reader.finish()?;
        let column = |i: usize| {
            imported.parts.first().and_then(|part| part.columns.get(i)).map(|c| c.values.as_slice())
        };
        let (Some(stroke), Some(travel)) = (column(0), column(1)) else {
            return Err(
                TableError(format!("{name} has one column; a linkage needs stroke and axle travel")).into()
            );
        };
        let si = |v: &f32| unit.to_si(f64::from(*v));
        let points: Vec<[f64; 2]> = stroke.iter().zip(travel).map(|(s, t)| [si(s), si(t)]).collect();
        Ok(Self::through(&points)?)
    }

    /// Rear axle travel at a shock stroke, m.
    pub fn travel_m(&self, stroke_m: f64) -> f64 {
        self.curve.at(stroke_m)
    }

    /// Leverage ratio d(travel)/d(stroke) at a shock stroke.
    pub fn leverage_ratio(&self, stroke_m: f64) -> f64 {
        self.curve.slope_at(stroke_m)
    }

    /// The points, by stroke: stroke and travel, m.
    pub fn points_m(&self) -> &[[f64; 2]] {
        &self.points_m
    }
}

/// Why a linkage table cannot be read.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkageError {
    /// The text is no table.
    Text(ImportError),
    /// The table is no linkage.
    Table(TableError),
}

impl fmt::Display for LinkageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Text(error) => error.fmt(f),
            Self::Table(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for LinkageError {}

impl From<ImportError> for LinkageError {
    fn from(error: ImportError) -> Self {
        Self::Text(error)
    }
}

impl From<TableError> for LinkageError {
    fn from(error: TableError) -> Self {
        Self::Table(error)
    }
}

impl From<Linkage> for Vec<[f64; 2]> {
    fn from(linkage: Linkage) -> Self {
        linkage.points_m
    }
}

impl TryFrom<Vec<[f64; 2]>> for Linkage {
    type Error = TableError;

    fn try_from(points_m: Vec<[f64; 2]>) -> Result<Self, TableError> {
        Self::through(&points_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_leverage_ratio_is_read_back() {
        let linkage = Linkage::through(&[[0.0, 0.0], [0.0375, 0.1], [0.075, 0.2]]).unwrap();
        assert!((linkage.travel_m(0.03) - 0.08).abs() < 1e-12);
        assert!((linkage.leverage_ratio(0.03) - 0.2 / 0.075).abs() < 1e-9);
    }

    #[test]
    fn a_table_as_people_write_it() {
        let text = b"stroke [mm];axle travel [mm]\n0;0\n37,5;105\n75;200\n";
        let linkage = Linkage::from_text("linkage.csv", text, Unit::Millimetre).unwrap();
        assert_eq!(linkage.points_m().len(), 3);
        assert!((linkage.travel_m(0.0375) - 0.105).abs() < 1e-6);
        let error = Linkage::from_text("linkage.csv", b"stroke\n0\n1\n", Unit::Millimetre).unwrap_err();
        assert!(error.to_string().contains("linkage.csv"), "{error}");
    }

    #[test]
    fn travel_that_shrinks_is_refused() {
        assert!(Linkage::through(&[[0.0, 0.1], [0.05, 0.0]]).unwrap_err().0.contains("grow"));
    }
}
