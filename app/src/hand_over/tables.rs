//! Numbers for other programs: tables as CSV, the archive as Parquet.

use evenkeel_core::handover::Content;
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::Blob;

use super::contents::WhatLeaves;
use crate::back_to_back::{archived, today};
use crate::field::Choice;
use crate::save::{file_name, save, save_text};
use crate::store::store;
use crate::worker::{Failure, Request, Table};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Numbers,
    Runs,
    Archive,
}

const KINDS: [(Kind, &str); 3] = [
    (Kind::Numbers, "Numbers of the runs, CSV"),
    (Kind::Runs, "Runs and set-ups, CSV"),
    (Kind::Archive, "This day and earlier ones, Parquet"),
];

#[component]
pub fn TablesCard() -> impl IntoView {
    let store = store();
    let kind = RwSignal::new(Kind::Numbers);
    let told = RwSignal::new(String::new());
    let read_out = Memo::new(move |_| {
        let count = store.day.with(|day| day.runs.len());
        ((0..count).filter(|run| store.readout(*run).is_some()).count(), count)
    });
    let contents = move || {
        let plain = |what: String| Content { what, tells_place: false };
        let (known, all) = read_out.get();
        match kind.get() {
            Kind::Runs => vec![plain(format!(
                "the names, times, set-up sheets, files and the rider's words of {all} runs"
            ))],
            Kind::Numbers => {
                let missing = if known < all {
                    format!("; {} are not read out yet", all - known)
                } else {
                    String::new()
                };
                vec![plain(format!(
                    "every number of {known} of {all} runs, for the whole run and each section, with its interval, or why it is not measured{missing}"
                ))]
            }
            Kind::Archive => {
                let earlier = store.earlier.with(Vec::len);
                vec![
                    plain(format!(
                        "the names of this day, its {known} runs read out, their set-ups and sections, and their numbers"
                    )),
                    plain(format!("the same of {earlier} earlier days that are loaded in Back-to-back")),
                ]
            }
        }
    };
    let leave = move |_| {
        told.set(String::new());
        let name = file_name(&store.day.with_untracked(|day| day.name.clone()));
        let kind = kind.get_untracked();
        spawn_local(async move {
            let answer: Result<(Blob, String), Failure> = match kind {
                Kind::Runs => {
                    let text = store.day.with_untracked(|day| day.runs_as_csv());
                    return save_text(&text, "text/csv", &format!("{name}-runs.csv"));
                }
                Kind::Numbers => {
                    let request = Request::WriteNumbers { day: store.day.get_untracked() };
                    let answer = store.ask_for_file::<Table>(request).await;
                    answer.map(|(_, file)| (file, format!("{name}-numbers.csv")))
                }
                Kind::Archive => {
                    let today = archived(store, today()).await;
                    let answer = store.ask_for_file::<Table>(Request::WriteParquet { today }).await;
                    answer.map(|(_, file)| (file, "archive.parquet".to_owned()))
                }
            };
            match answer {
                Ok((file, name)) => save(&file, &name),
                Err(Failure::Cancelled) => {}
                Err(Failure::Problem(problem)) => drop(told.try_set(problem)),
            }
        });
    };
    view! {
        <section class="card" aria-label="Tables">
            <h2>"Numbers for other programs"</h2>
            <Choice label="Which" id="table-kind" chosen=kind options=KINDS.to_vec()/>
            {move || view! { <WhatLeaves contents=contents() who="Anybody who gets the file.".to_owned()/> }}
            <p class="buttons"><button id="save-table" on:click=leave>"Save the table"</button></p>
            <p class="wrong" role="alert">{move || told.get()}</p>
        </section>
    }
}
