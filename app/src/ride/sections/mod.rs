//! The day's sections: the same stretches of ground in every run.

mod changes;
mod edge;
mod edit;
mod follow;
mod make;
mod places;
mod split_list;
mod strip;
mod table;

use leptos::prelude::*;

use super::view::View;
use crate::hand_over::is_copy;
use crate::store::store;
pub use changes::SectionChange;
use edit::{EditSection, FoundByHand};
pub use follow::{follow, show};
use make::MakeSection;
use split_list::SplitList;
pub use strip::{SectionBands, SectionEdges};
use table::SectionTable;

#[component]
pub fn SectionsPanel(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let sections = Memo::new(move |_| store.day.with(|day| day.sections.clone()));
    let last_change =
        move || store.section_changes.with(|changes| changes.last().map(|change| change.what.clone()));
    view! {
        <section class="sections" aria-label="Sections">
            <Show
                when=move || sections.with(|sections| !sections.is_empty())
                fallback=|| view! { <p class="quiet">"None yet. A section made in this run is found in every run of the day."</p> }
            >
                <SectionTable sections view/>
            </Show>
            <FoundByHand/>
            {move || last_change().map(|what| view! {
                <button id="undo-section" on:click=move |_| changes::undo(store)>{format!("Undo: {what}")}</button>
            })}
            // Kept as they are typed, but not taken: a section made now would lie elsewhere a moment later.
            <Show when=move || !store.is_placed() && !is_copy(store)>
                <p class="quiet" role="status">"The loggers' clocks are being matched; sections can be made in a moment."</p>
            </Show>
            <fieldset disabled=move || !store.is_placed() || is_copy(store)>
                <EditSection sections/>
                <MakeSection sections view/>
                <SplitList sections/>
            </fieldset>
        </section>
    }
}
