//! Along the track: the time difference, and two traces of both runs, under one cursor.

use std::sync::Arc;

use evenkeel_core::setup::Descent;
use evenkeel_plot::ticks;
use leptos::html;
use leptos::prelude::*;
use web_sys::PointerEvent;

use super::laid_view::LaidView;
use super::painting::{Drawn, Picture, paint, write_values};
use super::rows::{OverlaidRow, overlaid};
use crate::ride::watch_size;
use crate::save_picture::SavePicture;
use crate::store::{Store, store};
use crate::words::{fixed, number, symbol};

/// Length of run that is shown in Ride from a place on, s.
const SHOWN_S: f64 = 1.0;

/// The stretch that the pictures show, m.
fn stretch(store: Store, view: &LaidView) -> [f64; 2] {
    store.compared.stretch.with(|section| view.stretch_m(section.as_deref()))
}

#[component]
pub fn Pictures(view: Arc<LaidView>) -> impl IntoView {
    let store = store();
    let view = StoredValue::new(view);
    let shown_m = Memo::new(move |_| view.with_value(|view| stretch(store, view)));
    // A cursor outside of what is shown goes to its start.
    Effect::new(move |_| {
        let [from_m, to_m] = shown_m.get();
        let place_m = store.compared.place_m.get_untracked();
        if !(from_m..=to_m).contains(&place_m) {
            store.compared.place_m.set(from_m);
        }
    });
    let rows: Vec<OverlaidRow> =
        view.with_value(|view| overlaid().into_iter().filter(|row| view.has(row.trace)).collect());
    let rows = StoredValue::new(rows);
    view! {
        <div class="along-pictures pictured">
            <StretchChoice view/>
            <CursorBar view shown_m/>
            <div class="along-rows" data-picture>
                <Bands view shown_m/>
                <LostRow view shown_m/>
                <TraceRow view shown_m rows which=0/>
                <TraceRow view shown_m rows which=1/>
                <Metres shown_m/>
            </div>
            <p class="quiet legend">
                <span><i class="key a-line"></i>"A, dashed (hollow where it is dense)"</span>
                <span><i class="key b-line"></i>"B, full"</span>
                <span><i class="key zone"></i>"what the placing leaves open, 95 %"</span>
            </p>
            <AsTable view shown_m rows/>
            <SavePicture name="back-to-back" drawing=false/>
        </div>
    }
}

#[component]
fn StretchChoice(view: StoredValue<Arc<LaidView>>) -> impl IntoView {
    let store = store();
    let names: Vec<String> =
        view.with_value(|view| view.over.sections.iter().map(|laid| laid.section.name.clone()).collect());
    let chosen = store.compared.stretch;
    let option = |name: String| {
        let (own, shown) = (name.clone(), name.clone());
        view! { <option value=name selected=move || chosen.with(|chosen| chosen.as_ref() == Some(&own))>{shown}</option> }
    };
    view! {
        <label class="inline-choice">
            <span>"Show"</span>
            <select
                id="along-stretch"
                on:change:target=move |event| {
                    let name = event.target().value();
                    chosen.set((!name.is_empty()).then_some(name));
                }
            >
                <option value="" selected=move || chosen.with(Option::is_none)>"the whole track"</option>
                {names.into_iter().map(option).collect_view()}
            </select>
        </label>
    }
}

/// Where the cursor is, and what is there; by keyboard too.
#[component]
fn CursorBar(view: StoredValue<Arc<LaidView>>, shown_m: Memo<[f64; 2]>) -> impl IntoView {
    let store = store();
    let place_m = store.compared.place_m;
    let here = move || {
        let place_m = place_m.get();
        view.with_value(|view| {
            let section = view.section_at(place_m).unwrap_or("between sections").to_owned();
            let lost =
                view.lost_at(place_m).map_or("–".to_owned(), |[lost_s, half_s]| told_s(lost_s, half_s));
            (section, lost)
        })
    };
    let go = move |side: usize| {
        move |_| {
            let found =
                view.with_value(|view| Some((view.runs[side], view.time_at(side, place_m.get_untracked())?)));
            if let Some((run, time_s)) = found {
                store.show_in_ride(run, [time_s, time_s + SHOWN_S]);
            }
        }
    };
    let run_name = move |side: usize| {
        store.day.with(|day| day.run_name(Descent::Ridden(view.with_value(|view| view.runs[side]))))
    };
    view! {
        <div class="cursor-bar">
            <label class="place">
                <span class="unseen">"Place along the track"</span>
                <input
                    id="along-place"
                    type="range"
                    step="1"
                    min=move || shown_m.get()[0].ceil()
                    max=move || shown_m.get()[1].floor()
                    prop:value=move || place_m.get()
                    aria-valuetext=move || format!("{:.0} m, {}", place_m.get(), here().0)
                    on:input:target=move |event| {
                        if let Ok(metres) = event.target().value().parse() {
                            place_m.set(metres);
                        }
                    }
                />
            </label>
            <dl class="at-place">
                <div><dt>"at"</dt><dd id="along-at">{move || format!("{:.0} m", place_m.get())}</dd></div>
                <div class="name"><dt>"in"</dt><dd>{move || here().0}</dd></div>
                <div><dt>"B less A"</dt><dd id="along-lost">{move || here().1}</dd></div>
            </dl>
            <span class="buttons">
                <button id="ride-a" on:click=go(0)>{move || format!("A: {} here in Ride", run_name(0))}</button>
                <button id="ride-b" on:click=go(1)>{move || format!("B: {} here in Ride", run_name(1))}</button>
            </span>
        </div>
    }
}

/// `+0.31 s ± 0.04`
fn told_s(lost_s: f64, half_s: f64) -> String {
    let number = fixed(lost_s, 2).replace('-', "−");
    let sign = if lost_s >= 0.005 { "+" } else { "" };
    format!("{sign}{number}\u{a0}s ±\u{a0}{}", fixed(half_s, 2))
}

/// The sections above the pictures; one that is clicked is shown alone.
#[component]
fn Bands(view: StoredValue<Arc<LaidView>>, shown_m: Memo<[f64; 2]>) -> impl IntoView {
    let store = store();
    let chosen = store.compared.stretch;
    let sections: Vec<_> =
        view.with_value(|view| view.over.sections.iter().map(|laid| laid.section.clone()).collect());
    let band = move |section: evenkeel_core::track::Section| {
        let (name, own) = (section.name.clone(), section.name.clone());
        let place = move |metres: f64| {
            let [from_m, to_m] = shown_m.get();
            ((metres - from_m) / (to_m - from_m)).clamp(0.0, 1.0) * 100.0
        };
        let (start_m, end_m) = (section.start_m, section.end_m);
        view! {
            <button
                tabindex="-1"
                title=section.name.clone()
                hidden=move || place(end_m) - place(start_m) < 0.01
                style:left=move || format!("{:.3}%", place(start_m))
                style:width=move || format!("{:.3}%", place(end_m) - place(start_m))
                on:click=move |_| {
                    let again = chosen.with_untracked(|chosen| chosen.as_ref() == Some(&own));
                    chosen.set((!again).then(|| own.clone()));
                }
            >
                {name}
            </button>
        }
    };
    view! {
        <div class="along-bands" role="group" aria-label="Sections shown">
            {sections.into_iter().map(band).collect_view()}
        </div>
    }
}

/// A canvas with its values and the cursor; a pointer on it moves the cursor.
#[component]
fn Plot(
    shown_m: Memo<[f64; 2]>,
    #[prop(into)] label: String,
    draw: impl Fn(&web_sys::HtmlCanvasElement, &web_sys::HtmlCanvasElement, (f64, f64)) + 'static,
) -> impl IntoView {
    let store = store();
    let plot = NodeRef::<html::Div>::new();
    let [traces, values] = [(); 2].map(|()| NodeRef::<html::Canvas>::new());
    let size = RwSignal::new((0.0, 0.0));
    watch_size(plot, size);
    Effect::new(move || {
        let (size, _, _) = (size.get(), store.dark.get(), shown_m.get());
        if let (Some(traces), Some(values)) = (traces.get(), values.get()) {
            draw(&traces, &values, size);
        }
    });
    let pressed = StoredValue::new(false);
    let place = move |event: &PointerEvent| {
        let [from_m, to_m] = shown_m.get_untracked();
        let share = (f64::from(event.offset_x()) / size.get_untracked().0.max(1.0)).clamp(0.0, 1.0);
        store.compared.place_m.set((from_m + share * (to_m - from_m)).round().clamp(from_m, to_m));
    };
    let cursor_px = move || {
        let [from_m, to_m] = shown_m.get();
        (store.compared.place_m.get() - from_m) / (to_m - from_m) * size.get().0
    };
    view! {
        <div
            class="along-plot"
            node_ref=plot
            role="img"
            aria-label=label
            on:pointerdown=move |event| {
                pressed.set_value(event.button() == 0);
                place(&event);
            }
            on:pointermove=move |event| if pressed.get_value() { place(&event) }
            on:pointerup=move |_| pressed.set_value(false)
            on:pointerleave=move |_| pressed.set_value(false)
            on:pointercancel=move |_| pressed.set_value(false)
        >
            <canvas node_ref=traces aria-hidden="true"></canvas>
            <canvas node_ref=values aria-hidden="true"></canvas>
            <div class="cursor" style:transform=move || format!("translateX({:.2}px)", cursor_px())></div>
        </div>
    }
}

/// Places where sections begin or end, m.
fn edges_m(view: &LaidView) -> Vec<f64> {
    view.over.sections.iter().flat_map(|laid| [laid.section.start_m, laid.section.end_m]).collect()
}

#[component]
fn LostRow(view: StoredValue<Arc<LaidView>>, shown_m: Memo<[f64; 2]>) -> impl IntoView {
    let draw = move |traces: &_, values: &_, size: (f64, f64)| {
        view.with_value(|view| {
            let stretch_m = shown_m.get_untracked();
            let step_m = view.over.lost_step_m;
            let range =
                extent(view.interval.iter().map(|samples| (samples.values(), step_m)), stretch_m, 0.1);
            let picture = Picture {
                between: Some((view.interval.each_ref(), step_m)),
                lines: vec![Drawn { samples: &view.lost, step_m, side: 1 }],
                stretch_m,
                range,
                straight: [0.0, 1.0],
                edges_m: edges_m(view),
            };
            paint(traces, &picture, size);
            write_values(values, range, size);
        });
    };
    view! {
        <div class="along-row">
            <h3>"Time lost by B so far" <span class="unit">" s; rising: B is slower here"</span></h3>
            <Plot shown_m draw label="Running time of B less that of A along the track; the table below has it in numbers."/>
        </div>
    }
}

#[component]
fn TraceRow(
    view: StoredValue<Arc<LaidView>>,
    shown_m: Memo<[f64; 2]>,
    rows: StoredValue<Vec<OverlaidRow>>,
    which: usize,
) -> impl IntoView {
    let store = store();
    let row = Memo::new(move |_| row_of(store, rows, which));
    let values_here = move || {
        let place_m = store.compared.place_m.get();
        let row = row.get()?;
        let told = |side: usize| {
            let value = view.with_value(|view| view.value_at(row.trace, side, place_m));
            value.map_or("–".to_owned(), |si| number(si, row.unit).replace('-', "−"))
        };
        Some(format!("A {}, B {} {}", told(0), told(1), symbol(row.unit)))
    };
    let options = move || {
        let option = |one: OverlaidRow| {
            let own = one.key.clone();
            view! {
                <option value=one.key selected=move || row.with(|row| row.as_ref().is_some_and(|row| row.key == own))>{one.title}</option>
            }
        };
        rows.get_value().into_iter().map(option).collect_view()
    };
    let draw = move |traces: &_, values: &_, size: (f64, f64)| {
        let Some(row) = row.get() else { return };
        view.with_value(|view| {
            let stretch_m = shown_m.get_untracked();
            let step_m = view.over.step_m;
            let lines: Vec<_> = [0, 1]
                .into_iter()
                .filter_map(|side| Some(Drawn { samples: view.trace(row.trace, side)?, step_m, side }))
                .collect();
            let si = extent(lines.iter().map(|line| (line.samples.values(), step_m)), stretch_m, 1e-9);
            let range = si.map(|si| row.unit.from_si(si));
            let offset = row.unit.from_si(0.0);
            let picture = Picture {
                between: None,
                lines,
                stretch_m,
                range,
                straight: [offset, row.unit.from_si(1.0) - offset],
                edges_m: edges_m(view),
            };
            paint(traces, &picture, size);
            write_values(values, range, size);
        });
    };
    view! {
        <div class="along-row">
            <h3>
                <select
                    id=format!("along-trace-{}", which + 1)
                    aria-label=format!("Trace {}", which + 1)
                    on:change:target=move |event| {
                        let key = event.target().value();
                        store.compared.traces.update(|traces| traces[which] = key);
                    }
                >
                    {options}
                </select>
                <span class="values-here">{values_here}</span>
            </h3>
            <Plot shown_m draw label="The chosen trace of both runs along the track; the table below has it in numbers."/>
        </div>
    }
}

/// The row that was chosen, else the first that is not the other's.
fn row_of(store: Store, rows: StoredValue<Vec<OverlaidRow>>, which: usize) -> Option<OverlaidRow> {
    let chosen = store.compared.traces.get();
    rows.with_value(|rows| {
        let known = rows.iter().find(|row| row.key == chosen[which]);
        known.or_else(|| rows.iter().filter(|row| row.key != chosen[1 - which]).nth(which)).cloned()
    })
}

/// Lowest and highest value in a stretch, nought among them; at least so far apart.
fn extent<'a>(
    lines: impl Iterator<Item = (&'a [f32], f64)>,
    [from_m, to_m]: [f64; 2],
    least: f64,
) -> [f64; 2] {
    let (mut low, mut high) = (0.0_f32, 0.0_f32);
    for (values, step_m) in lines {
        let end = ((to_m / step_m) as usize + 2).min(values.len());
        let shown = values.get((from_m / step_m) as usize..end).unwrap_or_default();
        for value in shown.iter().filter(|value| value.is_finite()) {
            (low, high) = (low.min(*value), high.max(*value));
        }
    }
    let (low, high) = (f64::from(low), f64::from(high));
    if high - low >= least { [low, high] } else { [low, low + least.max(1e-6)] }
}

/// The metres below.
#[component]
fn Metres(shown_m: Memo<[f64; 2]>) -> impl IntoView {
    let marks = move || {
        let [from_m, to_m] = shown_m.get();
        let mark = |metres: f64| {
            let share = (metres - from_m) / (to_m - from_m);
            (share < 0.96).then(|| view! { <span style:left=format!("{:.3}%", share * 100.0)>{format!("{metres:.0} m")}</span> })
        };
        ticks(from_m, to_m, 5).1.into_iter().map(mark).collect_view()
    };
    view! { <div class="along-metres" aria-hidden="true">{marks}</div> }
}

/// The pictures in numbers: twenty places of what is shown.
#[component]
fn AsTable(
    view: StoredValue<Arc<LaidView>>,
    shown_m: Memo<[f64; 2]>,
    rows: StoredValue<Vec<OverlaidRow>>,
) -> impl IntoView {
    let store = store();
    let open = RwSignal::new(false);
    let titles = move || {
        let head = |which: usize| {
            let row = row_of(store, rows, which)?;
            Some(view! {
                <th scope="col">{format!("{}, {}: A", row.title, symbol(row.unit))}</th>
                <th scope="col">"B"</th>
            })
        };
        [head(0), head(1)]
    };
    let lines = move || {
        let [from_m, to_m] = shown_m.get();
        let line = |k: u32| {
            let place_m = (from_m + (to_m - from_m) * f64::from(k) / 20.0).round().clamp(from_m, to_m);
            let cells = [0, 1].map(|which| {
                let row = row_of(store, rows, which)?;
                let cell = |side: usize| {
                    let value = view.with_value(|view| view.value_at(row.trace, side, place_m));
                    value.map_or("–".to_owned(), |si| number(si, row.unit).replace('-', "−"))
                };
                Some(view! { <td>{cell(0)}</td><td>{cell(1)}</td> })
            });
            let lost = view.with_value(|view| view.lost_at(place_m));
            let lost = lost.map_or("–".to_owned(), |[lost_s, half_s]| told_s(lost_s, half_s));
            view! {
                <tr>
                    <th scope="row">
                        <button class="moment" title="Put the cursor here" on:click=move |_| store.compared.place_m.set(place_m)>
                            {format!("{place_m:.0} m")}
                        </button>
                    </th>
                    <td>{lost}</td>
                    {cells}
                </tr>
            }
        };
        (0..=20).map(line).collect_view()
    };
    view! {
        <details class="along-table" on:toggle=move |_| open.update(|open| *open = !*open)>
            <summary>"The same as a table"</summary>
            <Show when=move || open.get()>
                <div class="wide-table" tabindex="0" role="region" aria-label="Along the track in numbers">
                    <table>
                        <thead><tr><th scope="col">"Place"</th><th scope="col">"B less A"</th>{titles}</tr></thead>
                        <tbody>{lines}</tbody>
                    </table>
                </div>
            </Show>
        </details>
    }
}
