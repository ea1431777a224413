//! The sections over the traces: a band with a name for each, and its edges through the rows.

use evenkeel_core::track::Stretch;
use leptos::prelude::*;

use super::follow::show;
use crate::ride::view::View;
use crate::store::store;

/// A section that the run passes, with its times.
type Passed = (String, [f64; 2]);

/// The bands, above the plot.
#[component]
pub fn SectionBands(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let passed = passed();
    let band = move |(name, span): Passed| {
        let (own, chosen, title) = (name.clone(), name.clone(), name.clone());
        let in_view = move |view: View| span[1] > view.start_s && span[0] < view.end_s;
        view! {
            <button
                tabindex="-1"
                aria-current=move || store.section.with(|shown| shown.as_ref() == Some(&own)).then_some("true")
                title=title
                hidden=move || !in_view(view.get())
                style:left=move || across(view.get(), span[0])
                style:width=move || format!("{:.3}%", (span[1] - span[0]) / view.get().span_s() * 100.0)
                on:click=move |_| show(store, view, Some(chosen.clone()))
            >
                {name}
            </button>
        }
    };
    // What a pointer does here can be done by keyboard in the table of sections.
    move || {
        passed.get().map(|passed| {
            view! {
                <div class="section-corner" aria-hidden="true">"Sections"</div>
                <div class="section-bands" role="group" aria-label="Sections in view">
                    {passed.into_iter().map(band).collect_view()}
                </div>
            }
        })
    }
}

/// Where one section ends and the next begins, through the rows.
#[component]
pub fn SectionEdges(view: RwSignal<View>) -> impl IntoView {
    let passed = passed();
    let line = move |t_s: f64| {
        let shown = move || (0.0..=1.0).contains(&view.get().place(t_s));
        view! { <i class="section-edge" hidden=move || !shown() style:left=move || across(view.get(), t_s)></i> }
    };
    move || {
        let mut edges_s: Vec<f64> = passed.get()?.iter().flat_map(|(_, span)| *span).collect();
        edges_s.sort_by(f64::total_cmp);
        edges_s.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
        Some(edges_s.into_iter().map(line).collect_view())
    }
}

fn passed() -> Memo<Option<Vec<Passed>>> {
    let store = store();
    Memo::new(move |_| {
        let track = store.track.get()?;
        let passed = track.sections.iter().filter_map(|placed| {
            let Stretch { start_s, end_s, .. } = *placed.stretch.as_ref().ok()?;
            Some((placed.section.name.clone(), [start_s, end_s]))
        });
        Some(passed.collect::<Vec<Passed>>()).filter(|passed| !passed.is_empty())
    })
}

fn across(view: View, t_s: f64) -> String {
    format!("{:.3}%", view.place(t_s) * 100.0)
}
