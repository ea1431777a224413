//! One section: its name, its edges, whether it is a place to brake.

use evenkeel_core::align::moment;
use evenkeel_core::track::{AlignmentMethod, Mark, Section};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::changes::{Edge, change, found_by_hand, may_be_called, with_edge};
use super::places::find_places;
use crate::store::store;
use crate::words::fixed;
use crate::worker::GivenPlace;

/// The section in view, to be edited.
#[component]
pub fn EditSection(sections: Memo<Vec<Section>>) -> impl IntoView {
    let store = store();
    let index = Memo::new(move |_| {
        let name = store.section.get()?;
        sections.with(|sections| sections.iter().position(|section| section.name == name))
    });
    move || index.get().map(|index| view! { <Editor sections index/> })
}

#[component]
fn Editor(sections: Memo<Vec<Section>>, index: usize) -> impl IntoView {
    let store = store();
    let problem = RwSignal::new(None::<String>);
    let section =
        Memo::new(move |_| sections.with(|sections| sections.get(index).cloned()).unwrap_or_default());
    let rename = move |name: String| {
        let name = name.trim().to_owned();
        let before = section.get_untracked().name;
        match sections.with_untracked(|sections| may_be_called(sections, index, &name)) {
            _ if name == before => problem.set(None),
            Err(why) => problem.set(Some(why)),
            Ok(()) => {
                problem.set(None);
                store.section.set(Some(name.clone()));
                change(store, format!("{before} renamed"), |day| {
                    if let Some(section) = day.sections.get_mut(index) {
                        section.name = name;
                    }
                });
            }
        }
    };
    let brake = move |no_braking: bool| {
        let name = section.get_untracked().name;
        change(store, format!("braking in {name}"), |day| {
            if let Some(section) = day.sections.get_mut(index) {
                section.no_braking = no_braking;
            }
        });
    };
    let delete = move |_| {
        let name = section.get_untracked().name;
        store.section.set(None);
        change(store, format!("{name} deleted"), |day| {
            day.sections.retain(|section| section.name != name);
        });
    };
    view! {
        <fieldset class="edit-section">
            <legend>"Edit"</legend>
            <label class="field wide">
                <span>"Name"</span>
                <input id="section-name" autocomplete="off" prop:value=move || section.get().name
                    aria-invalid=move || problem.get().map(|_| "true")
                    on:change:target=move |event| rename(event.target().value())/>
            </label>
            <label class="tick">
                <input type="checkbox" id="no-braking" prop:checked=move || section.get().no_braking
                    on:change:target=move |event| brake(event.target().checked())/>
                "nobody should brake here"
            </label>
            <EdgeRow sections index edge=Edge::Start problem/>
            <EdgeRow sections index edge=Edge::End problem/>
            <button id="delete-section" on:click=delete>"Delete"</button>
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}</p> })}
        </fieldset>
    }
}

/// Where one edge is, and what can be said of it by the cursor.
#[component]
fn EdgeRow(
    sections: Memo<Vec<Section>>,
    index: usize,
    edge: Edge,
    problem: RwSignal<Option<String>>,
) -> impl IntoView {
    let store = store();
    let (word, key) = match edge {
        Edge::Start => ("Start", "start"),
        Edge::End => ("End", "end"),
    };
    let section = move || sections.with(|sections| sections.get(index).cloned()).unwrap_or_default();
    let move_here = move |_| {
        let here = GivenPlace::Mark(Mark::LogS(store.cursor_s.get_untracked()));
        spawn_local(async move {
            let moved = match find_places(store, vec![here]).await {
                Ok(found) => {
                    let to_m = found.places_m.first().copied().unwrap_or_default();
                    store.day.with_untracked(|day| with_edge(&day.sections, index, edge, to_m))
                }
                Err(why) => Err(why),
            };
            match moved {
                Ok(moved) => {
                    problem.set(None);
                    change(store, format!("{key} of a section moved"), |day| day.sections = moved);
                }
                Err(why) => problem.set(Some(why)),
            }
        });
    };
    let found_here = move |_| {
        let (place_m, time_s) = (edge.of(&section()), store.cursor_s.get_untracked());
        let run = store.run.get_untracked();
        problem.set(None);
        change(store, "a place found by hand", |day| {
            if let Some(run) = day.runs.get_mut(run) {
                found_by_hand(run, place_m, time_s);
            }
        });
    };
    // In the run in which the sections were made a place is where it was set.
    let elsewhere = move || {
        store.track.with(|track| {
            let method = track.as_ref().and_then(|track| track.method.as_ref());
            !matches!(method, None | Some(Ok(AlignmentMethod::Reference)))
        })
    };
    view! {
        <p class="edge">
            <b>{word}</b>
            <output>{move || format!("{} m", fixed(edge.of(&section()), 1))}</output>
            <button id=format!("move-{key}") title="for every run of the day" on:click=move_here>"Move to the cursor"</button>
            <button id=format!("found-{key}") hidden=move || !elsewhere()
                title="the cursor is where this run passes it; the section stays where it is" on:click=found_here>
                "This run passes it here"
            </button>
        </p>
    }
}

/// Places of the track that were found by hand in the run in view.
#[component]
pub fn FoundByHand() -> impl IntoView {
    let store = store();
    let passages = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| day.runs.get(run).map(|run| run.passages.clone())).unwrap_or_default()
    });
    let forget = move |index: usize| {
        let run = store.run.get_untracked();
        change(store, "a place forgotten", |day| {
            if let Some(run) = day.runs.get_mut(run).filter(|run| index < run.passages.len()) {
                run.passages.remove(index);
            }
        });
    };
    let line = move |(index, passage): (usize, evenkeel_core::track::Passage)| {
        view! {
            <li>
                {format!("{} m at {}", fixed(passage.course_m, 0), moment::format(passage.time.seconds, 0.01))}
                <button aria-label="Forget this place" on:click=move |_| forget(index)>"×"</button>
            </li>
        }
    };
    move || {
        let passages = passages.get();
        (!passages.is_empty()).then(|| {
            view! {
                <p class="quiet">"Found by hand in this run:"</p>
                <ul class="found-by-hand">{passages.into_iter().enumerate().map(line).collect_view()}</ul>
            }
        })
    }
}
