//! The earlier days, from which the scatter from run to run is known; and this day among them.

use evenkeel_core::decide::{ArchivedDay, RunSummary};
use evenkeel_core::setup::Descent;
use gloo_file::File;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::term::Term;
use crate::day::list_files;
use crate::save::save_text;
use crate::store::{Store, store};
use crate::timing::breathe;
use crate::worker::{EarlierDay, Failure, Request};

/// Takes the days of an archive file.
pub async fn take_archive(store: Store, file: File) {
    let request = Request::ReadArchive { name: file.name() };
    match store.ask::<Vec<EarlierDay>>(request, Some(&file)).await {
        Ok((days, _)) => {
            store.archives.update_value(|files| {
                files.retain(|known| known.name() != file.name());
                files.push(file);
            });
            store.earlier.set(days);
        }
        Err(Failure::Problem(problem)) => store.tell(problem),
        Err(Failure::Cancelled) => {}
    }
}

#[component]
pub fn EarlierDays() -> impl IntoView {
    let store = store();
    let days = store.earlier;
    let told = move || {
        days.with(|days| match days.len() {
            0 => "none loaded".to_owned(),
            count => {
                let runs: usize = days.iter().map(|day| day.runs).sum();
                format!("{count} day{}, {runs} runs", if count == 1 { "" } else { "s" })
            }
        })
    };
    let forget = move |_| {
        spawn_local(async move {
            if store.ask::<()>(Request::ForgetArchive, None).await.is_ok() {
                store.archives.set_value(Vec::new());
                days.set(Vec::new());
            }
        });
    };
    let row = |day: EarlierDay| {
        view! {
            <tr>
                <th scope="row">{if day.name.is_empty() { "without a name".to_owned() } else { day.name }}</th>
                <td>{day.date}</td>
                <td>{day.runs}</td>
                <td>{day.setups}</td>
            </tr>
        }
    };
    view! {
        <section class="earlier" aria-label="Earlier days">
            <h2><Term name="Earlier days" meaning="What is kept of a day are its numbers, without its traces. Days on which one set-up was ridden twice or more tell how much runs differ with nothing changed."/></h2>
            <p id="earlier-days">{told}</p>
            <Show when=move || days.with(|days| !days.is_empty())>
                <details>
                    <summary>"Which"</summary>
                    <table>
                        <thead><tr>
                            <th scope="col">"Day"</th><th scope="col">"Date"</th><th scope="col">"Runs"</th><th scope="col">"Set-ups"</th>
                        </tr></thead>
                        <tbody>{move || days.get().into_iter().map(row).collect_view()}</tbody>
                    </table>
                    <button on:click=forget>"Leave them all out"</button>
                </details>
            </Show>
            <label class="file">
                <span>"Load earlier days…"</span>
                <input
                    id="archive-file"
                    type="file"
                    multiple
                    accept=".json,application/json"
                    on:change:target=move |event| {
                        let files = event.target().files().map(|list| list_files(&list)).unwrap_or_default();
                        event.target().set_value("");
                        spawn_local(async move {
                            for file in files {
                                take_archive(store, file).await;
                            }
                        });
                    }
                />
            </label>
            <KeepDay/>
        </section>
    }
}

/// Writes this day's numbers into a file with the earlier ones.
#[component]
fn KeepDay() -> impl IntoView {
    let store = store();
    let date = RwSignal::new(today());
    let ready = Memo::new(move |_| {
        let count = store.day.with(|day| day.runs.len());
        (0..count).filter(|run| store.readout(*run).is_some()).count()
    });
    let keep = move |_| {
        if ready.get_untracked() > 0 {
            spawn_local(keep_day(store, date.get_untracked()));
        }
    };
    view! {
        <div class="keep-day">
            <label class="field">
                <span>"Date of this day"</span>
                <input id="archive-date" type="date" prop:value=move || date.get()
                    on:change:target=move |event| date.set(event.target().value())/>
            </label>
            <button id="keep-day" aria-disabled=move || (ready.get() == 0).then_some("true") on:click=keep>
                {move || match ready.get() {
                    0 => "Keep this day: no run is read out yet".to_owned(),
                    1 => "Keep this day (1 run) with them".to_owned(),
                    runs => format!("Keep this day ({runs} runs) with them"),
                }}
            </button>
            <p class="quiet">"Saves one file with all earlier days and this one; load it next time."</p>
        </div>
    }
}

/// The numbers of this day's runs that are read out.
pub async fn archived(store: Store, date: String) -> ArchivedDay {
    let mut runs = Vec::new();
    for setup in &store.day.with_untracked(|day| day.ridden_setups()) {
        for &run in &setup.runs {
            let Some(readout) = untrack(|| store.readout(run)) else { continue };
            breathe().await;
            let words = store.day.with_untracked(|day| {
                let first = setup.runs.first().and_then(|first| day.runs.get(*first));
                first.map(|first| first.setup.words.clone()).filter(|words| !words.is_empty())
            });
            let name = words.map_or(setup.name.clone(), |words| format!("{}: {words}", setup.name));
            let own = store.day.with_untracked(|day| day.run_name(Descent::Ridden(run)));
            runs.push((run, RunSummary { run: own, ..RunSummary::of(&readout, &name) }));
        }
    }
    runs.sort_by_key(|(run, _)| *run);
    let name = store.day.with_untracked(|day| day.name.clone());
    ArchivedDay { name, date, runs: runs.into_iter().map(|(_, run)| run).collect() }
}

async fn keep_day(store: Store, date: String) {
    let today = archived(store, date.clone()).await;
    match store.ask::<String>(Request::WriteArchive { today }, None).await {
        Ok((text, _)) => save_text(&text, "application/json", &format!("earlier-days-{date}.json")),
        Err(Failure::Problem(problem)) => store.tell(problem),
        Err(Failure::Cancelled) => {}
    }
}

/// As the clock on the wall has it, ISO 8601.
pub fn today() -> String {
    let now = js_sys::Date::new_0();
    format!("{:04}-{:02}-{:02}", now.get_full_year(), now.get_month() + 1, now.get_date())
}
