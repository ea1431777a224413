//! The question a run is to answer: one metric, which way is better, where, and from what difference on.

use evenkeel_core::decide::{Direction, METRICS, Metric, Plan, Scale};
use evenkeel_core::setup::{Descent, Named};
use leptos::prelude::*;

use super::written::Sheet;
use crate::field::NumberField;
use crate::store::store;

/// Share of its value that is usually worth having (common practice, from memory).
const WORTH_SHARE: f64 = 0.05;
/// What the read-out calls the whole run.
const WHOLE_RUN: &str = "run";

#[component]
pub fn Question(sheet: Sheet) -> impl IntoView {
    let plan = sheet.memo(|sheet| sheet.plan.clone());
    let asked = Memo::new(move |_| plan.get().map(|named| named.plan));
    let to_come = matches!(sheet.run, Descent::Coming(_));
    let told = move || match plan.get() {
        Some(named) => named.plan.in_words(),
        None => "nothing named".to_owned(),
    };
    let when = move || match plan.get().map(|named| named.named) {
        Some(Named::BeforeTheRun) if to_come => "Named before the run: it will get the verdict.",
        Some(Named::BeforeTheRun) => "Named before the run: it gets the verdict.",
        Some(Named::AfterTheRun) => {
            "Named after the run's log was read: what is picked from known numbers is a hint, not a proof."
        }
        None if to_come => {
            "Name one number before the run. Only what was named beforehand can be proved by it; everything else is a hint."
        }
        None => "Nothing was named before this run, so it can give hints, not a proof.",
    };
    let after = move || plan.get().is_some_and(|named| named.named == Named::AfterTheRun);
    view! {
        <details class="question" open=to_come id=format!("{}-question", sheet.key())>
            <summary><b>"To be shown"</b><span class="quiet">{told}</span></summary>
            <div class="fields">
                <MetricChoice sheet asked/>
                <Show when=move || asked.with(Option::is_some)>
                    <DirectionChoice sheet asked/>
                    <WorthHaving sheet asked/>
                    <SectionTicks sheet asked/>
                </Show>
            </div>
            <p class="when" class:after=after>{when}</p>
        </details>
    }
}

/// Writes on the plan there is.
fn ask(sheet: Sheet, what: &str, act: impl FnOnce(&mut Plan)) {
    sheet.write(what, |sheet| {
        if let Some(mut plan) = sheet.plan.take().map(|named| named.plan) {
            act(&mut plan);
            sheet.name_plan(Some(plan));
        }
    });
}

#[component]
fn MetricChoice(sheet: Sheet, asked: Memo<Option<Plan>>) -> impl IntoView {
    let store = store();
    let key = Memo::new(move |_| asked.with(|plan| plan.as_ref().map(|plan| plan.metric.clone())));
    let choose = move |chosen: String| {
        let sections = asked.with_untracked(|plan| plan.as_ref().map(|plan| plan.sections.clone()));
        let sections = sections.unwrap_or_else(|| store.day.with_untracked(everywhere));
        let plan = Metric::of(&chosen).map(|metric| metric.usual_plan(sections));
        sheet.write("what is to be shown", |sheet| sheet.name_plan(plan));
    };
    let options = METRICS.iter().map(|metric| {
        let unit = if metric.unit.is_empty() { String::new() } else { format!(" ({})", metric.unit) };
        view! {
            <option value=metric.key selected=move || key.with(|key| key.as_deref() == Some(metric.key))>
                {metric.name}{unit}
            </option>
        }
    });
    view! {
        <label class="field wide">
            <span>"The one number"</span>
            <select id=format!("{}-metric", sheet.key()) on:change:target=move |event| choose(event.target().value())>
                <option value="" selected=move || key.with(Option::is_none)>"nothing named"</option>
                {options.collect_view()}
            </select>
        </label>
    }
}

/// Every section of the day; the whole run where it has none.
fn everywhere(day: &evenkeel_core::Day) -> Vec<String> {
    match day.sections.as_slice() {
        [] => vec![WHOLE_RUN.to_owned()],
        sections => sections.iter().map(|section| section.name.clone()).collect(),
    }
}

#[component]
fn DirectionChoice(sheet: Sheet, asked: Memo<Option<Plan>>) -> impl IntoView {
    let more = move || asked.with(|plan| plan.as_ref().is_some_and(|plan| plan.direction == Direction::More));
    view! {
        <label class="field">
            <span>"Better is"</span>
            <select
                id=format!("{}-direction", sheet.key())
                on:change:target=move |event| {
                    let direction = if event.target().value() == "more" { Direction::More } else { Direction::Less };
                    ask(sheet, "which way is better", |plan| plan.direction = direction);
                }
            >
                <option value="less" selected=move || !more()>"less"</option>
                <option value="more" selected=more>"more"</option>
            </select>
        </label>
    }
}

/// The smallest difference worth having, in the metric's unit or as a share of its value.
#[component]
fn WorthHaving(sheet: Sheet, asked: Memo<Option<Plan>>) -> impl IntoView {
    let metric =
        Memo::new(move |_| asked.with(|plan| plan.as_ref().and_then(|plan| Metric::of(&plan.metric))));
    let as_share =
        move || asked.with(|plan| plan.as_ref().is_some_and(|plan| plan.scale == Scale::Logarithmic));
    let shown_per_si = move || match metric.get() {
        Some(metric) if !as_share() => metric.shown_per_si,
        Some(_) => 1e2,
        None => 1.0,
    };
    let shown = Signal::derive(move || {
        asked.with(|plan| plan.as_ref().map_or(0.0, |plan| plan.worth_having)) * shown_per_si()
    });
    let wrong = RwSignal::new(false);
    let typed = move |number: f64| {
        wrong.set(number <= 0.0);
        if number > 0.0 {
            let si = number / untrack(shown_per_si);
            ask(sheet, "difference worth having", |plan| plan.worth_having = si);
        }
    };
    let count_as = move |scale: String| {
        let Some(metric) = metric.get_untracked() else { return };
        ask(sheet, "how the difference is counted", |plan| {
            let usual = metric.usual_plan(Vec::new());
            (plan.scale, plan.worth_having) = if scale == "share" {
                (Scale::Logarithmic, WORTH_SHARE)
            } else {
                (usual.scale, usual.worth_having)
            };
        });
    };
    let unit = move || {
        metric.get().map_or("", |metric| if metric.unit == "%" { "percentage points" } else { metric.unit })
    };
    let can_be_share = move || metric.get().is_some_and(|metric| metric.is_positive);
    view! {
        <span class="worth">
            <NumberField
                label="Worth having from"
                id=format!("{}-worth", sheet.key())
                digits=4
                value=shown
                on_change=typed
            />
            <Show when=can_be_share fallback=move || view! { <span class="unit">{unit}</span> }>
                <select aria-label="unit of the difference worth having" on:change:target=move |event| count_as(event.target().value())>
                    <option value="plain" selected=move || !as_share()>{unit}</option>
                    <option value="share" selected=as_share>"% of its value"</option>
                </select>
            </Show>
            <Show when=move || wrong.get()><span class="wrong">"it must be more than 0"</span></Show>
        </span>
    }
}

/// Where it is to be shown. A name that no section of the day bears any more stays, and is marked.
#[component]
fn SectionTicks(sheet: Sheet, asked: Memo<Option<Plan>>) -> impl IntoView {
    let store = store();
    let chosen =
        move || asked.with(|plan| plan.as_ref().map(|plan| plan.sections.clone()).unwrap_or_default());
    let names = Memo::new(move |_| {
        let mut names = vec![WHOLE_RUN.to_owned()];
        names.extend(
            store.day.with(|day| day.sections.iter().map(|section| section.name.clone()).collect::<Vec<_>>()),
        );
        let known = names.len();
        names.extend(chosen().into_iter().filter(|name| !names.contains(name)).collect::<Vec<_>>());
        names.into_iter().enumerate().map(|(index, name)| (name, index < known)).collect::<Vec<_>>()
    });
    let tick = move |name: String, on: bool| {
        // The whole run and its parts are not counted side by side.
        let whole = name == WHOLE_RUN;
        let order: Vec<String> = names.get_untracked().into_iter().map(|(name, _)| name).collect();
        ask(sheet, "where it is to be shown", |plan| {
            plan.sections.retain(|other| *other != name && (!on || (!whole && other != WHOLE_RUN)));
            if on {
                plan.sections.push(name);
            }
            plan.sections.sort_by_key(|name| order.iter().position(|other| other == name));
        });
    };
    let ticks = move || {
        let tick_box = |(name, known): (String, bool)| {
            let (own, shown) =
                (name.clone(), if name == WHOLE_RUN { "whole run".to_owned() } else { name.clone() });
            view! {
                <label class="tick">
                    <input type="checkbox" prop:checked=move || chosen().contains(&own)
                        on:change:target=move |event| tick(name.clone(), event.target().checked())/>
                    {shown}
                    {(!known).then_some(" (no section of this day)")}
                </label>
            }
        };
        names.get().into_iter().map(tick_box).collect_view()
    };
    view! {
        <fieldset class="where">
            <legend>"Where"</legend>
            {ticks}
            <Show when=move || chosen().is_empty()><span class="wrong">"choose at least one place"</span></Show>
        </fieldset>
    }
}
