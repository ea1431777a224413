//! The files of a run.

use evenkeel_core::align::Clock;
use evenkeel_core::setup::Descent;
use evenkeel_core::{Day, Log, RunSheet};
use leptos::prelude::*;

use crate::store::store;
use crate::worker::SourceInfo;

#[component]
pub fn FileRow(run: usize, log: Log) -> impl IntoView {
    let store = store();
    let name = log.file.clone();
    let info = Memo::new(move |_| store.source(&name));
    let file = log.file.clone();
    let belongs = move |event: String| {
        let to = event.parse::<usize>().ok();
        store.day.update(|day| move_log(day, &file, run, to));
        // What could be undone counted the runs as they were.
        store.sheet_changes.update(Vec::clear);
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

/// Moves a file from one run to another, or to a run of its own. A run left without files goes; what was planned
/// for it is planned again.
fn move_log(day: &mut Day, file: &str, from: usize, to: Option<usize>) {
    let Some(index) = day.runs.get(from).and_then(|run| run.logs.iter().position(|log| log.file == file))
    else {
        return;
    };
    let log = Log { clock: Clock::default(), ..day.runs[from].logs.remove(index) };
    match to.and_then(|to| day.runs.get_mut(to)) {
        Some(run) => run.logs.push(log),
        None => {
            let setup = day.runs.last().map(|run| run.setup.with_words("")).unwrap_or_default();
            let name = log.file.clone();
            day.runs.push(RunSheet { name, setup, logs: vec![log], ..RunSheet::default() });
        }
    }
    let emptied = Descent::Ridden(from);
    if day.runs[from].logs.is_empty() && day.runs[from].words.is_empty() {
        let had_a_plan = !day.changes_before(emptied).is_empty() || day.runs[from].plan.is_some();
        let run = day.runs.remove(from);
        if had_a_plan || !run.setup.words.is_empty() {
            day.coming.insert(0, RunSheet { setup: run.setup, plan: run.plan, ..RunSheet::default() });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(files: &[&str]) -> Day {
        let mut day = Day::default();
        for file in files {
            day.start_run((*file).to_owned(), Log { file: (*file).to_owned(), clock: Clock::default() });
        }
        day
    }

    #[test]
    fn a_moved_file_takes_its_empty_run_with_it() {
        let mut day = day(&["a", "b"]);
        move_log(&mut day, "b", 1, Some(0));
        assert_eq!((day.runs.len(), day.coming.len()), (1, 0));
        assert_eq!(day.runs[0].logs.len(), 2);
        move_log(&mut day, "b", 0, None);
        assert_eq!(day.runs.len(), 2);
    }

    #[test]
    fn what_was_planned_for_a_run_that_goes_is_planned_again() {
        let mut day = day(&["a"]);
        day.plan_next();
        day.coming[0].setup.words = "one click".to_owned();
        day.start_run("b".to_owned(), Log { file: "b".to_owned(), clock: Clock::default() });
        assert_eq!((day.runs.len(), day.coming.len()), (2, 0));
        move_log(&mut day, "b", 1, Some(0));
        assert_eq!((day.runs.len(), day.coming[0].setup.words.as_str()), (1, "one click"));
        // What the rider said keeps its run.
        day.runs[0].words = "dead".to_owned();
        move_log(&mut day, "a", 0, None);
        move_log(&mut day, "b", 0, Some(1));
        assert_eq!((day.runs.len(), day.runs[0].logs.len()), (2, 0));
    }
}
