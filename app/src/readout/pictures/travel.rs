//! How long each end stands how deep, and how fast its axle moves.

use evenkeel_core::{EndReadout, Measured, NotMeasured};
use leptos::prelude::*;

use super::card::{Picture, table};
use super::chart::{Axis, chart, steps};
use crate::words::fixed;

/// The share of time at each depth.
pub fn depth([front, rear]: [&EndReadout; 2]) -> Picture {
    let share = |end: &EndReadout| percent(&end.travel.travel_histogram);
    let tenths = [front, rear].map(|end| percent(&end.travel.time_in_tenths));
    let rows = (0..10).map(|tenth| {
        let of = |end: &Result<Vec<f64>, NotMeasured>| cell(end, tenth);
        vec![format!("{} to {} %", 10 * tenth, 10 * tenth + 10), of(&tenths[0]), of(&tenths[1])]
    });
    let draw = |front: &[f64], rear: &[f64]| {
        let x = Axis::new("travel used", "% of full", [0.0, 100.0]);
        let y = Axis::up_to("time", "%", front.iter().chain(rear).copied());
        let step = (0.0, 100.0 / front.len().max(rear.len()).max(1) as f64);
        let lines = [steps(&x, &y, step, front, "front"), steps(&x, &y, step, rear, "rear")];
        chart("Time at each depth", &x, &y, lines.into_any())
    };
    Picture {
        caption: "How long each end stands how deep, while rolling.",
        drawn: of_both(&share(front), &share(rear), draw),
        table: table(&["travel used", "front, % of time", "rear, % of time"], rows.collect()),
    }
}

/// The share of time at each axle speed, rebound to the left.
pub fn axle_speed([front, rear]: [&EndReadout; 2]) -> Picture {
    const STEP: f64 = 0.25;
    /// Less than this in a hundred is not shown.
    const LEAST: f64 = 0.01;
    let both_ways = |end: &EndReadout| {
        let rebound = percent(&end.axle_speed.rebound_histogram)?;
        let compression = percent(&end.axle_speed.compression_histogram)?;
        Ok(rebound.into_iter().rev().chain(compression).collect::<Vec<f64>>())
    };
    let (front, rear) = (both_ways(front), both_ways(rear));
    let bins = front.as_ref().or(rear.as_ref()).map_or(0, Vec::len);
    let from = -STEP * (bins / 2) as f64;
    let draw = |front: &[f64], rear: &[f64]| {
        let x = Axis::new("axle speed: rebound –, compression +", "m/s", [from, -from]);
        let y = Axis::logarithmic("time each way", "%", [LEAST, 100.0]);
        let lines = [steps(&x, &y, (from, STEP), front, "front"), steps(&x, &y, (from, STEP), rear, "rear")];
        chart("Time at each axle speed", &x, &y, lines.into_any())
    };
    let rows = (0..bins).map(|bin| {
        let low = from + STEP * bin as f64;
        vec![format!("{} to {}", fixed(low, 2), fixed(low + STEP, 2)), cell(&front, bin), cell(&rear, bin)]
    });
    Picture {
        caption: "How fast the axles move: share of the extending time (left) and of the compressing time (right). The outermost step holds all that is faster.",
        table: table(&["m/s", "front, %", "rear, %"], rows.collect()),
        drawn: of_both(&front, &rear, draw),
    }
}

fn percent(shares: &Measured<Vec<f64>>) -> Result<Vec<f64>, NotMeasured> {
    shares.get().map(|shares| shares.iter().map(|share| 100.0 * share).collect())
}

fn cell(values: &Result<Vec<f64>, NotMeasured>, at: usize) -> String {
    values.as_ref().ok().and_then(|values| values.get(at)).map_or("–".to_owned(), |value| fixed(*value, 2))
}

/// Draws what there is of both ends; the reason if there is neither.
pub fn of_both(
    front: &Result<Vec<f64>, NotMeasured>,
    rear: &Result<Vec<f64>, NotMeasured>,
    draw: impl FnOnce(&[f64], &[f64]) -> AnyView,
) -> Result<AnyView, NotMeasured> {
    if let (Err(reason), Err(_)) = (front, rear) {
        return Err(reason.clone());
    }
    let values = |end: &Result<Vec<f64>, NotMeasured>| end.clone().unwrap_or_default();
    Ok(draw(&values(front), &values(rear)))
}
