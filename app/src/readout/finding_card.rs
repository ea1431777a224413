//! One finding: the sentence, what to do, where it is, and what it rests on.

use std::sync::Arc;

use evenkeel_core::RunReadout;
use evenkeel_core::align::moment;
use evenkeel_core::findings::{Adjustment, Finding, Moment, Step};
use leptos::prelude::*;

use super::evidence::{EvidenceTable, HowSure};
use crate::day::change;
use crate::store::{Place, store};

#[component]
pub fn FindingCard(
    finding: Finding,
    /// The run's sections, to name where it is.
    run: Arc<RunReadout>,
) -> impl IntoView {
    let level = finding.confidence.level;
    let kind = finding.kind.to_string();
    let advice = finding.advice.clone();
    let list = |title: &'static str, lines: Vec<String>| {
        (!lines.is_empty()).then(|| view! { <p><b>{title}" "</b>{lines.join("; ")}"."</p> })
    };
    view! {
        <article class="finding" data-kind=kind data-level=level.words()>
            <header>
                <HowSure confidence=finding.confidence.clone()/>
                <h3>{finding.statement.clone()}</h3>
            </header>
            <div class="finding-parts">
                <div>
                    <Remedy finding=finding.clone()/>
                    <Where section=finding.section.clone() moments=finding.moments.clone() run/>
                </div>
                <div>
                    <p><b>"The next run, if this is right: "</b>{advice.next_run}</p>
                    {list("What else it may be:", advice.other_causes)}
                </div>
            </div>
            <EvidenceTable evidence=finding.evidence/>
            {advice.cautions.into_iter().map(|caution| view! { <p class="caution">{caution}</p> }).collect_view()}
        </article>
    }
}

/// What to do: one smallest step, or something to look at.
#[component]
fn Remedy(finding: Finding) -> impl IntoView {
    let title = match finding.advice.step {
        Step::Adjust(_) => "To try: ",
        Step::OneOf(_) => "To try, one of these: ",
        Step::Later(_) => "Later, one change at a time: ",
        Step::Inspect(_) => "To look at: ",
        Step::Ride(_) => "To ride: ",
    };
    let store = store();
    // What was found in an earlier run was answered, or not, by those after it.
    let is_last = store.run.get_untracked() + 1 == store.day.with_untracked(|day| day.runs.len());
    let answered = finding.advice.step.proposes() && !is_last;
    let proposes = finding.advice.step.proposes() && is_last;
    let answered = answered.then(|| view! { <p class="quiet">"Other runs followed this one: Day says what was changed before them."</p> });
    let adjustments = finding.advice.step.adjustments().to_vec();
    if adjustments.is_empty() {
        return view! { <p class="remedy"><b>{title}</b>{finding.advice.step.words()}</p> }.into_any();
    }
    let lines = adjustments.into_iter().map(|adjustment| {
        let plan = proposes.then(|| view! { <PlanButton finding=finding.clone() adjustment/> });
        view! { <li><span>{adjustment.words()}</span>{plan}</li> }
    });
    view! { <div class="remedy"><b>{title}</b><ul>{lines.collect_view()}</ul>{answered}</div> }.into_any()
}

/// Writes the next run's sheet with this one change, and the question that shows whether it was right.
#[component]
fn PlanButton(finding: Finding, adjustment: Adjustment) -> impl IntoView {
    let store = store();
    let plan = move |_| {
        change(store, "a run planned", |day| {
            day.plan_adjustment(&finding, &adjustment);
        });
        store.place.set(Place::Day);
    };
    view! {
        <button
            class="plan-step"
            title="Writes the sheet of the next run with this one change, and names the number that shows whether it was right."
            on:click=plan
        >
            "Plan it for the next run"
        </button>
    }
}

/// Where it is, one click from there.
#[component]
fn Where(section: String, moments: Vec<Moment>, run: Arc<RunReadout>) -> impl IntoView {
    const SHOWN: usize = 5;
    let store = store();
    let whole = section == "run";
    let place = match (whole, moments.is_empty()) {
        (true, true) => "over the whole run".to_owned(),
        (true, false) => "over the whole run, most at".to_owned(),
        (false, _) => format!("in {section}"),
    };
    let more = moments.len().saturating_sub(SHOWN);
    let buttons = moments.into_iter().take(SHOWN).map(|Moment { start_s, end_s }| {
        let go = move |_| store.show_in_ride(store.run.get_untracked(), [start_s, end_s]);
        let named = run.sections.iter().find(|section| [section.start_s, section.end_s] == [start_s, end_s]);
        let times = || format!("{} to {}", moment::format(start_s, 0.1), moment::format(end_s, 0.1));
        let label = named.map_or_else(times, |section| section.name.clone());
        view! { <button class="moment" title="See it in Ride" on:click=go>{label}</button> }
    });
    let buttons = buttons.collect_view();
    view! {
        <p class="where">
            <b>"Where: "</b>{place}" "{buttons}
            {(more > 0).then(|| view! { <span class="quiet">{format!(" and {more} more")}</span> })}
        </p>
    }
}
