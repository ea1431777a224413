//! The whole page: the bar at the top, notices and work in progress, one place below.

use leptos::prelude::*;

use crate::hand_over::{Sealing, Whose, guard, listen};
use crate::kept::{KeptState, keep};
use crate::later::Later;
use crate::offline::OfflineState;
use crate::places::{Places, follow};
use crate::printed::Printed;
use crate::rehearsal::rehearse;
use crate::store::{Place, Store, store};
use crate::theme::ThemeButton;

#[component]
pub fn Page() -> impl IntoView {
    let store = Store::new();
    provide_context(store);
    let later = Later::new();

    follow(store);
    store.keep_readouts();
    listen(store);
    guard(store);
    keep(store);
    rehearse(store, later);

    view! {
        <Printed later/>
        <TopBar/>
        <Notices/>
        <Jobs/>
        <Sealing/>
        <Whose/>
        <Places later/>
    }
}

#[component]
fn TopBar() -> impl IntoView {
    let store = store();
    let places = [
        (Place::Day, "Day"),
        (Place::Check, "Check"),
        (Place::Ride, "Ride"),
        (Place::Readout, "Read-out"),
        (Place::BackToBack, "Back-to-back"),
        (Place::HandOver, "Hand-over"),
    ];
    let tabs = places.map(|(place, name)| {
        view! {
            <button
                id=format!("place-{}", name.to_lowercase())
                aria-current=move || (store.place.get() == place).then_some("page")
                on:click=move |_| store.place.set(place)
            >
                {name}
            </button>
        }
    });
    view! {
        <header class="top">
            <span class="name">"Evenkeel"</span>
            <nav aria-label="Places">{tabs}</nav>
            <RunChoice/>
            <KeptState/>
            <OfflineState/>
            <ThemeButton/>
        </header>
    }
}

#[component]
fn RunChoice() -> impl IntoView {
    let store = store();
    let names = Memo::new(move |_| {
        store.day.with(|day| day.runs.iter().map(|run| run.name.clone()).collect::<Vec<_>>())
    });
    move || {
        let names = names.get();
        (!names.is_empty()).then(|| {
            let options = names.into_iter().enumerate().map(|(i, name)| {
                view! { <option value=i selected=move || store.run.get() == i>{name}</option> }
            });
            view! {
                <label class="run-choice">
                    <span>"Run"</span>
                    <select
                        id="run"
                        on:change:target=move |event| {
                            if let Ok(run) = event.target().value().parse() {
                                store.run.set(run);
                            }
                        }
                    >
                        {options.collect_view()}
                    </select>
                </label>
            }
        })
    }
}

#[component]
fn Notices() -> impl IntoView {
    let store = store();
    view! {
        <div class="notices" role="alert">
            <For each=move || store.notices.get() key=|notice| notice.id let:notice>
                <p class="notice">
                    <span>{notice.text}</span>
                    <button
                        aria-label="Dismiss"
                        on:click=move |_| store.notices.update(|all| all.retain(|other| other.id != notice.id))
                    >
                        "×"
                    </button>
                </p>
            </For>
        </div>
    }
}

/// Work in progress, each piece with its Cancel. Work that is done at once is not shown.
#[component]
fn Jobs() -> impl IntoView {
    let store = store();
    let shown = move || {
        let jobs = store.jobs.get();
        jobs.into_iter()
            .filter(|job| !job.quiet)
            .filter_map(|job| Some((job.call, job.progress?)))
            .collect::<Vec<_>>()
    };
    view! {
        <div class="jobs" aria-live="polite">
            {move || {
                shown()
                    .into_iter()
                    .map(|(call, (what, done))| {
                        view! {
                            <p class="job">
                                <span>{what}</span>
                                <progress max="1" value=done></progress>
                                <button on:click=move |_| store.cancel(call)>"Cancel"</button>
                            </p>
                        }
                    })
                    .collect_view()
            }}
        </div>
    }
}
