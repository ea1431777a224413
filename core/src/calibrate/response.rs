//! A channel's calibration, made ready to run over samples.

use super::pchip::{MonotoneCubic, TableError};
use crate::channel::{Channel, Curve};
use crate::source::Column;
use crate::unit::{Quantity, Unit};

/// `si = sign * curve(raw) - zero`, built once and run over a column.
#[derive(Clone, Debug)]
pub struct Response {
    shape: Shape,
    sign: f64,
    zero: f64,
}

#[derive(Clone, Debug)]
enum Shape {
    /// `slope raw + offset`.
    Line {
        slope: f64,
        offset: f64,
    },
    /// Coefficients, lowest power first.
    Polynomial(Vec<f64>),
    Table(MonotoneCubic),
}

impl Response {
    /// The response of a channel as its owner calibrated it.
    ///
    /// # Errors
    /// Two equal points, an unusable table, no coefficients, or a unit that says nothing about the
    /// quantity (volts taken for travel) without a calibration.
    pub fn of(channel: &Channel) -> Result<Self, TableError> {
        let Channel { role, unit, ref calibration, .. } = *channel;
        let shape = match &calibration.curve {
            Curve::Unit => {
                let wanted = role.quantity();
                let fits =
                    Unit::choices(wanted).any(|choice| choice == unit && unit.quantity() != Quantity::Other);
                if !fits && wanted != Quantity::Other {
                    return Err(TableError(format!(
                        "a number in \"{unit}\" says nothing about {role}; choose its unit or give two measured points"
                    )));
                }
                let (slope, offset) = unit.line();
                Shape::Line { slope, offset }
            }
            Curve::TwoPoint { raw: [r0, r1], si: [s0, s1] } => {
                let slope = (s1 - s0) / (r1 - r0);
                if !slope.is_finite() || slope == 0.0 {
                    return Err(TableError(
                        "the two points of the calibration must differ in both numbers".to_owned(),
                    ));
                }
                Shape::Line { slope, offset: s0 - slope * r0 }
            }
            Curve::Polynomial { coefficients } if coefficients.is_empty() => {
                return Err(TableError("a polynomial needs a coefficient or more".to_owned()));
            }
            Curve::Polynomial { coefficients } => Shape::Polynomial(coefficients.clone()),
            Curve::Table { points } => Shape::Table(MonotoneCubic::through(points)?),
        };
        let sign = if calibration.inverted { -1.0 } else { 1.0 };
        Ok(Self { shape, sign, zero: calibration.zero })
    }

    /// One raw number in SI; NaN stays NaN.
    pub fn si(&self, raw: f64) -> f64 {
        let value = match &self.shape {
            Shape::Line { slope, offset } => slope * raw + offset,
            Shape::Polynomial(coefficients) => coefficients.iter().rev().fold(0.0, |sum, c| sum * raw + c),
            Shape::Table(curve) => curve.at(raw),
        };
        self.sign * value - self.zero
    }

    /// A whole column in SI.
    pub fn column(&self, raw: &Column) -> Vec<f32> {
        let (sign, zero) = (self.sign, self.zero);
        let raw = raw.values.iter().map(|value| raw.origin + f64::from(*value));
        match self.shape {
            // As in `si`, which would look at the shape with every sample.
            Shape::Line { slope, offset } => {
                raw.map(|raw| (sign * (slope * raw + offset) - zero) as f32).collect()
            }
            _ => raw.map(|raw| self.si(raw) as f32).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::Calibration;
    use crate::role::{End, Role};

    fn channel(unit: Unit, calibration: Calibration) -> Channel {
        Channel { header: "x".to_owned(), role: Role::Travel(End::Front), unit, calibration }
    }

    #[test]
    fn two_points_sign_and_zero() {
        let curve = Curve::TwoPoint { raw: [0.5, 4.5], si: [0.0, 0.2] };
        let calibration = Calibration { curve, inverted: false, zero: 0.01 };
        let response = Response::of(&channel(Unit::Volt, calibration)).unwrap();
        assert!((response.si(2.5) - 0.09).abs() < 1e-12);

        let calibration = Calibration { curve: Curve::Unit, inverted: true, zero: -0.2 };
        let response = Response::of(&channel(Unit::Millimetre, calibration)).unwrap();
        assert!((response.si(150.0) - 0.05).abs() < 1e-12);
        assert!(response.si(f64::NAN).is_nan());
    }

    #[test]
    fn polynomial_and_table() {
        let curve = Curve::Polynomial { coefficients: vec![1.0, 2.0, 3.0] };
        let response =
            Response::of(&channel(Unit::Raw, Calibration { curve, ..Calibration::default() })).unwrap();
        assert!((response.si(2.0) - 17.0).abs() < 1e-12);

        let curve = Curve::Table { points: vec![[0.0, 0.0], [1.0, 0.1], [2.0, 0.2]] };
        let response =
            Response::of(&channel(Unit::Raw, Calibration { curve, ..Calibration::default() })).unwrap();
        assert!((response.si(1.5) - 0.15).abs() < 1e-12);
    }

    #[test]
    fn a_column_is_its_samples_one_by_one() {
        let curves = [
            Curve::TwoPoint { raw: [0.5, 4.5], si: [0.0, 0.2] },
            Curve::Polynomial { coefficients: vec![1.0, 2.0, 3.0] },
            Curve::Table { points: vec![[0.0, 0.0], [1.0, 0.1], [2.0, 0.3]] },
        ];
        let column = Column {
            header: "x".to_owned(),
            unit_text: "V".to_owned(),
            origin: 0.25,
            values: vec![0.0, 1.1, f32::NAN, -0.2],
        };
        for curve in curves {
            let calibration = Calibration { curve, inverted: true, zero: 0.01 };
            let response = Response::of(&channel(Unit::Volt, calibration)).unwrap();
            for (si, raw) in response.column(&column).iter().zip(&column.values) {
                let expected = response.si(0.25 + f64::from(*raw)) as f32;
                assert!(*si == expected || (si.is_nan() && raw.is_nan()), "{si} is not {expected}");
            }
        }
    }

    #[test]
    fn volts_are_not_travel_until_calibrated() {
        assert!(Response::of(&channel(Unit::Volt, Calibration::default())).is_err());
        let curve = Curve::TwoPoint { raw: [1.0, 1.0], si: [0.0, 0.2] };
        assert!(Response::of(&channel(Unit::Volt, Calibration { curve, ..Calibration::default() })).is_err());
    }
}
