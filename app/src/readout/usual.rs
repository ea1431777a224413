//! Which runs felt right: the others are compared with them.

use leptos::prelude::*;

use crate::store::store;

#[component]
pub fn Usual() -> impl IntoView {
    let store = store();
    let runs = Memo::new(move |_| {
        store.day.with(|day| day.runs.iter().map(|run| run.name.clone()).collect::<Vec<_>>())
    });
    let usual = Memo::new(move |_| {
        store.day.with(|day| day.findings.baseline.names().map(str::to_owned).collect::<Vec<_>>())
    });
    let ticks = move || {
        let tick = |(run, name): (usize, String)| {
            let own = name.clone();
            let ticked = move || usual.with(|usual| usual.contains(&own));
            let unread = move || store.readout(run).is_none();
            let label = name.clone();
            let choose = move |yes: bool| {
                if yes {
                    leptos::task::spawn_local(store.take_as_usual(run));
                } else {
                    store.day.update(|day| day.findings.baseline.remove(&name));
                }
            };
            view! {
                <label class="tick">
                    <input
                        type="checkbox"
                        prop:checked=ticked
                        prop:disabled=unread
                        on:change:target=move |event| choose(event.target().checked())
                    />
                    {label}
                </label>
            }
        };
        runs.get().into_iter().enumerate().map(tick).collect_view()
    };
    view! {
        <section class="usual" aria-label="Compared with">
            <h2>"Runs that felt right"</h2>
            <p class="quiet">
                {move || if usual.with(Vec::is_empty) {
                    "Tick a run on this track in which the bike felt right. Until then limits that hold for any bike stand in, and little can be said of rebound and sag."
                } else {
                    "What is usual for this bike on this track, where it was about as fast, is taken from these. A run is never compared with itself."
                }}
            </p>
            <div class="ticks">{ticks}</div>
        </section>
    }
}
