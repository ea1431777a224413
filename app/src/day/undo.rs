//! What is written over on the day's sheets can be had back.

use evenkeel_core::setup::{NamedPlan, SetupSheet};
use evenkeel_core::{Day, RunSheet};
use leptos::prelude::*;

use crate::store::{Store, store};

/// So many changes can be undone.
const KEPT: usize = 100;

/// The day's sheets as they were before a change.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetChange {
    /// What was done, for the button that undoes it.
    what: String,
    ridden: Vec<Written>,
    coming: Vec<RunSheet>,
    practice_runs: Option<usize>,
}

/// What is written about a run that was ridden.
#[derive(Clone, Debug, PartialEq)]
struct Written {
    name: String,
    time_of_day: String,
    words: String,
    setup: SetupSheet,
    plan: Option<NamedPlan>,
}

impl SheetChange {
    fn of(day: &Day, what: String) -> Self {
        let written = |run: &RunSheet| Written {
            name: run.name.clone(),
            time_of_day: run.time_of_day.clone(),
            words: run.words.clone(),
            setup: run.setup.clone(),
            plan: run.plan.clone(),
        };
        let ridden = day.runs.iter().map(written).collect();
        Self { what, ridden, coming: day.coming.clone(), practice_runs: day.practice_runs }
    }

    /// Puts the sheets back. A run that began since has a copy of the one before it.
    fn restore(self, day: &mut Day) {
        let began_since = self.ridden.len();
        for (run, written) in day.runs.iter_mut().zip(self.ridden) {
            let Written { name, time_of_day, words, setup, plan } = written;
            *run = RunSheet { name, time_of_day, words, setup, plan, ..std::mem::take(run) };
        }
        for run in began_since..day.runs.len() {
            let before = run.checked_sub(1).and_then(|before| day.runs.get(before));
            let setup = before.map(|before| before.setup.with_words("")).unwrap_or_default();
            day.runs[run] = RunSheet { setup, plan: None, ..std::mem::take(&mut day.runs[run]) };
        }
        (day.coming, day.practice_runs) = (self.coming, self.practice_runs);
    }
}

/// Changes the day's sheets; what they were can be had back.
pub fn change(store: Store, what: impl Into<String>, act: impl FnOnce(&mut Day)) {
    let before = store.day.with_untracked(|day| SheetChange::of(day, what.into()));
    store.day.update(act);
    store.sheet_changes.update(|changes| {
        changes.push(before);
        if changes.len() > KEPT {
            changes.remove(0);
        }
    });
}

/// Takes the last change back.
#[component]
pub fn UndoButton() -> impl IntoView {
    let store = store();
    let last =
        Memo::new(move |_| store.sheet_changes.with(|all| all.last().map(|change| change.what.clone())));
    let undo = move |_| {
        if let Some(before) = store.sheet_changes.try_update(Vec::pop).flatten() {
            store.day.update(|day| before.restore(day));
        }
    };
    view! {
        <button id="undo-sheet" aria-disabled=move || last.with(Option::is_none).then_some("true") on:click=undo>
            {move || last.get().map_or("Nothing to undo".to_owned(), |what| format!("Undo: {what}"))}
        </button>
    }
}

#[cfg(test)]
mod tests {
    use evenkeel_core::Log;

    use super::*;

    #[test]
    fn a_sheet_given_to_the_wrong_run_is_planned_again() {
        let log = |file: &str| Log { file: file.to_owned(), ..Log::default() };
        let mut day = Day::default();
        day.start_run("a".to_owned(), log("a"));
        day.runs[0].words = "good".to_owned();
        day.plan_next();
        day.coming[0].setup.words = "one click".to_owned();
        day.set_runs_left(Some(2));
        let planned = day.clone();
        let before = SheetChange::of(&day, "taken".to_owned());
        day.start_run("b".to_owned(), log("b"));
        day.runs[0].words = String::new();
        before.restore(&mut day);
        assert_eq!(day.coming, planned.coming);
        assert_eq!((day.runs[0].words.as_str(), day.runs[1].setup.words.as_str()), ("good", ""));
        assert_eq!(day.runs[1].logs, [log("b")]);
    }
}
