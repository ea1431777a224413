//! Sensors and clocks: what stands between the truth and a logger's text.

use crate::random::Random;
use crate::truth::RECORD_HZ;

/// A clock that is off and runs at its own pace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    /// What it shows at true time 0.
    pub offset_s: f64,
    /// How much too fast it runs.
    pub drift_ppm: f64,
}

impl Clock {
    /// What it shows.
    pub fn shown_s(&self, true_s: f64) -> f64 {
        self.offset_s + true_s * (1.0 + 1e-6 * self.drift_ppm)
    }

    /// When it shows it.
    pub fn true_s(&self, shown_s: f64) -> f64 {
        (shown_s - self.offset_s) / (1.0 + 1e-6 * self.drift_ppm)
    }
}

/// One channel's imperfections, in the unit that the logger writes.
#[derive(Clone, Copy, Debug)]
pub struct Sensor {
    /// Constant error.
    pub bias: f64,
    /// Standard deviation of the noise of a sample.
    pub noise: f64,
    /// Smallest step.
    pub count: f64,
    /// Largest magnitude that it can show.
    pub range: f64,
}

impl Sensor {
    /// What it shows of a value.
    pub fn reading(&self, value: f64, random: &mut Random) -> f64 {
        let shown = (value + self.bias + self.noise * random.normal()).clamp(-self.range, self.range);
        // Adding zero turns a negative zero into a plain one.
        (shown / self.count).round() * self.count + 0.0
    }
}

/// What is wrong with a channel beyond the imperfections of a good sensor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Trouble {
    /// Nothing.
    #[default]
    None,
    /// Its zero moves at a place of the track.
    Shifted {
        /// By how much, in the unit that the logger writes.
        by: f64,
        /// Where.
        from_m: f64,
    },
    /// Fitted the wrong way round: reads what is left of its range.
    Inverted {
        /// The range.
        full: f64,
    },
    /// Stays at what it showed at a place of the track.
    Stuck {
        /// Where; negative infinity for the whole recording.
        from_m: f64,
    },
}

impl Trouble {
    /// Where it sets in.
    pub fn from_m(self) -> f64 {
        match self {
            Self::None | Self::Inverted { .. } => f64::NEG_INFINITY,
            Self::Shifted { from_m, .. } | Self::Stuck { from_m } => from_m,
        }
    }

    /// What a sensor shows of a value while the trouble lasts; `stuck` is what the value was when it set in. Draws the
    /// same noise whatever is wrong.
    pub fn reading(self, sensor: &Sensor, value: f64, stuck: f64, random: &mut Random) -> f64 {
        let felt = match self {
            Self::None | Self::Stuck { .. } => value,
            Self::Shifted { by, .. } => value + by,
            Self::Inverted { full } => full - value,
        };
        let shown = sensor.reading(felt, random);
        match self {
            Self::Stuck { .. } => ((stuck + sensor.bias) / sensor.count).round() * sensor.count + 0.0,
            _ => shown,
        }
    }
}

/// Value of a truth series at a time, by linear interpolation.
pub fn at(series: &[f32], time_s: f64) -> f64 {
    let place = (time_s * RECORD_HZ).clamp(0.0, (series.len().saturating_sub(2)) as f64);
    let index = place as usize;
    let share = place - index as f64;
    let (a, b) = (f64::from(series[index]), f64::from(series[(index + 1).min(series.len() - 1)]));
    a + (b - a) * share
}

/// The same for a series of f64.
pub fn at_f64(series: &[f64], time_s: f64) -> f64 {
    let place = (time_s * RECORD_HZ).clamp(0.0, (series.len().saturating_sub(2)) as f64);
    let index = place as usize;
    let (a, b) = (series[index], series[(index + 1).min(series.len() - 1)]);
    a + (b - a) * (place - index as f64)
}

/// Mean over a window around a time, as a slow converter makes it.
pub fn mean(series: &[f32], time_s: f64, window_s: f64) -> f64 {
    let last = series.len() - 1;
    let index = |time_s: f64| ((time_s * RECORD_HZ).round().max(0.0) as usize).min(last);
    let window = &series[index(time_s - 0.5 * window_s)..=index(time_s + 0.5 * window_s)];
    window.iter().map(|value| f64::from(*value)).sum::<f64>() / window.len() as f64
}

/// A direction of the bike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// +x.
    Forward,
    /// -x.
    Backward,
    /// +y.
    Left,
    /// -y.
    Right,
    /// +z.
    Up,
    /// -z.
    Down,
}

impl Direction {
    /// The component of a vector in bike axes along this direction.
    pub fn of(self, [x, y, z]: [f64; 3]) -> f64 {
        match self {
            Self::Forward => x,
            Self::Backward => -x,
            Self::Left => y,
            Self::Right => -y,
            Self::Up => z,
            Self::Down => -z,
        }
    }

    /// As written in the day's description.
    pub fn name(self) -> &'static str {
        match self {
            Self::Forward => "forward",
            Self::Backward => "backward",
            Self::Left => "left",
            Self::Right => "right",
            Self::Up => "up",
            Self::Down => "down",
        }
    }
}

/// How a unit is bolted on: where its axes point, and by how much that is missed.
#[derive(Clone, Copy, Debug)]
pub struct Mount {
    /// Where the unit's x, y and z point.
    pub axes: [Direction; 3],
    /// Tilt of the unit about the bike's y axis, + nose down; small.
    pub pitch_error_rad: f64,
    /// Tilt about the bike's x axis; small.
    pub roll_error_rad: f64,
}

impl Mount {
    /// A vector of the bike as the unit sees it.
    pub fn seen(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        let (pitch, roll) = (self.pitch_error_rad, self.roll_error_rad);
        let tilted = [x - pitch * z, y + roll * z, z + pitch * x - roll * y];
        self.axes.map(|direction| direction.of(tilted))
    }
}
