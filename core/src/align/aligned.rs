//! All channels of a run on one clock and one grid.

use std::collections::BTreeMap;

use super::{Clock, Grid};
use crate::calibrate::Calibrated;
use crate::role::{Axis, Role};
use crate::signal::{Resolution, is_whole};
use crate::source::Source;

/// The channels of a run, each on the run's grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Aligned {
    /// The grid: from the first row of any file to the last (of a file that holds nothing but GPS only if
    /// there is no other: it may run all day), at the rate of the fastest travel channel
    /// (of the fastest channel where no travel is logged), a whole number of hertz.
    pub grid: Grid,
    channels: BTreeMap<Role, AlignedChannel>,
}

/// One channel on the grid.
#[derive(Clone, Debug, PartialEq)]
pub struct AlignedChannel {
    /// Samples on the grid, SI, NaN where missing.
    pub samples: Vec<f32>,
    /// To be added to every sample; 0 for all but latitude and longitude.
    pub origin: f64,
    /// Name of the file it is from.
    pub source: String,
    /// Index of its column in the file.
    pub column: usize,
    /// The rate at which it was logged, Hz.
    pub native_rate_hz: f64,
    /// What its sensor can tell apart, which the grid no longer shows; looked for in travel and brakes alone.
    pub resolution: Resolution,
    /// Way from one pulse of a wheel to the next, m, where pulses are what its speed was counted from.
    pub pulse_m: Option<f64>,
}

/// One file of a run, ready to be aligned.
#[derive(Clone, Debug)]
pub struct Part<'a> {
    /// The file.
    pub source: &'a Source,
    /// Its channels in SI.
    pub channels: Vec<Calibrated>,
    /// Its clock.
    pub clock: Clock,
}

impl Aligned {
    /// Brings every channel of the parts onto one grid.
    ///
    /// Where two files measure the same, inertial channels come from the file with the fuller triad,
    /// everything else from the faster one. `None` if no part has a channel.
    pub fn new(parts: Vec<Part<'_>>) -> Option<Self> {
        Self::of_living(parts, |_| true)
    }

    /// The same, where a channel that is not `alive` yields to one of another file that is.
    pub fn of_living(mut parts: Vec<Part<'_>>, alive: impl Fn(&Calibrated) -> bool) -> Option<Self> {
        let chosen = choose(&parts, alive);
        let grid = grid(&parts, &chosen)?;
        let on_grid: Vec<bool> =
            parts.iter().map(|part| grid.holds(&part.source.time_s, &part.clock)).collect();
        let channels = chosen
            .into_iter()
            .map(|(role, [part, channel])| {
                let Part { source, ref mut channels, ref clock } = parts[part];
                let Calibrated { rate_hz: native_rate_hz, column, origin, pulse_m, .. } = channels[channel];
                // Given up as soon as it is on the grid: a long run in two forms would fill a browser's memory.
                let logged = std::mem::take(&mut channels[channel].samples);
                let resolution = match role {
                    Role::Brake(_) | Role::Travel(_) => Resolution::of(&logged),
                    _ => Resolution::default(),
                };
                let samples = if on_grid[part] && is_whole(&logged) {
                    logged
                } else {
                    grid.resample_known(&source.time_s, &logged, native_rate_hz, clock)
                };
                let source = source.name.clone();
                (
                    role,
                    AlignedChannel { samples, origin, source, column, native_rate_hz, resolution, pulse_m },
                )
            })
            .collect();
        Some(Self { grid, channels })
    }

    /// One channel.
    pub fn get(&self, role: Role) -> Option<&AlignedChannel> {
        self.channels.get(&role)
    }

    /// The three axes of one sensor, or `None` if one is not logged.
    pub fn triad(&self, role: impl Fn(Axis) -> Role) -> Option<[&[f32]; 3]> {
        let samples = |axis| self.get(role(axis)).map(|channel| channel.samples.as_slice());
        Some([samples(Axis::X)?, samples(Axis::Y)?, samples(Axis::Z)?])
    }

    /// Every channel, by role.
    pub fn iter(&self) -> impl Iterator<Item = (Role, &AlignedChannel)> {
        self.channels.iter().map(|(role, channel)| (*role, channel))
    }
}

/// Part and channel of each role.
type Chosen = BTreeMap<Role, [usize; 2]>;

fn choose(parts: &[Part<'_>], alive: impl Fn(&Calibrated) -> bool) -> Chosen {
    let files = |role: Role| {
        parts.iter().filter(|part| part.channels.iter().any(|channel| channel.role == role)).count()
    };
    // What only one file logs has no rival, and need not be looked at.
    let counts = |channel: &&Calibrated| files(channel.role) < 2 || alive(channel);
    let living: Vec<Vec<Role>> = parts
        .iter()
        .map(|part| part.channels.iter().filter(counts).map(|channel| channel.role).collect())
        .collect();
    let rank = |part: usize, channel: &Calibrated| (axes(&living[part], channel.role), channel.rate_hz);
    let mut chosen = Chosen::new();
    for (number, part) in parts.iter().enumerate() {
        for (index, channel) in part.channels.iter().enumerate() {
            let rival = chosen.get(&channel.role);
            if rival.is_none_or(|&[other, rival]| {
                rank(number, channel) > rank(other, &parts[other].channels[rival])
            }) {
                chosen.insert(channel.role, [number, index]);
            }
        }
    }
    chosen
}

/// How many axes of the same sensor a file has alive.
fn axes(living: &[Role], role: Role) -> usize {
    let same = |other: Role| match (role, other) {
        (Role::Accel(a, _), Role::Accel(b, _)) | (Role::Gyro(a, _), Role::Gyro(b, _)) => a == b,
        _ => role == other,
    };
    living.iter().filter(|other| same(**other)).count()
}

fn grid(parts: &[Part<'_>], chosen: &Chosen) -> Option<Grid> {
    let fastest = |only: fn(Role) -> bool| {
        chosen
            .iter()
            .filter(|(role, _)| only(**role))
            .map(|(_, &[part, channel])| parts[part].channels[channel].rate_hz)
            .reduce(f64::max)
    };
    let rate_hz = fastest(|role| matches!(role, Role::Travel(_))).or_else(|| fastest(|_| true))?;
    let only_gps = |part: &Part<'_>| part.channels.iter().all(|channel| channel.role.is_gps());
    let all_gps = parts.iter().all(only_gps);
    let parts = || parts.iter().filter(|part| all_gps || !only_gps(part));
    let day_s = |part: &Part<'_>, t: Option<&f64>| t.map(|t| part.clock.day_s(*t));
    let start_s = parts().filter_map(|part| day_s(part, part.source.time_s.first())).reduce(f64::min)?;
    let end_s = parts().filter_map(|part| day_s(part, part.source.time_s.last())).reduce(f64::max)?;
    Some(Grid::covering(start_s, end_s, rate_hz.round().max(1.0)))
}
