//! The runs left before it counts, and what is planned for each.

use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::cautions::Cautions;
use super::coming_card::ComingCard;
use super::undo::{UndoButton, change};
use crate::field::parse_number;
use crate::store::store;

#[component]
pub fn Budget() -> impl IntoView {
    let store = store();
    let left = Memo::new(move |_| store.day.with(evenkeel_core::Day::runs_left));
    let coming = Memo::new(move |_| store.day.with(|day| day.coming.len()));
    let begun = Memo::new(move |_| store.day.with(|day| !day.runs.is_empty() || !day.coming.is_empty()));
    let warnings = Memo::new(move |_| store.day.with(evenkeel_core::Day::warn_of_budget));
    let wrong = RwSignal::new(false);
    let typed = move |text: String| {
        let number = parse_number(&text).filter(|number| *number >= 0.0 && number.fract() == 0.0);
        wrong.set(number.is_none() && !text.trim().is_empty());
        if !wrong.get_untracked() {
            change(store, "runs left", |day| day.set_runs_left(number.map(|number| number as usize)));
        }
    };
    let plan_next = move |_| {
        change(store, "a run planned", |day| {
            day.plan_next();
        });
    };
    view! {
        <aside class="budget" aria-label="Runs to come">
            <div class="budget-head">
                <label class="field">
                    <span>"Runs left before it counts"</span>
                    <input
                        id="runs-left"
                        inputmode="numeric"
                        autocomplete="off"
                        prop:value=move || left.get().map(|left| left.to_string()).unwrap_or_default()
                        aria-invalid=move || wrong.get().then_some("true")
                        on:change:target=move |event| typed(event.target().value())
                    />
                    <Show when=move || wrong.get()><span class="wrong">"not a whole number"</span></Show>
                </label>
                <button id="plan-next" class="main" on:click=plan_next>"Plan the next run"</button>
                <WayBackButton/>
                <Show when=move || begun.get()><UndoButton/></Show>
            </div>
            <div aria-live="polite">
                {move || warnings.get().into_iter().map(|words| view! { <p class="over-budget">{words}</p> }).collect_view()}
            </div>
            <For each=move || 0..coming.get() key=|run| *run let:run>
                <ComingCard run/>
            </For>
            <Show when=move || begun.get()><Cautions/></Show>
        </aside>
    }
}

/// Going back to the set-up before the last change, in one click; or why there is nothing to go back from.
#[component]
fn WayBackButton() -> impl IntoView {
    let store = store();
    let way = Memo::new(move |_| {
        store.day.with(|day| {
            let way = day.way_back()?;
            let last = matches!(way.from, Descent::Coming(_));
            let after = if last { "then " } else { "" };
            Some(format!("Plan going back: {after}{} again (A-B-A)", day.run_name(way.to)))
        })
    });
    let go = move |_| {
        if way.with_untracked(Option::is_some) {
            change(store, "going back planned", |day| {
                day.plan_way_back();
            });
        }
    };
    view! {
        <button
            id="plan-way-back"
            title="One change, then back again: what the day itself does, a drying track or a rider who learns it, then cannot pass for the change."
            aria-disabled=move || way.with(Option::is_none).then_some("true")
            on:click=go
        >
            {move || way.get().unwrap_or_else(|| "Plan going back (A-B-A)".to_owned())}
        </button>
        <Show when=move || way.with(Option::is_none)>
            <small class="quiet">"nothing to go back from: the last run changes nothing, or goes back already"</small>
        </Show>
    }
}
