//! New sections: between two places, or between all marks of the run.

use evenkeel_core::MarkedMoment;
use evenkeel_core::track::{Mark, Section};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::changes::{Edge, add, change, may_be_called};
use super::edge::{EdgeChoice, EdgeField};
use super::places::find_places;
use crate::ride::view::View;
use crate::store::{Store, store};
use crate::worker::{GivenPlace, PlacesFound};

#[component]
pub fn MakeSection(sections: Memo<Vec<Section>>, view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let name = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let (from, to) = (EdgeChoice::new(), EdgeChoice::new());
    let next_name = move || format!("Section {}", sections.with(Vec::len) + 1);
    let make = move || {
        let typed = name.get_untracked().trim().to_owned();
        let called = if typed.is_empty() { next_name() } else { typed };
        let seen = view.get_untracked();
        spawn_local(async move {
            let taken = sections.with_untracked(|sections| may_be_called(sections, usize::MAX, &called));
            let made = match (taken, from.place(store, seen, Edge::Start), to.place(store, seen, Edge::End)) {
                (Err(why), ..) => Err(why),
                (_, Err(why), _) => Err(format!("from: {why}")),
                (.., Err(why)) => Err(format!("to: {why}")),
                (Ok(()), Ok(from), Ok(to)) => between(store, vec![called], vec![from, to]).await,
            };
            if made.is_ok() {
                name.set(String::new());
            }
            problem.set(made.err());
        });
    };
    let marks = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| day.runs.get(run).map(|run| run.marks.clone())).unwrap_or_default()
    });
    let make_between_marks = move |_| {
        let marks = marks.get_untracked();
        spawn_local(async move {
            let places = marks.iter().map(|mark| GivenPlace::Mark(Mark::LogS(mark.time_s))).collect();
            problem.set(between(store, names_between(&marks), places).await.err());
        });
    };
    view! {
        <form class="make-section" on:submit=move |event| { event.prevent_default(); make(); }>
            <label class="field wide">
                <span>"New section"</span>
                <input id="new-section" autocomplete="off" placeholder=next_name prop:value=name
                    on:input:target=move |e| name.set(e.target().value())/>
            </label>
            <EdgeField edge=Edge::Start choice=from/>
            <EdgeField edge=Edge::End choice=to/>
            <button id="make-section">"Make it"</button>
            <Show when=move || marks.with(|marks| marks.len() > 1)>
                <button type="button" id="make-between-marks" on:click=make_between_marks>"One between each two marks"</button>
            </Show>
            {move || problem.get().map(|problem| view! { <p class="wrong" role="alert">{problem}</p> })}
        </form>
    }
}

/// Each is named after the mark at its start.
fn names_between(marks: &[MarkedMoment]) -> Vec<String> {
    let name = |(n, mark): (usize, &MarkedMoment)| match mark.name.trim() {
        "" => format!("After mark {}", n + 1),
        name => name.to_owned(),
    };
    marks.iter().take(marks.len().saturating_sub(1)).enumerate().map(name).collect()
}

/// Makes sections between neighbouring places of the run in view; there is one name fewer than places.
async fn between(store: Store, names: Vec<String>, places: Vec<GivenPlace>) -> Result<(), String> {
    let PlacesFound { places_m, new_course } = find_places(store, places).await?;
    if places_m.windows(2).any(|pair| pair[1] <= pair[0]) {
        return Err("the end of a section must come after its start".to_owned());
    }
    let made: Vec<Section> = names
        .into_iter()
        .zip(places_m.windows(2))
        .map(|(name, pair)| Section { name, start_m: pair[0], end_m: pair[1], no_braking: false })
        .collect();
    let what = match &made[..] {
        [one] => format!("{} made", one.name),
        many => format!("{} sections made", many.len()),
    };
    change(store, what, |day| add(day, made, new_course));
    Ok(())
}
