//! What changed on the bike since the run before, and what is to be heeded.

use std::collections::BTreeSet;

use evenkeel_core::setup::{ChangeKind, Descent, caution};
use leptos::prelude::*;

use crate::store::store;

#[component]
pub fn Changed(run: Descent) -> impl IntoView {
    let store = store();
    let lines = Memo::new(move |_| {
        store.day.with(|day| {
            let changes = day.changes_before(run).into_iter();
            changes
                .map(|change| (change.kind == ChangeKind::Adjusted, change.to_string()))
                .collect::<Vec<_>>()
        })
    });
    let none = Memo::new(move |_| store.day.with(|day| nothing_changed(day, run)));
    let warning = Memo::new(move |_| store.day.with(|day| day.warn_of_two_at_once(run)));
    let cautions = Memo::new(move |_| {
        let adjusted = store.day.with(|day| day.changes_before(run));
        let items = adjusted.iter().filter(|change| change.kind == ChangeKind::Adjusted);
        items.filter_map(|change| change.item.and_then(caution)).collect::<BTreeSet<_>>()
    });
    // Before the run is when they help.
    let shown = matches!(run, Descent::Coming(_));
    view! {
        <div class="changed" aria-label="Changed before this run" role="group">
            {move || none.get().map(|words| view! { <p class="quiet">{words}</p> })}
            <ul>
                {move || {
                    let line = |(adjusted, words): (bool, String)| view! { <li class:quiet=!adjusted>{words}</li> };
                    lines.get().into_iter().map(line).collect_view()
                }}
            </ul>
            <div aria-live="polite">
                {move || warning.get().map(|words| view! { <p class="two-at-once">{words}</p> })}
            </div>
            {move || {
                let line = |words| view! { <p class="heed">{words}</p> };
                shown.then(|| cautions.get().into_iter().map(line).collect_view())
            }}
        </div>
    }
}

/// What stands where no change is listed.
fn nothing_changed(day: &evenkeel_core::Day, run: Descent) -> Option<String> {
    let before = day.run_before(run)?;
    let blank = |run| day.sheet(run).is_none_or(|sheet| sheet.setup.is_blank());
    if !day.changes_before(run).is_empty() {
        return None;
    }
    Some(match (blank(run), blank(before)) {
        (true, _) => "Its set-up is not written.".to_owned(),
        (false, true) => {
            format!("Nothing to compare: the set-up of {} is not written.", day.run_name(before))
        }
        (false, false) => format!("Set up as {}.", day.run_name(before)),
    })
}
