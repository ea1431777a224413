//! What the track is coloured by.

use evenkeel_core::Unit;
use evenkeel_core::ride::Trace;

use super::ground::Values;
use crate::ride::rows::joined_rows;
use crate::store::RideView;
use crate::track_view::TrackView;

/// One value in so many lies beyond the colours at each end, so that a start or a spike does not take them all.
const BEYOND: usize = 50;

/// A line of the traces, with its name and the unit it is shown in.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    pub name: String,
    pub trace: Trace,
    pub unit: Unit,
}

/// Those that the run has: speed first.
pub fn channels(ride: &RideView) -> Vec<Channel> {
    let mut channels: Vec<Channel> = joined_rows(|trace| ride.get(trace).is_some())
        .iter()
        .flat_map(|row| {
            let alone = row.lines.len() == 1;
            row.lines.iter().map(move |line| Channel {
                name: if alone || line.name.is_empty() {
                    row.title.to_string()
                } else {
                    format!("{}, {}", row.title, line.name)
                },
                trace: line.trace,
                unit: row.unit,
            })
        })
        .filter(|channel| ride.get(channel.trace).is_some())
        .collect();
    channels.sort_by_key(|channel| channel.trace != Trace::Speed);
    channels
}

/// The mean of a channel over each piece of the track.
pub fn values(ride: &RideView, track: &TrackView, channel: &Channel) -> Option<Values> {
    let samples = ride.get(channel.trace)?;
    let sample =
        |t_s: f64| (((t_s - ride.start_s) * ride.rate_hz).round().max(0.0) as usize).min(samples.len());
    let borders: Vec<usize> = track.points().map(|(t_s, _)| sample(t_s)).collect();
    let mean = |pair: &[usize]| {
        let known = samples[pair[0]..pair[1].max(pair[0])].iter().filter(|v| !v.is_nan());
        let (sum, n) = known.fold((0.0, 0_u32), |(sum, n), v| (sum + f64::from(*v), n + 1));
        (n > 0).then(|| channel.unit.from_si(sum / f64::from(n)))
    };
    let pieces: Vec<Option<f64>> = borders.windows(2).map(mean).collect();
    let mut known: Vec<f64> = pieces.iter().flatten().copied().collect();
    known.sort_by(f64::total_cmp);
    let extremes = [*known.first()?, *known.last()?];
    let beyond = known.len() / BEYOND;
    let range = [known[beyond], known[known.len() - 1 - beyond]];
    Some(Values { pieces, range, extremes })
}
