//! Earlier days on the same hill: repeats of one setup, from which the scatter from run to run is known.
//!
//! Only what was ridden; what an analysis made of it is for the analysis to say.

use crate::bike::Setup;
use crate::day::{Plan, Recording};
use crate::random::Random;

/// One earlier run.
#[derive(Clone, Debug)]
pub struct Earlier {
    /// The day's name.
    pub day: &'static str,
    /// The day's date, ISO 8601.
    pub date: &'static str,
    /// Which setup of [`setups`].
    pub setup: usize,
    /// The run.
    pub plan: Plan,
}

/// The setups that were ridden: the winter's, the one with faster rear rebound, and the first with a little more fork
/// compression.
pub fn setups() -> [Setup; 3] {
    let winter = Setup { shock_rebound_clicks: 3, ..Setup::default() };
    [winter, Setup { shock_rebound_clicks: 8, ..winter }, Setup { fork_slow_compression_clicks: 6, ..winter }]
}

/// What their owner calls the [`setups`].
pub const SETUP_NAMES: [&str; 3] =
    ["winter", "rear rebound 5 clicks faster", "fork slow compression 2 clicks firmer"];

/// Days with the setup of each of their runs.
const DAYS: [(&str, &str, &[usize]); 5] = [
    ("Harrowdean Bank, first dry weekend", "2025-04-12", &[0, 0, 0, 0, 0, 0]),
    ("Harrowdean Bank, evening laps", "2025-05-21", &[0, 0, 0, 0]),
    ("Harrowdean Bank, club practice", "2025-06-14", &[0, 0, 0, 2, 2, 0]),
    ("Harrowdean Bank, dusty Sunday", "2025-08-03", &[0, 0, 0, 0, 0]),
    ("Harrowdean Bank, autumn practice", "2025-09-27", &[1, 1, 0, 0, 1, 1]),
];

const NAMES: [&str; 6] = ["Run 1", "Run 2", "Run 3", "Run 4", "Run 5", "Run 6"];

/// All earlier runs, in order of time.
pub fn runs() -> Vec<Earlier> {
    let setups = setups();
    DAYS.iter()
        .enumerate()
        .flat_map(|(number, (day, date, ridden))| {
            ridden.iter().zip(NAMES).enumerate().map(move |(index, (&setup, name))| {
                let seed = 1000 + 10 * number as u64 + index as u64;
                let mut random = Random::new(seed, 80);
                let first = index == 0;
                Earlier {
                    day,
                    date,
                    setup,
                    plan: Plan {
                        name,
                        time_of_day: "",
                        change: match setup {
                            1 => "rear rebound 5 clicks faster",
                            2 => "fork slow compression 2 clicks firmer",
                            _ => "as it was",
                        },
                        words: if first { "Still finding the lines." } else { "" },
                        setup: setups[setup],
                        // Warming up, and never equally fast twice.
                        pace: if first { 0.985 } else { 0.995 } + 0.007 * random.normal().clamp(-2.0, 2.0),
                        seed,
                    },
                }
            })
        })
        .collect()
}

/// Degrees of freedom of the scatter within days, pooled: runs less setups of each day.
pub fn degrees_of_freedom() -> usize {
    let setups = |ridden: &[usize]| (0..setups().len()).filter(|setup| ridden.contains(setup)).count();
    DAYS.iter().map(|(_, _, ridden)| ridden.len() - setups(ridden)).sum()
}

/// Rides and logs the k-th earlier run, counted from 0.
pub fn record(k: usize) -> Option<Recording> {
    runs().get(k).map(|earlier| earlier.plan.record())
}
