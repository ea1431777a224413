//! The numbers and pictures behind the findings, section by section.

mod brakes;
mod card;
mod chart;
mod hit_pairs;
mod recovery;
mod spectra;
mod travel;

use std::sync::Arc;

use evenkeel_core::{RunReadout, SectionReadout};
use leptos::prelude::*;

use crate::numbers::{self, Corners, SectionChoice};
use crate::store::store;
use card::card;

/// Of the whole run, or of the section chosen by its name.
#[component]
pub fn Pictures(readout: Memo<Option<Arc<RunReadout>>>) -> impl IntoView {
    let store = store();
    let chosen = store.section;
    let names = Memo::new(move |_| {
        let sections = readout.with(|run| run.as_ref().map(|run| run.sections.clone())).unwrap_or_default();
        sections.into_iter().skip(1).map(|section| section.name).collect::<Vec<_>>()
    });
    let section = Memo::new(move |_| {
        readout.with(|run| {
            let (whole, sections) = run.as_ref()?.sections.split_first()?;
            let named = chosen.get().and_then(|name| sections.iter().find(|section| section.name == name));
            Some(named.unwrap_or(whole).clone())
        })
    });
    view! {
        <section class="behind" aria-label="Numbers and pictures">
            <header>
                <h2>"The numbers behind"</h2>
                <SectionChoice names chosen/>
            </header>
            <div class="cards">{move || section.get().map(cards)}</div>
        </section>
    }
}

/// Those that one page has room for.
pub fn on_paper(section: &SectionReadout) -> AnyView {
    let ends = [&section.front, &section.rear];
    let nowhere = Callback::new(|_| {});
    let pictures = [
        travel::depth(ends),
        travel::axle_speed(ends),
        recovery::share(ends),
        hit_pairs::pairs(&section.level, nowhere),
        brakes::dives(&section.dive, nowhere),
        spectra::axles(&section.spectra),
    ];
    view! { <div class="on-paper">{pictures.into_iter().map(card::Picture::on_paper).collect_view()}</div> }
        .into_any()
}

fn cards(section: SectionReadout) -> AnyView {
    let store = store();
    let ends = [&section.front, &section.rear];
    let span = [section.start_s, section.end_s];
    let wheels = [&section.front_wheel, &section.rear_wheel];
    let go = Callback::new(move |span| store.show_in_ride(store.run.get_untracked(), span));
    let all = Callback::new(move |()| go.run(span));
    let corner = Callback::new(move |apex_s: f64| go.run([apex_s - 1.0, apex_s + 1.0]));
    [
        card(
            "Travel",
            vec![travel::depth(ends)],
            (numbers::level::stretch(&section), numbers::ends::travel(ends)).into_any(),
            all,
        ),
        card(
            "Coming back",
            vec![recovery::share(ends), recovery::time(ends)],
            numbers::ends::coming_back(ends),
            all,
        ),
        card(
            "Both ends on the same bumps",
            vec![hit_pairs::pairs(&section.level, go)],
            numbers::level::level(&section.level),
            all,
        ),
        card(
            "Brakes and dive",
            vec![brakes::pulls(&section.brakes, go), brakes::dives(&section.dive, go)],
            numbers::brakes::brakes(&section.brakes, &section.dive),
            all,
        ),
        card(
            "Axle speed",
            vec![travel::axle_speed(ends), spectra::axles(&section.spectra)],
            numbers::ends::ground(ends),
            all,
        ),
        card(
            "Shake and vibration",
            vec![spectra::shaken(&section.spectra)],
            (numbers::level::shake(&section.lateral), numbers::vibration::vibration(&section.vibration))
                .into_any(),
            all,
        ),
        card(
            "Grip and corners",
            vec![brakes::slips(wheels, span, go)],
            (
                numbers::brakes::wheel_slips(wheels),
                numbers::brakes::rider(&section.rider),
                view! { <Corners corners=section.attitude.corners.clone() go=corner/> },
            )
                .into_any(),
            all,
        ),
    ]
    .into_any()
}
