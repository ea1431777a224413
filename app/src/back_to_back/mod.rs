//! Back-to-back: two set-ups of the day on the same sections, the verdict, what else differs, time along the track.

mod answer;
mod chosen;
mod earlier;
mod explored;
mod interval;
mod laid_view;
mod lay;
mod painting;
mod pair;
mod pictures;
mod places;
mod rows;
mod section_times;
mod term;
mod verdict;
mod words;

use std::sync::Arc;

use evenkeel_core::setup::Descent;
use evenkeel_core::track::AlignmentMethod;
use leptos::prelude::*;

use crate::store::{Place, store};
use answer::{Answer, answer};
pub use chosen::Chosen;
use chosen::{laid_runs, pair};
use earlier::EarlierDays;
pub use earlier::{archived, take_archive, today};
use explored::ExploredTable;
use laid_view::LaidView;
use lay::{Laid, laid_over};
use pair::PairChoice;
use pictures::Pictures;
use section_times::SectionTimes;
use verdict::VerdictCard;

#[component]
pub fn BackToBackPlace() -> impl IntoView {
    let store = store();
    let pair = pair(store);
    let laid = laid_runs(store, pair);
    let answer = answer(store, pair);
    let two_runs = Memo::new(move |_| store.day.with(|day| day.runs.len() > 1));
    let comparable = Memo::new(move |_| pair.with(|pair| pair.compared.is_some()));
    view! {
        <div class="back-to-back">
            <Show when=move || two_runs.get() fallback=|| view! { <TooFew/> }>
                <Show when=move || comparable.get() fallback=|| view! { <OneSetup/> }>
                    <PairChoice pair/>
                </Show>
                <Progress/>
                <Show when=move || comparable.get()>
                    <div class="compared-columns">
                        <VerdictCard answer laid/>
                        <ExploredTable answer laid/>
                    </div>
                </Show>
                <Along answer laid/>
            </Show>
            <EarlierDays/>
        </div>
    }
}

#[component]
fn TooFew() -> impl IntoView {
    let store = store();
    view! {
        <section class="what-to-do">
            <h2>"Two runs are needed"</h2>
            <p>
                "Ride once, change one thing, ride again; load both runs in Day and write what was changed in their set-up sheets. Naming beforehand the one number that is to show it makes a verdict possible."
            </p>
            <p class="buttons"><button class="main" on:click=move |_| store.place.set(Place::Day)>"Go to Day"</button></p>
        </section>
    }
}

#[component]
fn OneSetup() -> impl IntoView {
    let store = store();
    view! {
        <section class="what-to-do">
            <h2>"One set-up so far"</h2>
            <p>
                "Every run was ridden with the same set-up by its sheet, so there is nothing to compare yet. They are worth having: they tell how much runs differ by themselves. If something was changed, write it in the sheet of its run; the place below shows where time went all the same."
            </p>
            <p class="buttons"><button class="main" on:click=move |_| store.place.set(Place::Day)>"Write the sheets in Day"</button></p>
        </section>
    }
}

/// Runs whose numbers are still to come.
#[component]
fn Progress() -> impl IntoView {
    let store = store();
    let count = Memo::new(move |_| store.day.with(|day| day.runs.len()));
    let known = Memo::new(move |_| (0..count.get()).filter(|run| store.readout(*run).is_some()).count());
    let without = Memo::new(move |_| {
        let unread = |run: &usize| {
            let logs =
                store.day.with(|day| day.runs.get(*run).map(|run| run.logs.clone())).unwrap_or_default();
            !logs.iter().any(|log| store.source(&log.file).is_some())
        };
        let names = (0..count.get()).filter(unread);
        names.map(|run| store.day.with(|day| day.run_name(Descent::Ridden(run)))).collect::<Vec<_>>()
    });
    view! {
        <div aria-live="polite" class="reading-out">
            <Show when=move || known.get() + without.with(Vec::len) < count.get()>
                <p>
                    {move || format!("{} of {} runs are read out; the rest follows.", known.get(), count.get())}
                    <progress aria-label="Runs read out" max=move || count.get() value=move || known.get()></progress>
                </p>
            </Show>
            <Show when=move || without.with(|names| !names.is_empty())>
                <p class="quiet">{move || format!("No log file is loaded of {}.", without.get().join(", "))}</p>
            </Show>
        </div>
    }
}

/// Where time was lost and gained between two runs, and their traces over each other.
#[component]
fn Along(answer: RwSignal<Option<Arc<Answer>>>, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let store = store();
    let again = RwSignal::new(0);
    let state = laid_over(store, laid, again);
    let shown = move || {
        match state.get() {
        Laid::Waiting => view! { <p class="quiet">"Once both runs are read out they are laid over each other."</p> }.into_any(),
        Laid::Working => view! { <p class="quiet" role="status">"Laying the two runs over each other…"</p> }.into_any(),
        Laid::Not(why) => view! {
            <p>{why}</p>
            <p class="buttons"><button on:click=move |_| again.update(|again| *again += 1)>"Try again"</button></p>
        }
        .into_any(),
        Laid::Done(view) => view! {
            <Show when={
                let empty = view.over.sections.is_empty();
                move || empty
            }>
                <p class="quiet">"The day has no sections yet; made in Ride, they tell where on the track time goes."</p>
            </Show>
            <SectionTimes view=Arc::clone(&view) answer laid/>
            <Method view=Arc::clone(&view)/>
            <Pictures view/>
        }
        .into_any(),
    }
    };
    view! {
        <section class="along" aria-label="Along the track">
            <h2>"Along the track"</h2>
            <LaidChoice laid/>
            {shown}
        </section>
    }
}

/// Which two runs are laid over each other.
#[component]
fn LaidChoice(laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let store = store();
    let names = Memo::new(move |_| {
        store
            .day
            .with(|day| (0..day.runs.len()).map(|run| day.run_name(Descent::Ridden(run))).collect::<Vec<_>>())
    });
    let select = move |side: usize, letter: &'static str| {
        let options = move || {
            let option = |(run, name): (usize, String)| {
                view! { <option value=run selected=move || laid.get().is_some_and(|runs| runs[side] == run)>{name}</option> }
            };
            names.get().into_iter().enumerate().map(option).collect_view()
        };
        view! {
            <label class="inline-choice">
                <b class="letter" data-side=letter>{letter}</b>
                <span class="unseen">{format!("Run {letter}")}</span>
                <select
                    id=format!("laid-{}", letter.to_lowercase())
                    on:change:target=move |event| {
                        if let (Some(mut runs), Ok(run)) = (laid.get_untracked(), event.target().value().parse()) {
                            runs[side] = run;
                            store.compared.runs.set(Some(runs));
                        }
                    }
                >
                    {options}
                </select>
            </label>
        }
    };
    view! {
        <p class="laid-choice">
            {select(0, "A")}
            {select(1, "B")}
            <span class="quiet">"One run each: what differs between two runs need not come from the bike."</span>
        </p>
    }
}

/// How the runs were laid over the track, where not by how it bends.
#[component]
fn Method(view: Arc<LaidView>) -> impl IntoView {
    let words: Vec<String> = view
        .over
        .methods
        .iter()
        .zip(["A", "B"])
        .filter_map(|(method, letter)| match method {
            AlignmentMethod::Rescaled(why) => Some(format!("{letter} is laid by distance alone: {why}.")),
            AlignmentMethod::Reference | AlignmentMethod::Curvature => None,
        })
        .collect();
    (!words.is_empty()).then(|| view! { <p class="quiet">{words.join(" ")}</p> })
}
