//! The coloured track in numbers: the channel over each section, or over each tenth of the way.

use std::sync::Arc;

use evenkeel_core::track::Stretch;
use leptos::prelude::*;

use super::channel::Channel;
use super::ground::Values;
use crate::track_view::TrackView;
use crate::words::{fixed, symbol};

/// Parts of the way, each with its name and its times.
fn parts(track: &TrackView) -> Vec<(String, [f64; 2])> {
    let sections = track.sections.iter().filter_map(|placed| {
        let Stretch { start_s, end_s, .. } = *placed.stretch.as_ref().ok()?;
        Some((placed.section.name.clone(), [start_s, end_s]))
    });
    let sections: Vec<_> = sections.collect();
    if !sections.is_empty() {
        return sections;
    }
    let Some([from_m, to_m]) = track.span_m() else { return Vec::new() };
    let place_m = |tenth: u32| from_m + (to_m - from_m) * f64::from(tenth) / 10.0;
    let part = |tenth: u32| {
        let span = [track.time_at(place_m(tenth))?, track.time_at(place_m(tenth + 1))?];
        Some((format!("{} to {} m", fixed(place_m(tenth), 0), fixed(place_m(tenth + 1), 0)), span))
    };
    (0..10).filter_map(part).collect()
}

#[component]
pub fn AsTable(track: Arc<TrackView>, channel: Channel, values: Arc<Values>) -> impl IntoView {
    let digits = if channel.unit.from_si(1.0) > 10.0 { 1 } else { 2 };
    let row = |(name, [start_s, end_s]): (String, [f64; 2])| {
        let inside = track
            .points()
            .zip(&values.pieces)
            .filter(|((t_s, _), _)| (start_s..end_s).contains(t_s))
            .filter_map(|(_, value)| *value);
        let inside: Vec<f64> = inside.collect();
        let fold = |start: f64, of: fn(f64, f64) -> f64| {
            if inside.is_empty() {
                "–".to_owned()
            } else {
                fixed(inside.iter().copied().fold(start, of), digits)
            }
        };
        let (lowest, highest) = (fold(f64::MAX, f64::min), fold(f64::MIN, f64::max));
        view! { <tr><th scope="row">{name}</th><td>{lowest}</td><td>{highest}</td></tr> }
    };
    let rows = parts(&track).into_iter().map(row).collect_view();
    view! {
        <table>
            <thead>
                <tr>
                    <th scope="col">{channel.name}" "<span class="unit">{symbol(channel.unit)}</span></th>
                    <th scope="col">"lowest"</th>
                    <th scope="col">"highest"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}
