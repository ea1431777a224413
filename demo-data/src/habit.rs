//! What the rider does at certain places of a track, over and above riding to the speed plan.

/// A lever on the bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lever {
    /// Front brake.
    Front,
    /// Rear brake.
    Rear,
}

/// Something done at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Habit {
    /// A lever pulled: a short hard stab, or one that is lightly held for seconds.
    Pull {
        /// Which one.
        lever: Lever,
        /// Where it begins.
        at_m: f64,
        /// How long.
        length_s: f64,
        /// Pressure at the lever. The speed plan may ask for more.
        bar: f64,
    },
    /// Arms pushed into the bars, brakes off, to press the bike into the ground.
    Push {
        /// Where it begins.
        at_m: f64,
        /// How long.
        length_s: f64,
        /// Force at its middle, over what the arms carry anyway.
        peak_n: f64,
    },
}

impl Habit {
    fn at_m(&self) -> f64 {
        match *self {
            Self::Pull { at_m, .. } | Self::Push { at_m, .. } => at_m,
        }
    }

    fn length_s(&self) -> f64 {
        match *self {
            Self::Pull { length_s, .. } | Self::Push { length_s, .. } => length_s,
        }
    }
}

/// A push as it happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Push {
    /// When it began.
    pub start_s: f64,
    /// When it ended.
    pub end_s: f64,
    /// Where it began.
    pub at_m: f64,
    /// Its largest force.
    pub peak_n: f64,
}

/// What the habits ask for at one instant.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// Front lever, at least.
    pub front_bar: f64,
    /// Rear lever, at least.
    pub rear_bar: f64,
    /// Push on the bars.
    pub hands_n: f64,
    /// A push is under way: no braking.
    pub pushing: bool,
}

/// Habits on their way down.
#[derive(Clone, Debug)]
pub struct Habits {
    habits: Vec<(Habit, Option<f64>)>,
}

impl Habits {
    /// None begun yet.
    pub fn new(habits: &[Habit]) -> Self {
        Self { habits: habits.iter().map(|habit| (*habit, None)).collect() }
    }

    /// What they ask for; a push that begins is put down in `pushes`. A rider on the brakes does not push.
    pub fn act(&mut self, time_s: f64, distance_m: f64, braking: bool, pushes: &mut Vec<Push>) -> Asked {
        let mut asked = Asked::default();
        for (habit, begun_s) in &mut self.habits {
            if begun_s.is_none() && distance_m >= habit.at_m() {
                *begun_s = Some(time_s);
                if let Habit::Push { at_m, length_s, peak_n } = *habit {
                    if braking {
                        *begun_s = Some(f64::NEG_INFINITY);
                    } else {
                        pushes.push(Push { start_s: time_s, end_s: time_s + length_s, at_m, peak_n });
                    }
                }
            }
            let Some(share) = begun_s.map(|begun_s| (time_s - begun_s) / habit.length_s()) else { continue };
            if !(0.0..1.0).contains(&share) {
                continue;
            }
            match *habit {
                Habit::Pull { lever: Lever::Front, bar, .. } => asked.front_bar = asked.front_bar.max(bar),
                Habit::Pull { lever: Lever::Rear, bar, .. } => asked.rear_bar = asked.rear_bar.max(bar),
                Habit::Push { peak_n, .. } => {
                    let sine = libm::sin(std::f64::consts::PI * share);
                    asked.hands_n += peak_n * sine * sine;
                    asked.pushing = true;
                }
            }
        }
        asked
    }
}
