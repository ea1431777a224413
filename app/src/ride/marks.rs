//! Marks: moments to be found again, kept in the run's sheet.

use evenkeel_core::MarkedMoment;
use evenkeel_core::align::moment;
use leptos::prelude::*;

use super::tools::go_to;
use super::view::View;
use crate::store::{Store, store};

/// Marks nearer than this are one, s.
const APART_S: f64 = 1e-3;

/// The marks of the run in view.
pub fn marks(store: Store) -> Vec<MarkedMoment> {
    let run = store.run.get();
    store.day.with(|day| day.runs.get(run).map(|run| run.marks.clone())).unwrap_or_default()
}

fn edit(store: Store, change: impl FnOnce(&mut Vec<MarkedMoment>)) {
    let run = store.run.get_untracked();
    store.day.update(|day| {
        if let Some(run) = day.runs.get_mut(run) {
            change(&mut run.marks);
        }
    });
}

/// Marks the cursor's moment, if it is not marked yet.
pub fn add_mark(store: Store) {
    let time_s = store.cursor_s.get_untracked();
    edit(store, |marks| {
        if marks.iter().all(|mark| (mark.time_s - time_s).abs() >= APART_S) {
            let at = marks.partition_point(|mark| mark.time_s < time_s);
            marks.insert(at, MarkedMoment { time_s, name: String::new() });
        }
    });
}

/// The mark next to the cursor, later or earlier.
pub fn next_mark(store: Store, later: bool) -> Option<f64> {
    let cursor = store.cursor_s.get_untracked();
    let times = untrack(|| marks(store)).into_iter().map(|mark| mark.time_s);
    if later {
        times.filter(|t_s| *t_s > cursor + APART_S / 2.0).reduce(f64::min)
    } else {
        times.filter(|t_s| *t_s < cursor - APART_S / 2.0).reduce(f64::max)
    }
}

/// Every mark with its name, to be jumped to or deleted.
#[component]
pub fn Marks(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let all = Memo::new(move |_| marks(store));
    // By its time, which no other has: naming one does not make the others anew.
    let times = Memo::new(move |_| all.get().iter().map(|mark| mark.time_s.to_bits()).collect::<Vec<_>>());
    let one = move |bits: u64| {
        let time_s = f64::from_bits(bits);
        let is_it = move |mark: &MarkedMoment| mark.time_s.to_bits() == bits;
        let name = move || all.with(|all| all.iter().find(|mark| is_it(mark)).map(|mark| mark.name.clone()));
        let rename = move |name: String| {
            edit(store, |marks| {
                if let Some(mark) = marks.iter_mut().find(|mark| is_it(mark)) {
                    mark.name = name;
                }
            });
        };
        let time = moment::format(time_s, 0.001);
        view! {
            <li>
                <button class="moment" title="Put the cursor here" on:click=move |_| go_to(store, view, time_s)>{time.clone()}</button>
                <input aria-label=format!("Name of the mark at {time}") placeholder="what is there" prop:value=move || name().unwrap_or_default() on:change:target=move |e| rename(e.target().value())/>
                <button class="small" aria-label=format!("Delete the mark at {time}") on:click=move |_| edit(store, |marks| marks.retain(|mark| !is_it(mark)))>"×"</button>
            </li>
        }
    };
    view! {
        <section class="marks" aria-label="Marks">
            <ul><For each=move || times.get() key=|bits| *bits let:bits>{one(bits)}</For></ul>
            <p class="quiet" hidden=move || times.with(|times| !times.is_empty())>"None yet. The key m, or “Mark” above the traces, marks the cursor's moment."</p>
        </section>
    }
}
