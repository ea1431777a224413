//! The Day: files in, runs listed, what the rider said.

use evenkeel_core::align::{Clock, ClockMatch};
use evenkeel_core::calibrate::Mount;
use evenkeel_core::import::Layout;
use evenkeel_core::{Log, NotMeasured, RunSheet};
use gloo_file::File;
use leptos::html;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;
use web_sys::{DragEvent, FileList, HtmlInputElement};

use crate::demo::load_demo;
use crate::dropped::files_of;
use crate::field::NumberField;
use crate::store::{Place, Store, store};
use crate::timing::breathe;
use crate::worker::{Failure, Request, SourceInfo};

#[component]
pub fn DayPlace() -> impl IntoView {
    let store = store();
    let none = Memo::new(move |_| store.day.with(|day| day.runs.is_empty()));
    let count = Memo::new(move |_| store.day.with(|day| day.runs.len()));
    view! {
        <div class="day">
            <Intake/>
            <WithoutTime/>
            <Show when=move || none.get() fallback=move || {
                view! {
                    <section class="runs" aria-label="Runs">
                        <For each=move || 0..count.get() key=|run| *run let:run>
                            <RunCard run/>
                        </For>
                    </section>
                }
            }>
                <FirstSteps/>
            </Show>
        </div>
    }
}

/// Where files come in.
#[component]
fn Intake() -> impl IntoView {
    let store = store();
    let over = RwSignal::new(false);
    let chosen = move |input: HtmlInputElement| {
        if let Some(list) = input.files() {
            take_files(store, list_files(&list));
        }
        // The same file chosen again is a change again.
        input.set_value("");
    };
    let files = NodeRef::<html::Input>::new();
    let folder = NodeRef::<html::Input>::new();
    let open = |input: NodeRef<html::Input>| {
        move |_| {
            if let Some(input) = input.get() {
                input.click();
            }
        }
    };
    view! {
        <section
            class="intake"
            class:over=move || over.get()
            aria-label="Load logs"
            on:dragover=move |event: DragEvent| {
                event.prevent_default();
                over.set(true);
            }
            on:dragleave=move |_| over.set(false)
            on:drop=move |event: DragEvent| {
                event.prevent_default();
                over.set(false);
                take_drop(store, event);
            }
        >
            <p>"Drop the log files of one run or of a whole day here. They stay on this computer."</p>
            <p class="buttons">
                <button class="main" on:click=open(files)>"Choose files"</button>
                <button on:click=open(folder)>"Choose a folder"</button>
                <button id="demo" on:click=move |_| spawn_local(load_demo(store))>"Load the demo day"</button>
            </p>
            <input id="files" type="file" multiple hidden node_ref=files on:change:target=move |e| chosen(e.target())/>
            <input id="folder" type="file" prop:webkitdirectory=true hidden node_ref=folder on:change:target=move |e| chosen(e.target())/>
        </section>
    }
}

/// Files that do not say how time passes: their owner types the rate.
#[component]
fn WithoutTime() -> impl IntoView {
    let store = store();
    let rate_hz = RwSignal::new(0.0);
    let read = move |name: String, mut layout: Layout| {
        let Some(file) = store.file(&name).filter(|_| rate_hz.get_untracked() > 0.0) else { return };
        layout.set_rate(rate_hz.get_untracked());
        spawn_local(async move {
            if take_file(store, file, Some(layout)).await {
                find_clocks(store).await;
                find_mounts(store).await;
            }
        });
    };
    view! {
        <For each=move || store.without_time.get() key=|(name, _)| name.clone() let:waiting>
            <section class="without-time">
                <p>{format!("{} has no time column and names no rate. How many rows does it hold a second?", waiting.0)}</p>
                <div class="fields">
                    <NumberField label="Rate" unit="Hz" digits=3 value=Signal::from(rate_hz) on_change=move |v| rate_hz.set(v)/>
                    <button on:click=move |_| read(waiting.0.clone(), waiting.1.clone())>"Read it"</button>
                </div>
            </section>
        </For>
    }
}

#[component]
fn FirstSteps() -> impl IntoView {
    view! {
        <section class="steps" aria-label="How it goes">
            <ol>
                <li><b>"Load"</b>"The text files of your loggers: several for one run, each with its own clock and rate."</li>
                <li><b>"Check"</b>"What each channel was taken for: sensor, unit, zero, sign, and how the inertial unit lies."</li>
                <li><b>"Ride"</b>"Type a time from the helmet video and see what the bike did at that moment."</li>
            </ol>
            <p class="caution">
                "Measurements advise; they do not decide. Stay inside the makers' pressure and torque limits, change one "
                "thing at a time, try it at low speed first, and leave brakes and structural doubts to a qualified mechanic. "
                "The event's rules and local law come first."
            </p>
        </section>
    }
}

#[component]
fn RunCard(run: usize) -> impl IntoView {
    let store = store();
    let sheet = Memo::new(move |_| store.day.with(|day| day.runs.get(run).cloned()).unwrap_or_default());
    let edit = move |change: &dyn Fn(&mut RunSheet)| {
        store.day.update(|day| {
            if let Some(sheet) = day.runs.get_mut(run) {
                change(sheet);
            }
        });
    };
    let go = move |place| {
        move |_| {
            store.run.set(run);
            store.place.set(place);
        }
    };
    view! {
        <article class="run" aria-label=move || sheet.get().name>
            <div class="run-head">
                <input
                    class="run-name"
                    aria-label="Name of the run"
                    prop:value=move || sheet.get().name
                    on:change:target=move |e| edit(&|sheet| sheet.name = e.target().value())
                />
                <span class="buttons">
                    <button on:click=go(Place::Check)>"Check"</button>
                    <button class="main" on:click=go(Place::Ride)>"Open in Ride"</button>
                </span>
            </div>
            <div class="run-words">
                <label class="field wide">
                    <span>"Rider said"</span>
                    <textarea
                        rows="2"
                        prop:value=move || sheet.get().words
                        on:change:target=move |e| edit(&|sheet| sheet.words = e.target().value())
                    ></textarea>
                </label>
                <label class="field wide">
                    <span>"Changed before this run"</span>
                    <textarea
                        rows="2"
                        prop:value=move || sheet.get().setup
                        on:change:target=move |e| edit(&|sheet| sheet.setup = e.target().value())
                    ></textarea>
                </label>
            </div>
            <table class="files">
                <thead>
                    <tr><th>"File"</th><th>"Time"</th><th>"Rate"</th><th>"Rows"</th><th>"Gaps"</th><th>"Run"</th></tr>
                </thead>
                <tbody>
                    {move || sheet.get().logs.into_iter().map(|log| view! { <FileRow run log/> }).collect_view()}
                </tbody>
            </table>
        </article>
    }
}

#[component]
fn FileRow(run: usize, log: Log) -> impl IntoView {
    let store = store();
    let name = log.file.clone();
    let info = Memo::new(move |_| store.source(&name));
    let file = log.file.clone();
    let belongs = move |event: String| {
        let to = event.parse::<usize>().ok();
        store.day.update(|day| move_log(&mut day.runs, &file, run, to));
    };
    let runs = move || {
        let names = store.day.with(|day| day.runs.iter().map(|run| run.name.clone()).collect::<Vec<_>>());
        names
            .into_iter()
            .enumerate()
            .map(|(i, name)| view! { <option value=i selected=i == run>{name}</option> })
            .collect_view()
    };
    let facts = move || match info.get() {
        Some(SourceInfo { report, start_s, end_s, .. }) => view! {
            <td class="number">{format!("{:.1} s", end_s - start_s)}</td>
            <td class="number">{format!("{:.0} Hz", report.rate_hz)}</td>
            <td class="number" data-label="rows">{report.rows}</td>
            <td class="number" data-label="gaps">{report.gaps}</td>
        }
        .into_any(),
        None => view! { <td colspan="4" class="quiet">"not loaded in this page"</td> }.into_any(),
    };
    let warnings = move || {
        let warnings = info.get().map(|info| info.report.warnings).unwrap_or_default();
        (!warnings.is_empty()).then(|| {
            let lines = warnings.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
            view! { <ul class="warnings">{lines}</ul> }
        })
    };
    view! {
        <tr>
            <td>{log.file.clone()}{warnings}</td>
            {facts}
            <td>
                <select aria-label="Run this file belongs to" on:change:target=move |e| belongs(e.target().value())>
                    {runs}
                    <option value="new">"a run of its own"</option>
                </select>
            </td>
        </tr>
    }
}

/// Moves a file from one run to another, or to a run of its own; a run left without files goes.
fn move_log(runs: &mut Vec<RunSheet>, file: &str, from: usize, to: Option<usize>) {
    let Some(index) = runs.get(from).and_then(|run| run.logs.iter().position(|log| log.file == file)) else {
        return;
    };
    let log = Log { clock: Clock::default(), ..runs[from].logs.remove(index) };
    match to.and_then(|to| runs.get_mut(to)) {
        Some(run) => run.logs.push(log),
        None => runs.push(RunSheet { name: log.file.clone(), logs: vec![log], ..RunSheet::default() }),
    }
    let empty = |run: &RunSheet| run.logs.is_empty() && run.words.is_empty() && run.setup.is_empty();
    runs.retain(|run| !empty(run));
}

pub fn list_files(list: &FileList) -> Vec<File> {
    (0..list.length())
        .filter_map(|i| list.get(i))
        .map(|file| File::from(file.unchecked_into::<web_sys::File>()))
        .collect()
}

/// Takes what is dropped anywhere on the page while the caller is shown.
pub fn take_drops(store: Store) {
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

fn take_drop(store: Store, event: DragEvent) {
    spawn_local(async move {
        match files_of(&event).await {
            Ok(files) => take_files(store, files),
            Err(problem) => store.tell(problem),
        }
    });
}

/// Reads files and puts each into the run its name points to; in Ride, the run of the first comes into view. A
/// file that fails says so; the others go on.
fn take_files(store: Store, files: Vec<File>) {
    spawn_local(async move {
        let _loading = store.loading();
        let mut to_show = store.place.get_untracked() == Place::Ride;
        for file in files {
            let name = file.name();
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
async fn take_file(store: Store, file: File, layout: Option<Layout>) -> bool {
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
async fn find_mounts(store: Store) {
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
    store.day.update(|day| {
        let known = day.runs.iter().flat_map(|run| &run.logs).any(|log| log.file == source.name);
        if known {
            return;
        }
        let log = Log { file: source.name.clone(), clock: Clock::default() };
        match day.runs.iter_mut().find(|run| run.logs.iter().any(|log| run_key(&log.file) == key)) {
            Some(run) => run.logs.push(log),
            None => day.runs.push(RunSheet { name: key, logs: vec![log], ..RunSheet::default() }),
        }
    });
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

    #[test]
    fn a_moved_file_takes_its_empty_run_with_it() {
        let run = |file: &str| RunSheet {
            name: file.to_owned(),
            logs: vec![Log { file: file.to_owned(), clock: Clock::default() }],
            ..RunSheet::default()
        };
        let mut runs = vec![run("a"), run("b")];
        move_log(&mut runs, "b", 1, Some(0));
        assert_eq!(runs.len(), 1);
        assert_eq!(runs[0].logs.len(), 2);
        move_log(&mut runs, "b", 0, None);
        assert_eq!(runs.len(), 2);
    }
}
