//! A logger's clock against the run's.

use evenkeel_core::align::Clock;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::day::find_clock;
use crate::field::NumberField;
use crate::store::store;

#[component]
pub fn ClockForm(source: String, first: bool) -> impl IntoView {
    let store = store();
    let run = store.run.get_untracked();
    if first {
        return view! { <p class="quiet">"Clock: the run's own; the other files are matched to it."</p> }
            .into_any();
    }
    let source = StoredValue::new(source);
    let clock = Memo::new(move |_| {
        let found = store.day.with(|day| {
            let run = day.runs.get(run)?;
            source.with_value(|source| run.logs.iter().find(|log| log.file == *source).map(|log| log.clock))
        });
        found.unwrap_or_default()
    });
    let edit = move |change: &dyn Fn(&mut Clock)| {
        store.day.update(|day| {
            let logs = day.runs.get_mut(run).map(|run| run.logs.iter_mut()).into_iter().flatten();
            for log in logs.filter(|log| source.with_value(|source| log.file == *source)) {
                change(&mut log.clock);
            }
        });
    };
    let words = RwSignal::new(String::new());
    view! {
        <details class="clock" open>
            <summary>"Clock"</summary>
            <div class="fields">
                <NumberField label="Offset" unit="s" digits=4 value=Signal::derive(move || clock.get().offset_s)
                    on_change=move |v| edit(&|clock| clock.offset_s = v)/>
                <NumberField label="Drift" unit="ppm" value=Signal::derive(move || clock.get().drift * 1e6)
                    on_change=move |v| edit(&|clock| clock.drift = v / 1e6)/>
                <button on:click=move |_| {
                    words.set("looking…".to_owned());
                    spawn_local(async move {
                        let found = find_clock(store, run, source.get_value()).await;
                        words.set(found.unwrap_or_else(|reason| format!("not found: {reason}")));
                    });
                }>"Find from what both loggers measured"</button>
            </div>
            <p class="quiet" aria-live="polite">{words}</p>
        </details>
    }
    .into_any()
}
