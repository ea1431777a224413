//! The demo day, which is beside the page.

use evenkeel_core::Day;
use gloo_file::File;
use js_sys::Array;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::Blob;

use crate::back_to_back::take_archive;
use crate::beside;
use crate::day::find_clocks;
use crate::kept;
use crate::store::{Place, Store};
use crate::worker::Failure;

/// What is kept of the demo's earlier days.
const ARCHIVE: &str = "archive.json";
const FOLDER: &str = "demo-data/harrowdean";

/// Loads the demo day and shows its first run; the other runs follow. A day that is already loaded is
/// added to, never replaced.
pub async fn load_demo(store: Store) {
    let _loading = store.loading();
    let day = match fetch("day.json").await {
        Ok(blob) => day_of(store, blob).await,
        Err(problem) => Err(problem),
    };
    let day = match day {
        Ok(day) => day,
        Err(problem) => return store.tell(format!("The demo day could not be loaded: {problem}")),
    };
    let first = store.day.with_untracked(|day| day.runs.len());
    let already =
        |day: &Day, name: &str| day.runs.iter().flat_map(|run| &run.logs).any(|log| log.file == name);
    let runs: Vec<_> = store.day.with_untracked(|open| {
        day.runs.iter().filter(|run| !run.logs.iter().any(|log| already(open, &log.file))).cloned().collect()
    });
    if runs.is_empty() {
        return store.place.set(Place::Ride);
    }
    store.day.update(|open| {
        if open.runs.is_empty() {
            *open = Day { runs: Vec::new(), ..day };
        } else {
            for profile in day.profiles {
                open.keep_profile(profile);
            }
        }
        open.runs.extend(runs.iter().cloned());
    });
    for (i, run) in runs.iter().enumerate() {
        for log in &run.logs {
            if let Err(problem) = load(store, &log.file).await {
                return store.tell(problem);
            }
        }
        if i == 0 {
            find_clocks(store).await;
            store.run.set(first);
            store.place.set(Place::Ride);
        }
    }
    find_clocks(store).await;
    match fetch_file(ARCHIVE).await {
        Ok(file) => take_archive(store, file).await,
        Err(problem) => store.tell(format!("The demo's earlier days could not be loaded: {problem}")),
    }
}

async fn fetch_file(name: &str) -> Result<File, String> {
    let blob = fetch(name).await?;
    let file = web_sys::File::new_with_blob_sequence(&Array::of1(&blob), name);
    file.map(File::from).map_err(|error| format!("{error:?}"))
}

async fn load(store: Store, name: &str) -> Result<(), String> {
    match store.open(fetch_file(name).await?, None).await {
        Ok(_) => Ok(()),
        Err(Failure::Cancelled) => Err(format!("Loading stopped before {name}; what came before is here.")),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}

async fn day_of(store: Store, blob: Blob) -> Result<Day, String> {
    let text = JsFuture::from(blob.text()).await.map_err(|error| format!("{error:?}"))?;
    kept::read(store, text.as_string().unwrap_or_default(), Vec::new()).await.map(|kept| kept.manifest.day)
}

async fn fetch(name: &str) -> Result<Blob, String> {
    match beside::file(&format!("{FOLDER}/{name}")).await {
        Ok(blob) => Ok(blob.unchecked_into()),
        Err(error) => Err(format!("{name} cannot be had ({error:?})")),
    }
}
