//! What a back-to-back test is to decide, written down before it is ridden.

use serde::{Deserialize, Serialize};

use crate::measured::NotMeasured;

/// The question of one back-to-back test, as a set-up sheet keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The one metric that gets a verdict: its key in the read-out.
    pub metric: String,
    /// Which way is better.
    pub direction: Direction,
    /// How differences of this metric are counted.
    pub scale: Scale,
    /// The sections on which it is compared, by name.
    pub sections: Vec<String>,
    /// The smallest difference worth having, over 0: in the metric's unit, or as a share (0.05 is 5 %) on
    /// the logarithmic scale.
    pub worth_having: f64,
}

/// Which way a metric is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// More is better.
    More,
    /// Less is better.
    Less,
}

/// How differences are counted and averaged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scale {
    /// `ln B - ln A`, for a metric that is always positive; told as the share `B / A - 1`.
    Logarithmic,
    /// `B - A`, in the metric's unit, for one that can be zero or negative.
    Plain,
}

impl Plan {
    /// Says what the plan lacks, if something.
    pub fn check(&self) -> Result<(), NotMeasured> {
        if self.sections.is_empty() {
            return Err(NotMeasured::because("the plan names no section"));
        }
        if !(self.worth_having > 0.0 && self.worth_having.is_finite()) {
            return Err(NotMeasured::because("the plan does not say how small a difference is worth having"));
        }
        Ok(())
    }
}

impl Scale {
    /// A value of the metric on this scale; `None` where it has none (missing; not positive, if logarithmic).
    pub fn place(self, value: f64) -> Option<f64> {
        let place = match self {
            Self::Logarithmic if value > 0.0 => value.ln(),
            Self::Logarithmic => return None,
            Self::Plain => value,
        };
        place.is_finite().then_some(place)
    }

    /// The value of the metric at a place on this scale: [`place`](Self::place) undone.
    pub fn value(self, place: f64) -> f64 {
        match self {
            Self::Logarithmic => place.exp(),
            Self::Plain => place,
        }
    }

    /// A difference on this scale as it is told: a share where logarithmic, else as it is.
    pub fn told(self, difference: f64) -> f64 {
        match self {
            Self::Logarithmic => difference.exp_m1(),
            Self::Plain => difference,
        }
    }

    /// A difference as it is told, on this scale: [`told`](Self::told) undone. A share `D` lies at
    /// `+-ln(1 + D)`, whichever of the two is the larger.
    pub fn untold(self, difference: f64) -> f64 {
        match self {
            Self::Logarithmic => difference.ln_1p(),
            Self::Plain => difference,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_and_back() {
        assert!((Scale::Logarithmic.told(Scale::Logarithmic.untold(0.05)) - 0.05).abs() < 1e-15);
        assert_eq!(Scale::Logarithmic.place(0.0), None);
        assert_eq!(Scale::Plain.place(-2.0), Some(-2.0));
        assert_eq!(Scale::Plain.place(f64::NAN), None);
    }

    #[test]
    fn a_sheet_keeps_it() {
        let plan = Plan {
            metric: "pitch_rate_rms_radps".to_owned(),
            direction: Direction::Less,
            scale: Scale::Logarithmic,
            sections: vec!["Rock garden".to_owned()],
            worth_having: 0.05,
        };
        let text = serde_json::to_string(&plan).unwrap();
        assert!(text.contains(r#""direction":"less","scale":"logarithmic""#), "{text}");
        assert_eq!(serde_json::from_str::<Plan>(&text).unwrap(), plan);
        assert!(plan.check().is_ok());
        assert!(Plan { worth_having: 0.0, ..plan.clone() }.check().is_err());
        assert!(Plan { worth_having: f64::NAN, ..plan.clone() }.check().is_err());
        assert!(Plan { sections: Vec::new(), ..plan }.check().is_err());
    }
}
