//! The run's numbers, each with its unit or the reason why it is not measured.

pub mod brakes;
mod brief;
mod corners;
pub mod ends;
mod figure;
pub mod level;
mod table;
pub mod vibration;

use evenkeel_core::SectionReadout;
use leptos::prelude::*;

use crate::store::store;
pub use brief::in_brief;
pub use corners::Corners;
pub use figure::Figure;

/// The numbers of the whole run or of one of its sections.
#[component]
pub fn Numbers(
    /// What goes to a time of the run, s.
    go: Callback<f64>,
) -> impl IntoView {
    let store = store();
    // Chosen by its name, so that it stays when another run comes into view.
    let chosen = store.section;
    let explained = RwSignal::new(false);
    let names = Memo::new(move |_| {
        let sections = store.ride.get().map(|ride| ride.readout.sections.clone()).unwrap_or_default();
        sections.into_iter().skip(1).map(|section| section.name).collect::<Vec<_>>()
    });
    let section = move || {
        let ride = store.ride.get()?;
        let (whole, sections) = ride.readout.sections.split_first()?;
        let named = chosen.get().and_then(|name| sections.iter().find(|section| section.name == name));
        Some(named.unwrap_or(whole).clone())
    };
    view! {
        <section class="numbers" class:explained=move || explained.get() aria-label="Numbers">
            <header>
                <SectionChoice names chosen/>
                <label class="tick">
                    <input
                        type="checkbox"
                        id="explain-numbers"
                        prop:checked=move || explained.get()
                        on:change:target=move |event| explained.set(event.target().checked())
                    />
                    "Explain"
                </label>
            </header>
            {move || {
                let analysing = store.ride.get().is_some_and(|ride| !ride.analysed);
                analysing.then(|| view! { <p class="quiet">"Analysing…"</p> })
            }}
            {move || section().map(|section| view! { <Groups section go/> })}
        </section>
    }
}

/// Which section the numbers are of.
#[component]
pub fn SectionChoice(names: Memo<Vec<String>>, chosen: RwSignal<Option<String>>) -> impl IntoView {
    let options = move || {
        let option = |(i, name): (usize, String)| {
            let own = name.clone();
            view! { <option value=i selected=move || chosen.get().as_ref() == Some(&own)>{name}</option> }
        };
        names.get().into_iter().enumerate().map(option).collect_view()
    };
    view! {
        <Show when=move || names.with(|names| !names.is_empty()) fallback=|| view! { <span class="quiet">"whole run"</span> }>
            <select
                id="number-section"
                aria-label="Numbers of"
                on:change:target=move |event| {
                    let index = event.target().value().parse::<usize>().ok();
                    chosen.set(index.and_then(|index| names.with_untracked(|names| names.get(index).cloned())));
                }
            >
                <option value="whole" selected=move || chosen.get().is_none_or(|name| names.with(|names| !names.contains(&name)))>"whole run"</option>
                {options}
            </select>
        </Show>
    }
}

#[component]
fn Groups(section: SectionReadout, go: Callback<f64>) -> impl IntoView {
    let ends = [&section.front, &section.rear];
    view! {
        {level::stretch(&section)}
        {ends::travel(ends)}
        {ends::coming_back(ends)}
        {ends::ground(ends)}
        {level::level(&section.level)}
        {level::shake(&section.lateral)}
        {brakes::brakes(&section.brakes, &section.dive)}
        {brakes::wheel_slips([&section.front_wheel, &section.rear_wheel])}
        {brakes::rider(&section.rider)}
        {vibration::vibration(&section.vibration)}
        <Corners corners=section.attitude.corners.clone() go/>
    }
}
