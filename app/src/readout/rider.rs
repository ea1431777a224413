//! From the rider's words to what was measured.

use std::sync::Arc;

use evenkeel_core::{RunReadout, SectionReadout};
use leptos::prelude::*;

use crate::complaints::{Complaint, Nearest};
use crate::numbers::Figure;
use crate::ride::RowSet;
use crate::store::store;

#[component]
pub fn RiderSaid(readout: Memo<Option<Arc<RunReadout>>>) -> impl IntoView {
    let store = store();
    let words = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| day.runs.get(run).map(|run| run.words.clone())).unwrap_or_default()
    });
    // What the words name is looked at at once; another run has other words.
    let chosen = RwSignal::new(None::<Complaint>);
    Effect::new(move |_| {
        let first = Complaint::offered(&words.get()).into_iter().find(|(_, said)| *said);
        chosen.set(first.map(|(complaint, _)| complaint));
    });
    let buttons = move || {
        let button = |(complaint, said): (Complaint, bool)| {
            let pressed = move || (chosen.get() == Some(complaint)).to_string();
            let toggle =
                move |_| chosen.update(|chosen| *chosen = (*chosen != Some(complaint)).then_some(complaint));
            view! {
                <button class="complaint" class:said=said aria-pressed=pressed on:click=toggle>
                    {complaint.words()}
                    {said.then(|| view! { <small>" – said"</small> })}
                </button>
            }
        };
        Complaint::offered(&words.get()).into_iter().map(button).collect_view()
    };
    view! {
        <section class="rider-said" aria-label="What the rider said">
            <h2>"What the rider said"</h2>
            {move || match words.get() {
                words if words.trim().is_empty() => view! { <p class="quiet">"Nothing is written for this run. What was felt?"</p> }.into_any(),
                words => view! { <blockquote>{words}</blockquote> }.into_any(),
            }}
            <div class="buttons">{buttons}</div>
            <div aria-live="polite">
                {move || {
                    let complaint = chosen.get()?;
                    let run = readout.get()?;
                    Some(view! { <Answer complaint run/> })
                }}
            </div>
        </section>
    }
}

/// What is measured of a complaint.
#[component]
fn Answer(complaint: Complaint, run: Arc<RunReadout>) -> impl IntoView {
    let store = store();
    let found: Vec<_> = run
        .findings
        .iter()
        .filter(|finding| complaint.findings().contains(&finding.kind))
        .map(|finding| view! { <li>{finding.statement.clone()}</li> })
        .collect();
    let found = if found.is_empty() {
        view! { <p><b>"Nothing measured supports this."</b></p> }.into_any()
    } else {
        view! { <p><b>"Found in this run:"</b></p><ul>{found}</ul> }.into_any()
    };
    let to_rows = move |span: [f64; 2]| {
        store.rows.update(|choice| choice.set = RowSet::For(complaint));
        store.show_in_ride(store.run.get_untracked(), span);
    };
    let whole = run.sections.first().map(|whole| [whole.start_s, whole.end_s]);
    view! {
        <div class="answer">
            {found}
            {complaint.undecided().map(|words| view! { <p>{words}</p> })}
            <p class="quiet">{complaint.look_for()}</p>
            <Places nearest=complaint.nearest() run=Arc::clone(&run) go=Callback::new(to_rows)/>
            {whole.map(|whole| view! { <button on:click=move |_| to_rows(whole)>"Its rows in Ride"</button> })}
        </div>
    }
}

/// The sections in which what is nearest to the complaint is most.
#[component]
fn Places(nearest: &'static [Nearest], run: Arc<RunReadout>, go: Callback<[f64; 2]>) -> impl IntoView {
    const SHOWN: usize = 4;
    let most = |section: &SectionReadout| {
        let values = nearest.iter().filter_map(|nearest| (nearest.of)(section).get().ok().copied());
        values.fold(f64::MIN, |most, value| most.max(value.abs()))
    };
    let mut sections: Vec<_> = run.sections.iter().collect();
    if sections.len() > 1 {
        sections.remove(0);
    }
    sections.sort_by(|a, b| most(b).total_cmp(&most(a)));
    let rows = sections.into_iter().take(SHOWN).map(|section| {
        let span = [section.start_s, section.end_s];
        let name = if section.name == "run" { "whole run".to_owned() } else { section.name.clone() };
        let cells = nearest.iter().map(|nearest| {
            let measured = (nearest.of)(section);
            match nearest.unit {
                Some(unit) => Figure::quantity(measured, unit),
                None => Figure::percent(measured),
            }
            .cell()
        });
        view! {
            <tr>
                <th scope="row"><button class="moment" title="See it in Ride" on:click=move |_| go.run(span)>{name}</button></th>
                {cells.collect_view()}
            </tr>
        }
    });
    let names = nearest.iter().map(|nearest| view! { <th scope="col">{nearest.name}</th> }).collect_view();
    view! {
        <div class="numbers"><table class="places">
            <thead><tr><th scope="col">"where it is most"</th>{names}</tr></thead>
            <tbody>{rows.collect_view()}</tbody>
        </table></div>
    }
}
