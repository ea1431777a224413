//! How each end comes back from hits of each size.

use evenkeel_core::ride::Recovery;
use evenkeel_core::{End, EndReadout, Measured};
use leptos::prelude::*;

use super::card::{Picture, table};
use super::chart::{Axis, chart, interval};
use crate::words::fixed;

const SIZES: [&str; 4] = ["all hits", "small", "middle", "large"];

fn sizes(end: &EndReadout) -> [&Recovery; 4] {
    let recovery = &end.recovery;
    let by = &recovery.recovery_by_stroke;
    [&recovery.all, &by.small, &by.middle, &by.large]
}

/// How long until an end is back: the median.
pub fn time(ends: [&EndReadout; 2]) -> Picture {
    let shown = ends.map(|end| sizes(end).map(|recovery| &recovery.recovery_p50_s));
    of(
        "time to come back, median",
        "ms",
        1e3,
        "How long until an end is back at its ride height: the median, with its 95 % interval. Small hits use less than a quarter of the travel, large ones more than half.",
        shown,
    )
}

/// How many hits are met by the next before the end is back.
pub fn share(ends: [&EndReadout; 2]) -> Picture {
    let shown = ends.map(|end| sizes(end).map(|recovery| &recovery.not_recovered_share));
    of(
        "hits not recovered",
        "%",
        1e2,
        "How many hits are met by the next one before the end is back, with the 95 % interval.",
        shown,
    )
}

fn of(
    name: &'static str,
    unit: &'static str,
    per_si: f64,
    caption: &'static str,
    ends: [[&Measured; 4]; 2],
) -> Picture {
    let rows = SIZES.iter().enumerate().map(|(i, size)| {
        let cell = |measured: &Measured| match (measured.get(), measured.interval()) {
            (Ok(value), Some([low, high])) => format!(
                "{} ({} to {})",
                fixed(value * per_si, 0),
                fixed(low * per_si, 0),
                fixed(high * per_si, 0)
            ),
            (Ok(value), None) => fixed(value * per_si, 0),
            (Err(reason), _) => reason.to_string(),
        };
        vec![(*size).to_owned(), cell(ends[0][i]), cell(ends[1][i])]
    });
    let values =
        || ends.iter().flatten().filter_map(|measured| Some((measured.get().ok()?, measured.interval())));
    let most = values().map(|(value, interval)| per_si * interval.map_or(*value, |[_, high]| *high));
    let drawn = match ends[0][0].get() {
        Err(reason) if values().next().is_none() => Err(reason.clone()),
        _ => {
            let x = Axis::of_kinds("size of the hit", &SIZES);
            let y = Axis::up_to(name, unit, most);
            let marks = End::BOTH.into_iter().zip(ends).flat_map(|(end, sizes)| {
                let (x, y) = (x.clone(), y.clone());
                sizes.into_iter().enumerate().filter_map(move |(i, measured)| {
                    let value = measured.get().ok()? * per_si;
                    let between = measured.interval().map(|[low, high]| [low * per_si, high * per_si]);
                    Some(interval(&x, &y, i as f64, end, value, between))
                })
            });
            Ok(chart(name, &x, &y, marks.collect::<Vec<_>>().into_any()))
        }
    };
    Picture { caption, drawn, table: table(&["hits", "front", "rear"], rows.collect()) }
}
