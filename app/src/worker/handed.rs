//! What is handed over and what comes back, the worker's part that needs no samples of the day.

use evenkeel_core::align::Grid;
use evenkeel_core::handover::{Extract, ExtractChannel, Link};
use evenkeel_core::ride::{Trace, Traces};

use super::protocol::{LinkRead, Made, Series};

/// Rates that an extract is tried at where none is given, Hz, beside the run's own.
const RATES_HZ: [f64; 7] = [500.0, 250.0, 100.0, 50.0, 25.0, 10.0, 5.0];
/// What an extract may ask for once it is drawn: more samples than a link holds.
const MOST_SAMPLES: f64 = 2e6;

/// Makes a link, and tells what is in it.
pub fn make(link: &Link) -> Result<Made, String> {
    let fragment = link.fragment().map_err(|refused| refused.to_string())?;
    Ok(Made { fragment, contents: link.contents(), rate_hz: None })
}

/// Makes a link of some traces of a run: at the rate given, else at the highest that no more than so many
/// characters hold.
pub fn make_extract(
    traces: &Traces,
    wanted: &[Trace],
    range_s: [f64; 2],
    rate_hz: Option<f64>,
    characters: usize,
    extract: Extract,
) -> Result<Made, String> {
    let at = |rate_hz: f64| {
        let channels = wanted.iter().map(|&trace| {
            let channel = ExtractChannel::of(traces, trace, range_s, rate_hz);
            channel.map_err(|reason| reason.0)
        });
        let channels = channels.collect::<Result<Vec<_>, _>>()?;
        let made = make(&Link::Extract(Extract { channels, ..extract.clone() }))?;
        Ok::<_, String>(Made { rate_hz: Some(rate_hz), ..made })
    };
    let full_hz = traces.grid().rate_hz;
    if let Some(rate_hz) = rate_hz {
        return at(rate_hz.min(full_hz));
    }
    let slower = RATES_HZ.into_iter().filter(|rate_hz| *rate_hz < full_hz);
    let mut last = Err("no channel is chosen".to_owned());
    for rate_hz in std::iter::once(full_hz).chain(slower) {
        last = at(rate_hz);
        if last.as_ref().is_ok_and(|made| made.fragment.len() <= characters) {
            break;
        }
    }
    last
}

/// A link that was read, and the traces of an extract on the grid that all share.
pub struct Read {
    pub link: LinkRead,
    pub grid: Option<Grid>,
    pub traces: Vec<(Trace, Vec<f32>)>,
}

/// Reads a link.
pub fn read(fragment: &str) -> Result<Read, String> {
    let alone = |link| Read { link, grid: None, traces: Vec::new() };
    let link = Link::read(fragment).ok_or("this is no link of this app; copy all of it, from the # on")?;
    match link.map_err(|refused| refused.to_string())? {
        Link::View(view) => Ok(alone(LinkRead::View(view))),
        Link::Pointer(pointer) => Ok(alone(LinkRead::Pointer(pointer))),
        Link::Extract(extract) => {
            let grid = grid(&extract).ok_or(
                "this link is damaged: its channels do not lie in one stretch of time; ask for it again",
            )?;
            let traces = extract.channels.iter().map(|channel| (channel.trace, on_grid(channel, grid)));
            let traces = traces.collect();
            let series = Series { start_s: 0.0, rate_hz: 1.0, len: 0, traces: Vec::new() };
            Ok(Read { link: LinkRead::Extract { extract, series }, grid: Some(grid), traces })
        }
    }
}

/// From the first sample of all to the last, at the highest rate.
fn grid(extract: &Extract) -> Option<Grid> {
    let end_s = |channel: &ExtractChannel| {
        channel.start_s + channel.samples.len().saturating_sub(1) as f64 / channel.rate_hz
    };
    let channels = || extract.channels.iter().filter(|channel| !channel.samples.is_empty());
    let start_s = channels().map(|channel| channel.start_s).reduce(f64::min)?;
    let last_s = channels().map(end_s).reduce(f64::max)?;
    let rate_hz = channels().map(|channel| channel.rate_hz).reduce(f64::max)?;
    let samples = (last_s - start_s) * rate_hz * extract.channels.len() as f64;
    (start_s.is_finite() && samples.is_finite() && samples <= MOST_SAMPLES)
        .then(|| Grid::covering(start_s, last_s, rate_hz))
}

/// A channel where the grid has its samples; one of another rate shows each until the next.
fn on_grid(channel: &ExtractChannel, grid: Grid) -> Vec<f32> {
    let sample = |k: usize| {
        let place = (grid.time_s(k) - channel.start_s) * channel.rate_hz + 1e-3;
        if place < 0.0 { f32::NAN } else { channel.samples.get(place as usize).copied().unwrap_or(f32::NAN) }
    };
    (0..grid.len).map(sample).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenkeel_core::Role;

    fn channel(start_s: f64, rate_hz: f64, samples: Vec<f32>) -> ExtractChannel {
        let trace = Trace::Logged(Role::Temperature);
        ExtractChannel { trace, start_s, rate_hz, quantum: 0.1, origin: 0.0, samples }
    }

    #[test]
    fn channels_of_one_grid_are_drawn_as_they_are_and_others_held() {
        let extract = Extract {
            channels: vec![
                channel(80.02, 50.0, vec![1.0, f32::NAN, 3.0, 4.0]),
                channel(80.04, 25.0, vec![7.0, 8.0]),
            ],
            ..Extract::default()
        };
        let grid = grid(&extract).unwrap();
        assert_eq!((grid.rate_hz, grid.len), (50.0, 4));
        let first = on_grid(&extract.channels[0], grid);
        assert!(first[1].is_nan() && [first[0], first[2], first[3]] == [1.0, 3.0, 4.0]);
        let second = on_grid(&extract.channels[1], grid);
        assert!(second[0].is_nan() && second[1..] == [7.0, 7.0, 8.0]);
    }

    #[test]
    fn channels_that_lie_far_apart_ask_for_no_memory() {
        for far in [
            channel(1e12, 50.0, vec![1.0]),
            channel(0.0, 1e-9, vec![1.0; 9]),
            channel(f64::NAN, 1.0, vec![1.0]),
        ] {
            let extract =
                Extract { channels: vec![channel(0.0, 50.0, vec![1.0; 9]), far], ..Extract::default() };
            assert!(grid(&extract).is_none() || grid(&extract).unwrap().len <= 9);
        }
        assert!(grid(&Extract::default()).is_none());
    }
}
