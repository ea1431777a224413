//! From dropped files to the day's runs.

use evenkeel_core::align::{Clock, ClockMatch};
use evenkeel_core::calibrate::Mount;
use evenkeel_core::import::Layout;
use evenkeel_core::{Log, NotMeasured, RunSheet};
use gloo_file::File;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;
use web_sys::{DragEvent, FileList};

use super::undo::change;
use crate::dropped::files_of;
use crate::hand_over;
use crate::store::{Place, Store};
use crate::timing::breathe;
use crate::worker::{Failure, Request, SourceInfo};

pub fn list_files(list: &FileList) -> Vec<File> {
    (0..list.length())
        .filter_map(|i| list.get(i))
        .map(|file| File::from(file.unchecked_into::<web_sys::File>()))
        .collect()
}

/// Takes what is dropped anywhere on the page while the caller is shown.
pub fn take_drops(store: Store) {
    if store.is_unseen {
        return;
    }
    let over = window_event_listener(leptos::ev::dragover, |event| event.prevent_default());
    let dropped = window_event_listener(leptos::ev::drop, move |event| {
        event.prevent_default();
        take_drop(store, event);
    });
    on_cleanup(move || {
        over.remove();
        dropped.remove();
    });
}

pub fn take_drop(store: Store, event: DragEvent) {
    spawn_local(async move {
        match files_of(&event).await {
            Ok(files) => take_files(store, files),
            Err(problem) => store.tell(problem),
        }
    });
}

/// Reads files and puts each into the run its name points to; in Ride, the run of the first comes into view. A
/// file that fails says so; the others go on.
pub fn take_files(store: Store, files: Vec<File>) {
    spawn_local(async move {
        let _loading = store.loading();
        let mut to_show = store.place.get_untracked() == Place::Ride;
        for file in files {
            let name = file.name();
            if hand_over::take(store, &file).await {
                continue;
            }
            if !take_file(store, file, None).await {
                break;
            }
            if let Some(run) = run_of(store, &name).filter(|_| to_show) {
                to_show = false;
                store.run.set(run);
            }
        }
        // First the page asks for what it shows: the worker answers in turn.
        breathe().await;
        find_clocks(store).await;
        find_mounts(store).await;
    });
}

/// The run that the first part of a file belongs to.
fn run_of(store: Store, file: &str) -> Option<usize> {
    let parts = store.sources.get_untracked();
    let part = &parts.iter().find(|source| source.file == file)?.name;
    let holds = |run: &RunSheet| run.logs.iter().any(|log| log.file == *part);
    store.day.with_untracked(|day| day.runs.iter().position(holds))
}

/// Reads one file; false if that was called off.
pub async fn take_file(store: Store, file: File, layout: Option<Layout>) -> bool {
    match store.open(file, layout).await {
        Ok(sources) => sources.iter().for_each(|source| place_source(store, source)),
        Err(Failure::Cancelled) => return false,
        Err(Failure::Problem(problem)) => {
            store.tell(format!("{problem}. All that was loaded before is still here."));
        }
    }
    true
}

/// Looks how the inertial units of newly known kinds of file lie. What is not found stays as fitted
/// straight; the Check says so and asks.
pub async fn find_mounts(store: Store) {
    let runs = store.day.get_untracked().runs;
    for (run, sheet) in runs.iter().enumerate() {
        for source in sheet.logs.iter().filter_map(|log| store.source_untracked(&log.file)) {
            if store.day.with_untracked(|day| day.kept_profile(source.headers()).is_some()) {
                continue;
            }
            let mut profile = source.guess.clone();
            for place in [evenkeel_core::Place::Frame, evenkeel_core::Place::Bar] {
                if !profile.has_triad(place) {
                    continue;
                }
                let request = Request::FindMount { day: store.day.get_untracked(), run, place };
                if let Ok((Ok(mount), _)) = store.ask::<Result<Mount, NotMeasured>>(request, None).await {
                    // Whether it stood level is for its owner to say.
                    profile.set_mount(place, mount.levelled(0.0, 0.0));
                }
            }
            if profile != source.guess {
                store.day.update(|day| day.keep_profile(profile));
            }
        }
    }
}

/// Adds a source to the run that its name points to, or to a new one.
fn place_source(store: Store, source: &SourceInfo) {
    let key = run_key(&source.name);
    let holds = |run: &RunSheet, name: &str| run.logs.iter().any(|log| log.file == name);
    if store.day.with_untracked(|day| day.runs.iter().any(|run| holds(run, &source.name))) {
        return;
    }
    let log = Log { file: source.name.clone(), clock: Clock::default() };
    let of_same_run = |run: &RunSheet| run.logs.iter().any(|log| run_key(&log.file) == key);
    let (run, planned) =
        store.day.with_untracked(|day| (day.runs.iter().position(of_same_run), !day.coming.is_empty()));
    match run {
        Some(run) => store.day.update(|day| day.runs[run].logs.push(log)),
        None if planned => {
            change(store, format!("{key} took the next planned sheet"), |day| {
                day.start_run(key, log);
            });
        }
        None => store.day.update(|day| {
            day.start_run(key, log);
        }),
    }
}

/// The words of a file name that hold a digit: `run1_forks.csv` and `run1_motion.csv` both say `run1`.
fn run_key(file: &str) -> String {
    let (stem, part) = file.split_once(" (part").unwrap_or((file, ""));
    let stem = stem.rsplit_once('.').map_or(stem, |(stem, _)| stem);
    let telling: Vec<&str> =
        stem.split(['_', '-', ' ']).filter(|word| word.contains(|c: char| c.is_ascii_digit())).collect();
    let key = if telling.is_empty() { stem.to_owned() } else { telling.join("-") };
    // A logger that restarted began another run.
    if part.is_empty() { key } else { format!("{key} (part{part}") }
}

/// Looks for the clock of every further file of a run that has none yet.
pub async fn find_clocks(store: Store) {
    let wanted: Vec<(usize, String)> = store.day.with_untracked(|day| {
        let later = |run: &RunSheet| {
            run.logs.iter().skip(1).filter(|log| log.clock == Clock::default()).cloned().collect::<Vec<_>>()
        };
        day.runs
            .iter()
            .enumerate()
            .flat_map(|(i, run)| later(run).into_iter().map(move |log| (i, log.file)))
            .collect()
    });
    for (run, file) in wanted {
        if store.source(&file).is_some()
            && let Err(reason) = find_clock(store, run, file.clone()).await
        {
            store
                .tell(format!("{file}: its clock could not be matched ({reason}). Set it by hand in Check."));
        }
    }
}

/// Finds one file's clock against the first of its run, and keeps it. Gives the words for the screen.
pub async fn find_clock(store: Store, run: usize, source: String) -> Result<String, String> {
    let request = Request::FindClock { day: store.day.get_untracked(), run, source: source.clone() };
    let found = store.ask::<Result<ClockMatch, NotMeasured>>(request, None).await;
    match found {
        Ok((Ok(found), _)) => {
            store.day.update(|day| {
                let log =
                    day.runs.get_mut(run).and_then(|run| run.logs.iter_mut().find(|log| log.file == source));
                if let Some(log) = log {
                    log.clock = found.clock;
                }
            });
            Ok(found.to_string())
        }
        Ok((Err(reason), _)) => Err(reason.0),
        Err(Failure::Cancelled) => Err("called off".to_owned()),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_one_run_share_a_key() {
        assert_eq!(run_key("run1_forks.csv"), run_key("run1_motion.csv"));
        assert_eq!(run_key("imu_run2.csv"), run_key("forks_run2.txt"));
        assert_ne!(run_key("run1_forks.csv"), run_key("run2_forks.csv"));
        assert_ne!(run_key("2026-11-25_run1.csv"), run_key("2026-11-25_run2.csv"));
        assert_ne!(run_key("log.csv"), run_key("other.csv"));
        assert_ne!(run_key("run1.csv"), run_key("run1.csv (part 2)"));
    }
}
