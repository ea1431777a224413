//! Which runs of the day are handed over.

use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use crate::store::store;

/// Ticks, one a run; `left_out` holds those without one, so that a run that is loaded later goes with the rest.
#[component]
pub fn ChosenRuns(left_out: RwSignal<Vec<usize>>) -> impl IntoView {
    let store = store();
    let names = Memo::new(move |_| {
        store
            .day
            .with(|day| (0..day.runs.len()).map(|run| day.run_name(Descent::Ridden(run))).collect::<Vec<_>>())
    });
    let tick = move |(run, name): (usize, String)| {
        view! {
            <label class="tick">
                <input
                    type="checkbox"
                    prop:checked=move || left_out.with(|out| !out.contains(&run))
                    on:change:target=move |event| left_out.update(|out| {
                        out.retain(|other| *other != run);
                        if !event.target().checked() {
                            out.push(run);
                        }
                    })
                />
                {name}
            </label>
        }
    };
    view! {
        <fieldset class="ticks">
            <legend>"Runs"</legend>
            {move || names.get().into_iter().enumerate().map(tick).collect_view()}
        </fieldset>
    }
}

/// The runs that are left in.
pub fn chosen(runs: usize, left_out: &[usize]) -> Vec<usize> {
    (0..runs).filter(|run| !left_out.contains(run)).collect()
}
