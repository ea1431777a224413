//! Every number that was not asked about: leads for the next test, no verdicts.

use std::sync::Arc;

use evenkeel_core::decide::{Explored, Metric};
use leptos::prelude::*;

use super::answer::Answer;
use super::places::RideLinks;
use super::term::Term;
use super::words::{Told, name_of};
use crate::words::fixed;

/// Among the numbers with a smaller q value at most this share leads nowhere; they are marked (common practice).
const LEAD_Q: f64 = 0.05;

/// From this width on there is room for the table beside the verdict, CSS px.
const WIDE_PX: f64 = 900.0;

#[component]
pub fn ExploredTable(answer: RwSignal<Option<Arc<Answer>>>, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let table = move || {
        let answer = answer.get()?;
        let (mut compared, missing): (Vec<Explored>, Vec<Explored>) =
            answer.said.explored.iter().cloned().partition(|one| one.contrast.get().is_ok());
        // What leads furthest stands first; what has no q value last, in the read-out's order.
        let q = |one: &Explored| one.q.get().copied().unwrap_or(2.0);
        compared.sort_by(|a, b| q(a).total_cmp(&q(b)));
        let without = missing.into_iter().map(|one| {
            let why = one.contrast.get().err().map_or(String::new(), |why| why.0);
            view! { <li>{format!("{}: {why}", name_of(&one.metric))}</li> }
        });
        let without = without.collect::<Vec<_>>();
        let count = without.len();
        let on = answer.said.explored.iter().find_map(|one| {
            let contrast = one.contrast.get().ok()?;
            Some(contrast.sections.len() + contrast.sections_left_out.len())
        });
        Some(view! {
            <p class="quiet">
                {format!(
                    "{} numbers on {}, none of them named before the run. With so many, some differ by chance alone: a small q marks a lead worth asking about in the next test, and nothing is proved here.",
                    compared.len(),
                    match on { Some(1) => "one section".to_owned(), on => format!("{} sections", on.unwrap_or_default()) },
                )}
            </p>
            <table class="explored">
                <thead><tr>
                    <th scope="col">"Number"</th>
                    <th scope="col">"A"</th>
                    <th scope="col">"B"</th>
                    <th scope="col"><Term name="B less A" meaning="The difference, averaged over the sections compared; in % of its value where the number is always above zero, in percentage points where it is itself a share."/></th>
                    <th scope="col"><Term name="95 % interval" meaning="The true difference lies in here nineteen times in twenty. It needs something that was ridden twice, today or on an earlier day."/></th>
                    <th scope="col"><Term name="q" meaning="Of the numbers with this q or a smaller one, about this share differs by chance alone (Benjamini and Hochberg). Under 0.05 it is marked as a lead."/></th>
                </tr></thead>
                <tbody>{compared.into_iter().map(|one| view! { <Row one laid/> }).collect_view()}</tbody>
            </table>
            {(count > 0).then(|| view! {
                <details><summary>{format!("Not compared ({count})")}</summary><ul class="without">{without}</ul></details>
            })}
        })
    };
    // On a phone the verdict and the track come first.
    let wide =
        window().inner_width().ok().and_then(|width| width.as_f64()).is_none_or(|width| width >= WIDE_PX);
    view! {
        <section class="explored-part" aria-label="Explored">
            <details open=wide>
                <summary><h2>"Explored"</h2></summary>
                {table}
            </details>
        </section>
    }
}

#[component]
fn Row(one: Explored, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let open = RwSignal::new(false);
    let told = Told::usual(&one.metric, one.scale);
    let Ok(contrast) = one.contrast.get().cloned() else { return ().into_any() };
    let [a, b] = contrast.levels.map(|level| told.level(level));
    let interval = match one.evidence.get() {
        Ok(evidence) => {
            view! { <td data-label="95 % interval">{told.range(evidence.interval)}</td> }.into_any()
        }
        Err(why) => {
            let why = format!("not known: {}", why.0);
            view! { <td data-label="95 % interval"><abbr class="not" tabindex="0" title=why.clone() aria-label=why>"not known"</abbr></td> }
                .into_any()
        }
    };
    let q = one.q.get().copied().ok();
    let lead = q.is_some_and(|q| q < LEAD_Q);
    let q = q.map_or("–".to_owned(), |q| if q < 0.001 { "< 0.001".to_owned() } else { fixed(q, 3) });
    let meaning = Metric::of(&one.metric).map_or("", Metric::meaning);
    let name = name_of(&one.metric);
    let by_section = move || {
        let line = |compared: &evenkeel_core::decide::SectionDifference| {
            let section = compared.section.clone();
            view! {
                <li>
                    <span>{if section == "run" { "whole run".to_owned() } else { section.clone() }}</span>
                    <span class="amount">{told.signed(compared.difference)}</span>
                    <span class="links"><RideLinks section laid/></span>
                </li>
            }
        };
        contrast.sections.iter().map(line).collect_view()
    };
    let by_section = StoredValue::new(by_section);
    view! {
        <tr class:lead=lead data-metric=one.metric.clone()>
            <th scope="row">
                <button class="term" title=meaning aria-expanded=move || open.get().to_string() on:click=move |_| open.update(|open| *open = !*open)>
                    {name}
                </button>
                {lead.then(|| view! { <span class="lead-mark" title="a lead: q under 0.05">"lead"</span> })}
            </th>
            <td data-label="A">{a}</td>
            <td data-label="B">{b}</td>
            <td data-label="B less A">{told.signed(contrast_difference(&one))}</td>
            {interval}
            <td data-label="q">{q}</td>
        </tr>
        <Show when=move || open.get()>
            <tr class="opened"><td colspan="6"><p>{meaning}</p><ul>{by_section.with_value(|list| list())}</ul></td></tr>
        </Show>
    }
    .into_any()
}

fn contrast_difference(one: &Explored) -> f64 {
    one.contrast.get().map_or(f64::NAN, |contrast| contrast.difference)
}
