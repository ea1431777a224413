//! What a finding rests on, and how sure that makes it.

use evenkeel_core::findings::{Certainty, Confidence, Evidence};
use leptos::prelude::*;

/// A cell that says its column's name where there is no room for columns.
fn cell(column: &'static str, shown: Option<AnyView>) -> AnyView {
    let label = shown.is_some().then_some(column);
    view! { <td data-label=label>{shown}</td> }.into_any()
}

#[component]
pub fn EvidenceTable(evidence: Vec<Evidence>) -> impl IntoView {
    if evidence.is_empty() {
        return ().into_any();
    }
    let rows = evidence.into_iter().map(|evidence| {
        let Evidence { measure, interval, n, usual, limit, .. } = evidence;
        let of = n.map(|n| format!("n\u{a0}=\u{a0}{n}"));
        let between = interval.map(|span| measure.span_words(span));
        let limit = limit.map(|limit| {
            let why = format!("{}: {} ({}).", limit.by.name(), limit.by.sentence(), limit.by.origin().words());
            view! { <abbr class="term" tabindex="0" title=why>{measure.words(limit.at)}</abbr> }
        });
        let what = match evidence.meaning.clone() {
            Some(meaning) => view! { <abbr class="term" tabindex="0" title=meaning>{evidence.what.clone()}</abbr> }.into_any(),
            None => evidence.what.clone().into_any(),
        };
        view! {
            <tr>
                <th scope="row">{what}</th>
                <td><b>{evidence.shown()}</b>{of.map(|of| view! { <small class="quiet">" "{of}</small> })}</td>
                {cell("95 % interval", between.map(IntoAny::into_any))}
                {cell("usually", usual.map(|usual| measure.words(usual).into_any()))}
                {cell("limit", limit.map(IntoAny::into_any))}
            </tr>
        }
    });
    view! {
        <div class="evidence">
            <table>
                <thead><tr>
                    <td></td>
                    <th scope="col">"this run"</th>
                    <th scope="col"><abbr class="term" tabindex="0" title="With so many events in one run the number is known this closely, 19 times of 20. It describes this run, not the next one.">"95 % interval"</abbr></th>
                    <th scope="col"><abbr class="term" tabindex="0" title="In the runs that felt right.">"usually"</abbr></th>
                    <th scope="col"><abbr class="term" tabindex="0" title="From where on it is found. Each limit can be changed below.">"limit"</abbr></th>
                </tr></thead>
                <tbody>{rows.collect_view()}</tbody>
            </table>
        </div>
    }
    .into_any()
}

/// One word, and on hover or tap what it is made of.
#[component]
pub fn HowSure(confidence: Confidence) -> impl IntoView {
    let Confidence { level, times_limit, interval_beyond, events, compared_with, sensors } = confidence;
    let mut made_of = Vec::new();
    if times_limit >= 1e3 {
        made_of.push("far beyond the limit".to_owned());
    } else if times_limit > 0.0 {
        made_of.push(format!("{times_limit:.1} times the limit's distance"));
    }
    match interval_beyond {
        Some(true) => made_of.push("the whole interval lies beyond the limit".to_owned()),
        Some(false) => made_of.push("part of the interval lies within the limit".to_owned()),
        None => {}
    }
    made_of.extend(
        events.map(|events| format!("it rests on {events} {}", if events == 1 { "event" } else { "events" })),
    );
    made_of.push(match compared_with.as_slice() {
        [] => "compared with no earlier run".to_owned(),
        names => format!("compared with {}", names.join(", ")),
    });
    made_of.push(match sensors.as_slice() {
        [] => "nothing doubtful about its sensors".to_owned(),
        doubts => format!("doubtful: {}", doubts.join("; ")),
    });
    let shape = match level {
        Certainty::Clear => "●",
        Certainty::Likely => "◐",
        Certainty::Hint => "○",
    };
    let title = format!("How sure: {}.", made_of.join("; "));
    view! {
        <abbr class="how-sure" tabindex="0" title=title>
            <span aria-hidden="true">{shape}" "</span>{level.words()}
        </abbr>
    }
}
