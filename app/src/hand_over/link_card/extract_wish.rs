//! A link that carries a piece of the run in view.

use std::collections::BTreeSet;

use evenkeel_core::handover::{Extract, RunName, Stretch};
use leptos::prelude::*;

use super::link_out::LinkOut;
use super::wish::{ExtractOf, Wish, made, remarks_on};
use crate::field::{Choice, NumberField};
use crate::hand_over::shared::id_to_be;
use crate::ride::{Row, joined_rows};
use crate::store::{Store, store};

/// What is sent unless something else is chosen: rows of Ride by key.
const USUAL: [&str; 4] = ["travel", "pitch", "brakes", "speed"];
/// What is taken around the cursor where no range is set, s.
const AROUND_S: [f64; 2] = [2.0, 6.0];
const RATES_HZ: [f64; 6] = [250.0, 100.0, 50.0, 25.0, 10.0, 5.0];

#[component]
pub fn ExtractWish() -> impl IntoView {
    let store = store();
    let range_s = RwSignal::new(first_range(store));
    let chosen = RwSignal::new(USUAL.map(str::to_owned).into_iter().collect::<BTreeSet<String>>());
    let rate_hz = RwSignal::new(None::<f64>);
    let [words, remarks] = [RwSignal::new(true), RwSignal::new(true)];
    let rows = Memo::new(move |_| {
        store.ride.with(|ride| {
            ride.as_ref().map(|ride| joined_rows(|trace| ride.get(trace).is_some())).unwrap_or_default()
        })
    });
    // Another run has another time.
    Effect::new(move |before: Option<usize>| {
        let run = store.run.get();
        if before.is_some_and(|before| before != run) {
            range_s.set(untrack(|| first_range(store)));
        }
        run
    });
    // Before that its places and its traces are not what they will be.
    let ready = Memo::new(move |_| {
        store.is_placed() && store.ride.with(|ride| ride.as_ref().is_some_and(|ride| ride.analysed))
    });
    let wish = Memo::new(move |_| {
        let (day, run, range_s) = (store.day.get(), store.run.get(), range_s.get());
        let sheet = day.runs.get(run)?.clone();
        let has = |trace| store.ride.with(|ride| ride.as_ref().is_some_and(|ride| ride.get(trace).is_some()));
        let taken =
            rows.get().into_iter().filter(|row| chosen.with(|chosen| chosen.contains(row.key.as_ref())));
        let traces = taken.flat_map(|row| row.lines).map(|line| line.trace).filter(|trace| has(*trace));
        let traces: Vec<_> = traces.collect();
        if !ready.get() || traces.is_empty() || range_s[0] >= range_s[1] {
            return None;
        }
        let inside = |t_s: f64| (range_s[0]..=range_s[1]).contains(&t_s);
        let cursor_s = store.cursor_s.get();
        let extract = Extract {
            id: id_to_be(store),
            day: day.name.clone(),
            run: RunName::of(&sheet),
            words: if words.get() { sheet.words.clone() } else { String::new() },
            cursor_s: inside(cursor_s).then_some(cursor_s),
            sections: sections(store, range_s),
            marks: sheet.marks.iter().filter(|mark| inside(mark.time_s)).cloned().collect(),
            remarks: if remarks.get() { remarks_on(store, run) } else { Default::default() },
            channels: Vec::new(),
        };
        Some(Wish::Extract(Box::new(ExtractOf {
            day,
            run,
            traces,
            range_s,
            rate_hz: rate_hz.get(),
            extract,
        })))
    });
    let made = made(store, wish);
    let end = move |which: usize, label: &'static str| {
        view! {
            <NumberField
                label=label
                unit="s"
                id=format!("extract-{which}")
                value=Signal::derive(move || range_s.get()[which])
                on_change=move |t_s| range_s.update(|range| range[which] = t_s)
            />
        }
    };
    let tick = move |row: Row| {
        let key = row.key.to_string();
        let (shown, changed) = (key.clone(), key);
        view! {
            <label class="tick">
                <input
                    type="checkbox"
                    prop:checked=move || chosen.with(|chosen| chosen.contains(&shown))
                    on:change:target=move |event| chosen.update(|chosen| {
                        if event.target().checked() {
                            chosen.insert(changed.clone());
                        } else {
                            chosen.remove(&changed);
                        }
                    })
                />
                {row.title.to_string()}
            </label>
        }
    };
    let extra = |name: &'static str, with: RwSignal<bool>| {
        view! {
            <label class="tick">
                <input type="checkbox" prop:checked=move || with.get() on:change:target=move |event| with.set(event.target().checked())/>
                {name}
            </label>
        }
    };
    let fitting = std::iter::once((None, "the highest that fits a mail".to_owned()));
    let rates = RATES_HZ.map(|rate_hz| (Some(rate_hz), format!("{rate_hz:.0} Hz")));
    let rates: Vec<_> = fitting.chain(rates).collect();
    view! {
        <div class="fields">
            {end(0, "From")}
            {end(1, "To")}
            <SectionOf range_s/>
            <Choice label="Rate" id="extract-rate" chosen=rate_hz options=rates/>
        </div>
        <fieldset class="ticks">
            <legend>"Traces"</legend>
            {move || rows.get().into_iter().map(tick).collect_view()}
        </fieldset>
        <fieldset class="ticks">
            <legend>"With"</legend>
            {extra("What the rider said", words)}
            {extra("Remarks", remarks)}
        </fieldset>
        <Show when=move || !ready.get()><p class="quiet" role="status">"The run is still being analysed."</p></Show>
        <Show when=move || ready.get() && wish.with(Option::is_none)>
            <p class="wrong">"Choose a trace, and an end that lies behind the beginning."</p>
        </Show>
        <LinkOut made/>
    }
}

/// The range that is set in Ride, else what is around the cursor.
fn first_range(store: Store) -> [f64; 2] {
    let round = |t_s: f64| (t_s * 10.0).round() / 10.0;
    store.range_s.get_untracked().unwrap_or_else(|| {
        let cursor_s = store.cursor_s.get_untracked();
        [round(cursor_s - AROUND_S[0]), round(cursor_s + AROUND_S[1])]
    })
}

/// The day's sections in the run in view, each with its times.
fn passed(store: Store) -> Vec<Stretch> {
    let placed = |placed: &crate::worker::PlacedSection| {
        let stretch = placed.stretch.as_ref().ok()?;
        Some(Stretch { name: placed.section.name.clone(), range_s: [stretch.start_s, stretch.end_s] })
    };
    store.track.with(|track| {
        track.as_ref().map(|track| track.sections.iter().filter_map(placed).collect()).unwrap_or_default()
    })
}

fn sections(store: Store, [from_s, to_s]: [f64; 2]) -> Vec<Stretch> {
    let within = |stretch: &Stretch| stretch.range_s[0] < to_s && stretch.range_s[1] > from_s;
    passed(store).into_iter().filter(within).collect()
}

/// Takes a section's times.
#[component]
fn SectionOf(range_s: RwSignal<[f64; 2]>) -> impl IntoView {
    let store = store();
    let options = Signal::derive(move || {
        let sections = passed(store).into_iter().map(|stretch| (Some(stretch.range_s), stretch.name));
        std::iter::once((None, "as typed".to_owned())).chain(sections).collect::<Vec<_>>()
    });
    let chosen = RwSignal::new(None);
    Effect::new(move |_| {
        if let Some(section_s) = chosen.get() {
            range_s.set(section_s);
        }
    });
    // What is typed then is no section any more.
    Effect::new(move |_| {
        let typed_s = range_s.get();
        if chosen.get_untracked().is_some_and(|section_s| section_s != typed_s) {
            chosen.set(None);
        }
    });
    view! {
        <Show when=move || options.with(|options| options.len() > 1)>
            <Choice label="Or a section" id="extract-section" chosen options/>
        </Show>
    }
}
