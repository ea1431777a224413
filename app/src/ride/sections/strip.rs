//! The sections over the traces: a band with a name for each, and its edges through the rows.

use evenkeel_core::track::Stretch;
use leptos::prelude::*;

use super::follow::show;
use crate::ride::view::View;
use crate::store::store;

/// A section that the run passes, with its times.
type Passed = (String, [f64; 2]);

#[component]
pub fn SectionStrip(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let passed = Memo::new(move |_| {
        let track = store.track.get()?;
        let passed = track.sections.iter().filter_map(|placed| {
            let Stretch { start_s, end_s, .. } = *placed.stretch.as_ref().ok()?;
            Some((placed.section.name.clone(), [start_s, end_s]))
        });
        Some(passed.collect::<Vec<Passed>>()).filter(|passed| !passed.is_empty())
    });
    let across = move |t_s: f64| format!("{:.3}%", view.get().place(t_s) * 100.0);
    let share = move |span: [f64; 2]| format!("{:.3}%", (span[1] - span[0]) / view.get().span_s() * 100.0);
    let in_view = move |[start_s, end_s]: [f64; 2]| {
        let view = view.get();
        end_s > view.start_s && start_s < view.end_s
    };
    let band = move |(name, span): Passed| {
        let (own, chosen, title) = (name.clone(), name.clone(), name.clone());
        view! {
            <button
                tabindex="-1"
                aria-current=move || store.section.with(|shown| shown.as_ref() == Some(&own)).then_some("true")
                title=title
                hidden=move || !in_view(span)
                style:left=move || across(span[0])
                style:width=move || share(span)
                on:click=move |_| show(store, view, Some(chosen.clone()))
            >
                {name}
            </button>
        }
    };
    let edges = move |passed: &[Passed]| {
        let mut edges_s: Vec<f64> = passed.iter().flat_map(|(_, span)| *span).collect();
        edges_s.sort_by(f64::total_cmp);
        edges_s.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
        let line = move |t_s: f64| {
            let shown = move || (0.0..=1.0).contains(&view.get().place(t_s));
            view! { <i hidden=move || !shown() style:left=move || across(t_s)></i> }
        };
        edges_s.into_iter().map(line).collect_view()
    };
    // What a pointer does here can be done by keyboard in the table of sections.
    move || {
        passed.get().map(|passed| {
            view! {
                <div class="section-strip" role="group" aria-label="Sections in view">
                    <div class="bands">{passed.iter().cloned().map(band).collect_view()}</div>
                </div>
                <div class="section-edges" aria-hidden="true"><div>{edges(&passed)}</div></div>
            }
        })
    }
}
