//! The day's sections in the run in view: where, how surely, how long.

use evenkeel_core::align::moment;
use evenkeel_core::track::{AlignmentMethod, Section};
use leptos::prelude::*;

use super::follow::show;
use crate::numbers::Figure;
use crate::ride::view::View;
use crate::store::store;
use crate::words::fixed;

#[component]
pub fn SectionTable(sections: Memo<Vec<Section>>, view: RwSignal<View>) -> impl IntoView {
    let row = move |section: Section| view! { <SectionRow section view/> };
    view! {
        <table class="section-table">
            <thead>
                <tr>
                    <th scope="col">"Section"</th>
                    <th scope="col">"from"</th>
                    <th scope="col">"to, m"</th>
                    <th scope="col">"found to"</th>
                    <th scope="col">"time"</th>
                </tr>
            </thead>
            <tbody>{move || sections.get().into_iter().map(row).collect_view()}</tbody>
        </table>
        <Method/>
    }
}

#[component]
fn SectionRow(section: Section, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let Section { name, start_m, end_m, no_braking } = section;
    let (own, chosen, placed_name, key) = (name.clone(), name.clone(), name.clone(), name.clone());
    let shown = Memo::new(move |_| store.section.with(|shown| shown.as_ref() == Some(&own)));
    let placed = Memo::new(move |_| {
        let track = store.track.get()?;
        let placed = track.sections.iter().find(|placed| placed.section.name == placed_name)?;
        Some(placed.stretch.clone())
    });
    let found = move || match placed.get() {
        None => view! { <td>"…"</td><td class="time">"…"</td> }.into_any(),
        Some(Err(reason)) => view! { <td></td>{Figure::not(reason).classed("time")} }.into_any(),
        Some(Ok(stretch)) => {
            let exact = |metres: f64| {
                if metres < 0.05 { "exact".to_owned() } else { format!("±{metres:.1}\u{a0}m") }
            };
            let to = stretch.uncertainty_m.map_or("–".to_owned(), exact);
            let time = Figure::of(&stretch.time_s, |time_s| moment::format(*time_s, 0.01));
            view! { <td>{to}</td>{time.classed("time")} }.into_any()
        }
    };
    view! {
        <tr data-section=key class:chosen=move || shown.get()>
            <th scope="row">
                <button
                    aria-pressed=move || shown.get().to_string()
                    title="show it in traces, track and numbers"
                    on:click=move |_| show(store, view, Some(chosen.clone()).filter(|_| !shown.get_untracked()))
                >
                    {name}
                </button>
                {no_braking.then_some(view! { <small class="quiet">"no braking"</small> })}
            </th>
            <td>{fixed(start_m, 0)}</td>
            <td>{fixed(end_m, 0)}</td>
            {found}
        </tr>
    }
}

/// How the run was laid over the one in which the sections were made, or why it could not be.
#[component]
fn Method() -> impl IntoView {
    let store = store();
    let words = move || {
        store.track.with(|track| match track.as_ref()?.method.as_ref()? {
            Ok(AlignmentMethod::Reference) => Some("This is the run in which they were made.".to_owned()),
            Ok(AlignmentMethod::Curvature) => Some(
                "Found in this run by how the track bends. A place that is off can be corrected: choose the section."
                    .to_owned(),
            ),
            Ok(AlignmentMethod::Rescaled(why)) => Some(format!("Found in this run by distance alone: {why}.")),
            Err(why) => Some(format!("Not found in this run: {}.", why.0)),
        })
    };
    view! { <p class="quiet note" id="section-method">{words}</p> }
}
