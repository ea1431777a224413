//! What the rider's arms do: pushes, and how hard the hands load the front.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::hands::{bar_against_frame_mps2, hand_load_mps2};
use super::push::{Push, pushes};
use crate::measured::{Measured, NotMeasured};
use crate::signal::median;

/// The rider's arms over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RiderReadout {
    /// How many pushes begin here: compressions of the fork by the rider, brakes off, bumps taken out.
    pub pushes: Measured<usize>,
    /// Median size of a push, m.
    pub push_size_m: Measured,
    /// Each push.
    pub push_list: Measured<Vec<Push>>,
    /// RMS of vertical acceleration of the bar less the frame's, below 3 Hz about its mean, while rolling,
    /// m/s^2: how hard the hands load the front. The frame's pitching is in it; compare like with like.
    pub hand_load_rms_mps2: Measured,
    /// 95th percentile of its magnitude, m/s^2.
    pub hand_load_p95_mps2: Measured,
}

/// The rider's arms over one run.
pub struct Arms {
    pushes: Result<Vec<(usize, Push)>, NotMeasured>,
    hands_mps2: Result<Vec<f32>, NotMeasured>,
    rolling: Vec<bool>,
}

impl Arms {
    /// Prepares a run.
    pub fn new(basis: &Basis<'_>) -> Self {
        Self {
            pushes: pushes(basis),
            hands_mps2: bar_against_frame_mps2(basis),
            rolling: basis.rolling.clone(),
        }
    }

    /// Reads one stretch.
    pub fn read(&self, range: &Range<usize>) -> RiderReadout {
        let pushes = self.pushes.as_ref().map_err(Clone::clone).map(|found| {
            let here = found.iter().filter(|(start, _)| range.contains(start));
            here.map(|(_, push)| push.clone()).collect::<Vec<_>>()
        });
        let size = pushes.clone().and_then(|pushes| {
            let sizes: Vec<f64> = pushes.iter().map(|push| push.size_m).collect();
            let size = median(&sizes).ok_or_else(|| NotMeasured::because("the rider does not push here"))?;
            Ok(Measured::value(size).with_n(sizes.len()))
        });
        let hands = self.hands_mps2.as_ref().map_err(Clone::clone);
        let hands = hands.and_then(|hands| hand_load_mps2(hands, &self.rolling, range));
        let hand = |k: usize| match &hands {
            Ok((values, n)) => Measured::value(values[k]).with_n(*n),
            Err(reason) => Measured::not(reason.clone()),
        };
        RiderReadout {
            pushes: pushes.clone().map(|pushes| pushes.len()).into(),
            push_size_m: size.unwrap_or_else(Measured::not),
            push_list: pushes.into(),
            hand_load_rms_mps2: hand(0),
            hand_load_p95_mps2: hand(1),
        }
    }
}
