//! The Day: files in, runs listed with what the rider said and how the bike was set up, the runs to come.

mod budget;
mod cautions;
mod changed;
mod coming_card;
mod files;
mod first_steps;
mod free_lines;
mod intake;
mod loading;
mod question;
mod run_card;
mod sheet_cell;
mod sheet_form;
mod undo;
mod written;

use leptos::prelude::*;

use budget::Budget;
pub use budget::{WayBackButton, name_next};
use first_steps::FirstSteps;
use intake::{Intake, WithoutTime};
pub use loading::{find_clock, find_clocks, list_files, take_drops, take_files};
use run_card::RunCard;
pub use undo::{SheetChange, change};

use crate::hand_over::is_copy;
use crate::kept::KeptDays;
use crate::store::store;

#[component]
pub fn DayPlace() -> impl IntoView {
    let store = store();
    let none = Memo::new(move |_| store.day.with(|day| day.runs.is_empty() && day.coming.is_empty()));
    let count = Memo::new(move |_| store.day.with(|day| day.runs.len()));
    view! {
        <div class="day">
            <Intake/>
            <WithoutTime/>
            <Show when=move || none.get()>
                <FirstSteps/>
            </Show>
            <div class="day-columns">
                <fieldset class="as-it-came" disabled=move || is_copy(store)><Budget/></fieldset>
                <section class="runs" aria-label="Runs">
                    <For each=move || 0..count.get() key=|run| *run let:run>
                        <RunCard run/>
                    </For>
                </section>
            </div>
            <KeptDays/>
        </div>
    }
}
