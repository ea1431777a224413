//! Remarks on the day: who said what about which moment.

use evenkeel_core::align::moment;
use evenkeel_core::handover::{Remark, RemarkAt, RemarkPlace};
use evenkeel_core::setup::Descent;
use leptos::prelude::*;

use super::arrive::look;
use super::remark_form::RemarkForm;
use crate::store::{Place, Store, store};

/// Where the browser remembers who writes here.
const AUTHOR: &str = "evenkeel-author";
/// More are not shown at once.
const SHOWN: usize = 300;

fn local() -> Option<web_sys::Storage> {
    window().local_storage().ok().flatten()
}

/// Who wrote here last.
pub fn known_author() -> String {
    local().and_then(|local| local.get_item(AUTHOR).ok().flatten()).unwrap_or_default()
}

/// Remembers who writes.
pub fn set_author(store: Store, name: String) {
    if let Some(local) = local() {
        let _ = local.set_item(AUTHOR, &name);
    }
    store.hand_over.author.set(name);
}

/// The run that a remark is about, by its place in the day.
fn run_of(store: Store, place: &RemarkPlace) -> Option<usize> {
    let run = place.run.as_ref()?;
    store.day.with(|day| run.index_in(day))
}

/// Moments of the run in view that somebody has remarked on, s, each with who did.
pub fn moments_said(store: Store) -> Vec<(f64, String)> {
    let in_view = store.run.get();
    let said = |remark: &Remark| match remark.place.at {
        RemarkAt::TimeUs(time_us) if run_of(store, &remark.place) == Some(in_view) => {
            Some((time_us as f64 * 1e-6, remark.author.clone()))
        }
        _ => None,
    };
    store.shared.with(|shared| shared.remarks.iter().filter_map(said).collect())
}

/// Every remark on the day.
#[component]
pub fn RemarksCard() -> impl IntoView {
    view! {
        <section class="card remarks" aria-label="Remarks">
            <h2>"Remarks"</h2>
            <RemarkForm/>
            <RemarkList of_run=false/>
        </section>
    }
}

/// Those on the run in view.
#[component]
pub fn RemarksHere() -> impl IntoView {
    view! {
        <section class="remarks" aria-label="Remarks">
            <RemarkList of_run=true/>
            <RemarkForm/>
        </section>
    }
}

#[component]
fn RemarkList(of_run: bool) -> impl IntoView {
    let store = store();
    let all = Memo::new(move |_| {
        let in_view = store.run.get();
        let belongs = |remark: &&Remark| !of_run || run_of(store, &remark.place) == Some(in_view);
        store.shared.with(|shared| shared.remarks.iter().filter(belongs).cloned().collect::<Vec<_>>())
    });
    let more = move || all.with(Vec::len).saturating_sub(SHOWN);
    view! {
        <ul class="remark-list">
            {move || all.get().into_iter().take(SHOWN).map(|remark| view! { <OneRemark remark/> }).collect_view()}
        </ul>
        <Show when=move || all.with(Vec::is_empty)>
            <p class="quiet">{if of_run { "None on this run." } else { "None yet." }}</p>
        </Show>
        {move || (more() > 0).then(|| view! { <p class="quiet">{format!("{} more are not shown.", more())}</p> })}
    }
}

#[component]
fn OneRemark(remark: Remark) -> impl IntoView {
    let store = store();
    let (place, doomed, author) = (remark.place.clone(), remark.clone(), remark.author.clone());
    let written = js_sys::Date::new(&(remark.written_ms as f64).into());
    let written = String::from(written.to_locale_string("default", &wasm_bindgen::JsValue::UNDEFINED));
    let run = run_of(store, &remark.place);
    let about = about(store, &remark.place, run);
    let where_it_is = match (run, remark.place.run.is_some()) {
        (Some(run), _) => view! {
            <button class="small moment" title="See it in Ride" on:click=move |_| go(store, run, &place.at)>{about}</button>
        }
        .into_any(),
        (None, true) => view! { <span class="quiet">{about}" (not in this day)"</span> }.into_any(),
        (None, false) => view! { <span class="quiet">{about}</span> }.into_any(),
    };
    let is_mine = move || store.hand_over.author.with(|mine| !mine.is_empty() && *mine == author);
    let take_back = move |_| store.shared.update(|shared| shared.remarks.take_back(&doomed));
    let take_back = StoredValue::new(take_back);
    view! {
        <li class="remark">
            <p class="remark-head">
                <b>{if remark.author.is_empty() { "somebody".to_owned() } else { remark.author }}</b>
                {where_it_is}
                <span class="quiet">{written}</span>
                <Show when=is_mine>
                    <button
                        class="small"
                        title="Helps as long as nobody else has it"
                        on:click=move |event| take_back.with_value(|take_back| take_back(event))
                    >
                        "Take back"
                    </button>
                </Show>
            </p>
            <p class="said">{remark.words}</p>
        </li>
    }
}

fn about(store: Store, place: &RemarkPlace, run: Option<usize>) -> String {
    let Some(named) = &place.run else { return "the whole day".to_owned() };
    let name = run
        .map_or_else(|| named.name.clone(), |run| store.day.with(|day| day.run_name(Descent::Ridden(run))));
    match &place.at {
        RemarkAt::Whole => name,
        RemarkAt::TimeUs(time_us) => format!("{name}, {}", moment::format(*time_us as f64 * 1e-6, 0.1)),
        RemarkAt::Section(section) => format!("{name}, {section}"),
    }
}

/// Goes where a remark belongs.
fn go(store: Store, run: usize, at: &RemarkAt) {
    match at {
        RemarkAt::Whole => {
            store.run.set(run);
            store.place.set(Place::Ride);
        }
        RemarkAt::TimeUs(time_us) => look(store, run, None, Some(*time_us as f64 * 1e-6)),
        RemarkAt::Section(name) => {
            let readout = untrack(|| store.readout(run));
            let section = readout
                .and_then(|readout| readout.sections.iter().find(|known| known.name == *name).cloned());
            store.section.set(Some(name.clone()));
            look(store, run, section.map(|section| [section.start_s, section.end_s]), None);
        }
    }
}
