//! Arms pushed into the bars where the ground falls away, to press the bike into it and take speed along.

use crate::pace::Progress;
use crate::track::{Feature, Track};

/// A habit of pushing at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PushHabit {
    /// Where it begins.
    pub at_m: f64,
    /// How long it takes.
    pub length_s: f64,
    /// Force at its middle, over what the arms carry anyway.
    pub peak_n: f64,
}

/// A push as it happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Push {
    /// When it began.
    pub start_s: f64,
    /// When it ended.
    pub end_s: f64,
    /// The habit behind it.
    pub habit: PushHabit,
}

/// Where a rider pushes: down the far side of rollers, and into the first part of a tight corner.
pub fn usual(track: &Track) -> Vec<PushHabit> {
    const TIGHT_M: f64 = 12.0;
    let rollers = track.rollers.iter().filter_map(|roller| match *roller {
        Feature::Roller { at_m, .. } => Some(PushHabit { at_m: at_m + 0.3, length_s: 0.36, peak_n: 360.0 }),
        _ => None,
    });
    let berms = track.corners.iter().filter(|corner| corner.radius_m < TIGHT_M).map(|corner| PushHabit {
        at_m: corner.start_m + 0.35 * corner.length_m(),
        length_s: 0.42,
        peak_n: 320.0,
    });
    let mut habits: Vec<_> = rollers.chain(berms).collect();
    habits.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
    habits
}

/// Pushes on their way down.
#[derive(Clone, Debug)]
pub(crate) struct Pushes {
    waiting: Vec<PushHabit>,
}

impl Pushes {
    pub(crate) fn new(habits: &[PushHabit]) -> Self {
        Self { waiting: habits.to_vec() }
    }

    /// Force at an instant, and whether a push is under way. A push that begins is put down in `done`; whoever is on
    /// the brakes at its place lets it be.
    pub(crate) fn act(&mut self, now: Progress, braking: bool, done: &mut Vec<Push>) -> Option<f64> {
        self.waiting.retain(|habit| {
            let begins = now.distance_m >= habit.at_m;
            if begins && !braking {
                let start_s = now.time_s - (now.distance_m - habit.at_m) / now.speed_mps.max(1.0);
                done.push(Push { start_s, end_s: start_s + habit.length_s, habit: *habit });
            }
            !begins
        });
        let push = done.last().filter(|push| now.time_s < push.end_s)?;
        let sine = libm::sin(std::f64::consts::PI * (now.time_s - push.start_s) / push.habit.length_s);
        Some(push.habit.peak_n * sine * sine)
    }
}
