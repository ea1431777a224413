//! How the bike was set up, and what had been changed.

use evenkeel_core::setup::{ChangeKind, Descent, Entry, Item, Part, SetupSheet};
use evenkeel_core::{Day, End};
use leptos::prelude::*;

use super::fitting;

/// So many lines of its owner's have room.
const OWN_LINES: usize = 5;
const CHANGES: usize = 4;

pub fn setup(day: &Day, run: Descent) -> AnyView {
    let Some(sheet) = day.sheet(run).map(|run| run.setup.clone()) else { return ().into_any() };
    let changed = changed(day, run);
    view! {
        <h2>"Set-up"</h2>
        {if sheet.is_blank() { view! { <p>"Not written."</p> }.into_any() } else { table(&sheet) }}
        {(!changed.is_empty()).then(|| view! { <h2>"Changed before this run"</h2><p>{changed}</p> })}
    }
    .into_any()
}

fn table(sheet: &SetupSheet) -> AnyView {
    let at = |item: Item| sheet.get(item).map(|entry: &Entry| fitting(&entry.to_string(), 24));
    let rows = Part::ALL.into_iter().filter_map(|part| {
        let ends = [End::Front, End::Rear].map(|end| at(Item::At(end, part)));
        if ends.iter().all(Option::is_none) {
            return None;
        }
        let cells = ends.map(|entry| view! { <td>{entry.unwrap_or_else(|| "–".to_owned())}</td> });
        Some(view! { <tr><th scope="row">{part.name()}</th>{cells.into_iter().collect_view()}</tr> })
    });
    let bars = at(Item::BarHeight).map(|height| ("bar height".to_owned(), height));
    let own = sheet
        .lines
        .iter()
        .take(OWN_LINES)
        .map(|line| (fitting(&line.name, 24), fitting(&format!("{} {}", line.value, line.unit), 40)));
    let more = sheet.lines.len().saturating_sub(OWN_LINES);
    let more = (more > 0).then(|| (String::new(), format!("{more} more lines on the screen")));
    let wide = bars.into_iter().chain(own).chain(more);
    let wide =
        wide.map(|(name, value)| view! { <tr><th scope="row">{name}</th><td colspan="2">{value}</td></tr> });
    view! {
        <table>
            <thead><tr><td></td><th scope="col">"front"</th><th scope="col">"rear"</th></tr></thead>
            <tbody>{rows.collect_view()}{wide.collect_view()}</tbody>
        </table>
    }
    .into_any()
}

fn changed(day: &Day, run: Descent) -> String {
    let changes = day.changes_before(run);
    let adjusted: Vec<_> = changes.iter().filter(|change| change.kind == ChangeKind::Adjusted).collect();
    let more = adjusted.len().saturating_sub(CHANGES);
    let words = adjusted.iter().take(CHANGES).map(|change| fitting(&change.to_string(), 110));
    let more = (more > 0).then(|| format!("{more} more"));
    words.chain(more).collect::<Vec<_>>().join("; ")
}
