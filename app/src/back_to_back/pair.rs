//! Which two set-ups are compared, and what is different between them.

use evenkeel_core::setup::{ChangeKind, RiddenSetup};
use leptos::prelude::*;

use super::chosen::Pair;
use crate::store::{Store, store};

/// The runs of a set-up by their names.
pub fn runs_of(store: Store, setup: &RiddenSetup) -> String {
    store.day.with(|day| {
        let names = setup.runs.iter().filter_map(|run| day.runs.get(*run)).map(|run| run.name.clone());
        names.collect::<Vec<_>>().join(", ")
    })
}

#[component]
pub fn PairChoice(pair: Memo<Pair>) -> impl IntoView {
    let store = store();
    let firsts = Memo::new(move |_| {
        pair.with(|pair| pair.setups().and_then(|[a, b]| Some([*a.runs.first()?, *b.runs.first()?])))
    });
    let choose = move |side: usize, first: usize| {
        let Some(mut chosen) = firsts.get_untracked() else { return };
        // One that is chosen twice changes places with the other.
        if chosen[1 - side] == first {
            chosen[1 - side] = chosen[side];
        }
        chosen[side] = first;
        store.compared.setups.set(Some(chosen));
        store.compared.runs.set(None);
    };
    let swap = move |_| {
        if let Some([a, b]) = firsts.get_untracked() {
            store.compared.setups.set(Some([b, a]));
            store.compared.runs.set(None);
        }
    };
    let select = move |side: usize, letter: &'static str, label: &'static str| {
        let options = move || {
            let all = pair.with(|pair| pair.all.clone());
            let option = |setup: RiddenSetup| {
                let first = setup.runs.first().copied().unwrap_or_default();
                let names = runs_of(store, &setup);
                let blank = if setup.is_written { "" } else { " (not written)" };
                view! {
                    <option value=first selected=move || firsts.get().is_some_and(|firsts| firsts[side] == first)>
                        {names}{blank}
                    </option>
                }
            };
            all.into_iter().map(option).collect_view()
        };
        view! {
            <label class="setup-choice">
                <b class="letter" data-side=letter>{letter}</b>
                <span>{label}</span>
                <select
                    id=format!("setup-{}", letter.to_lowercase())
                    on:change:target=move |event| {
                        if let Ok(first) = event.target().value().parse() {
                            choose(side, first);
                        }
                    }
                >
                    {options}
                </select>
            </label>
        }
    };
    view! {
        <section class="pair" aria-label="What is compared">
            <div class="pair-choice">
                {select(0, "A", "set-up before")}
                <button id="swap-setups" title="Change A and B over" on:click=swap>"⇄"<span class="unseen">"Change A and B over"</span></button>
                {select(1, "B", "set-up after")}
            </div>
            <Differs pair/>
        </section>
    }
}

/// What differs from A to B, in words.
#[component]
fn Differs(pair: Memo<Pair>) -> impl IntoView {
    let store = store();
    let lines = Memo::new(move |_| {
        let pair = pair.get();
        let changes = pair.setups().map(|setups| store.day.with(|day| day.changes_of(setups)));
        let lines = changes.into_iter().flatten();
        lines.map(|change| (change.kind == ChangeKind::Adjusted, change.to_string())).collect::<Vec<_>>()
    });
    let unwritten = Memo::new(move |_| {
        pair.with(|pair| pair.setups().is_some_and(|setups| setups.iter().any(|setup| !setup.is_written)))
    });
    let two = Memo::new(move |_| {
        pair.with(|pair| pair.setups().is_some_and(|setups| store.day.with(|day| day.differ_in_two(setups))))
    });
    view! {
        <div class="changed" role="group" aria-label="What is different with B">
            <Show when=move || unwritten.get()>
                <p class="quiet">
                    "A set-up sheet is not written, so nobody can say what is different. Write it in Day; runs with the same sheet then count as repeats."
                </p>
            </Show>
            <ul>
                {move || {
                    let line = |(adjusted, words): (bool, String)| view! { <li class:quiet=!adjusted>{words}</li> };
                    lines.get().into_iter().map(line).collect_view()
                }}
            </ul>
            <Show when=move || two.get()>
                <p class="two-at-once">
                    "More than one thing is different: if B is better or worse, nobody can say which of them made it so."
                </p>
            </Show>
        </div>
    }
}
