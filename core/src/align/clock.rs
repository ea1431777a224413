//! One source's clock against the day's.

use serde::{Deserialize, Serialize};

/// `t_day = t_source * (1 + drift) + offset`; the default is a clock that already shows day time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Day time at the source's zero, s.
    pub offset_s: f64,
    /// Share by which the source's seconds are longer than the day's (1e-6 is one ppm).
    pub drift: f64,
}

impl Clock {
    /// Day time of a moment on this source's clock, s.
    pub fn day_s(&self, source_s: f64) -> f64 {
        source_s * (1.0 + self.drift) + self.offset_s
    }

    /// This source's time of a moment of the day, s.
    pub fn source_s(&self, day_s: f64) -> f64 {
        (day_s - self.offset_s) / (1.0 + self.drift)
    }

    /// The clock that shows what `next` makes of this one's day time.
    pub fn then(&self, next: &Self) -> Self {
        Self { offset_s: next.day_s(self.offset_s), drift: (1.0 + self.drift) * (1.0 + next.drift) - 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_and_one_after_another() {
        let clock = Clock { offset_s: 12.5, drift: 40e-6 };
        assert!((clock.day_s(100.0) - 112.504).abs() < 1e-9);
        assert!((clock.source_s(clock.day_s(77.0)) - 77.0).abs() < 1e-9);
        let next = Clock { offset_s: -3.0, drift: -90e-6 };
        assert!((clock.then(&next).day_s(50.0) - next.day_s(clock.day_s(50.0))).abs() < 1e-9);
        assert_eq!(Clock::default().day_s(4.25), 4.25);
    }
}
