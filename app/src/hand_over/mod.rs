//! Hand-over: what goes to a coach, what comes back, and what leaves for other programs.

mod arrive;
mod chosen_runs;
mod contents;
mod extract;
mod file_card;
mod keys;
mod link_card;
mod open;
mod prepared;
mod random;
mod remark_form;
mod remarks;
mod sealed_card;
mod sealer;
mod secret_field;
mod send_back;
mod shared;
mod tables;

use std::sync::Arc;

use evenkeel_core::Day;
use evenkeel_core::handover::{Extract, Pointer, View};
use gloo_file::File;
use leptos::prelude::*;

use crate::printed::PrintButton;
use crate::store::store;
use arrive::{PointerCard, WaitingCard};
pub use arrive::{arrive, listen};
use extract::ExtractFacts;
pub use extract::{OF_LINK, is_extract, show_extract};
use file_card::FileCard;
use keys::KeysCard;
use link_card::LinkCard;
use open::OpenCard;
pub use open::take;
use remarks::RemarksCard;
pub use remarks::{RemarksHere, moments_said};
use sealed_card::SealedCard;
use sealer::Sealer;
pub use sealer::Sealing;
use send_back::SendBack;
pub use shared::{Shared, Whose, guard, is_copy};
use tables::TablesCard;

/// What came in and waits for its reader.
#[derive(Clone, Copy)]
pub struct HandOver {
    /// The id of a day that has none yet.
    id_to_be: StoredValue<String>,
    /// A link that came in and is not read yet.
    arrived: StoredValue<Option<String>>,
    /// What seals and opens.
    sealer: Sealer,
    /// A sealed file.
    pub sealed: RwSignal<Option<File>, LocalStorage>,
    /// A link to a sealed file on this host.
    pub pointer: RwSignal<Option<Pointer>>,
    /// A link to a view of a log that is not here.
    pub waiting: RwSignal<Option<View>>,
    /// The piece of a run that is open.
    pub extract: RwSignal<Option<Arc<Extract>>>,
    /// Who writes remarks here.
    pub author: RwSignal<String>,
    /// Somebody else's day as it came.
    pub owners: StoredValue<Option<Day>>,
}

impl HandOver {
    pub fn new() -> Self {
        Self {
            id_to_be: StoredValue::new(random::id()),
            arrived: StoredValue::new(None),
            sealer: Sealer::new(),
            sealed: RwSignal::new_local(None),
            pointer: RwSignal::new(None),
            waiting: RwSignal::new(None),
            extract: RwSignal::new(None),
            author: RwSignal::new(remarks::known_author()),
            owners: StoredValue::new(None),
        }
    }
}

/// The run in view on paper.
#[component]
fn SheetCard() -> impl IntoView {
    view! {
        <section class="card" aria-label="On paper">
            <h2>"On paper"</h2>
            <p class="quiet">"One page of the run in view: set-up, findings, key numbers and pictures. The browser's print window saves it as a PDF too."</p>
            <p class="buttons"><PrintButton/></p>
        </section>
    }
}

#[component]
pub fn HandOverPlace() -> impl IntoView {
    let store = store();
    let copy = Memo::new(move |_| is_copy(store));
    let none = Memo::new(move |_| store.day.with(|day| day.runs.is_empty()));
    view! {
        <div class="hand-over">
            <SealedCard/>
            <PointerCard/>
            <WaitingCard/>
            <ExtractFacts/>
            <div class="hand-over-columns">
                <div>
                    {move || if copy.get() {
                        view! { <SendBack/> }.into_any()
                    } else if none.get() {
                        view! { <p class="empty">"No run yet: there is nothing to hand over. Load log files in Day, or open what somebody sent you."</p> }.into_any()
                    } else {
                        view! { <LinkCard/><FileCard/> }.into_any()
                    }}
                </div>
                <div>
                    <Show when=move || !none.get()><RemarksCard/></Show>
                    <OpenCard/>
                    <KeysCard/>
                    <Show when=move || !none.get() && store.hand_over.extract.with(Option::is_none)><TablesCard/><SheetCard/></Show>
                </div>
            </div>
        </div>
    }
}
