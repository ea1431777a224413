//! Time lost and gained, section by section.

use std::sync::Arc;

use evenkeel_core::Measured;
use evenkeel_core::align::moment;
use leptos::prelude::*;

use super::answer::Answer;
use super::laid_view::LaidView;
use super::places::RideLinks;
use super::term::Term;
use crate::store::store;
use crate::words::fixed;
use crate::worker::LaidSection;

#[component]
pub fn SectionTimes(
    view: Arc<LaidView>,
    answer: RwSignal<Option<Arc<Answer>>>,
    laid: Memo<Option<[usize; 2]>>,
) -> impl IntoView {
    let store = store();
    let usual_of = move |section: &str| {
        answer.with(|answer| {
            let (_, scatter) = answer.as_ref()?.said.times.iter().find(|(name, _)| name == section)?;
            scatter.pair_differs_by()
        })
    };
    let time = |time_s: &Measured| match time_s.get() {
        Ok(time_s) => view! { <td>{moment::format(*time_s, 0.01)}</td> }.into_any(),
        Err(why) => missing(why.0),
    };
    let row = |laid_section: &LaidSection| {
        let lost = lost_cell(&laid_section.lost_s);
        let name = laid_section.section.name.clone();
        let [key, of, shown, own, title] = [(); 5].map(|()| name.clone());
        let usual =
            move || usual_of(&of).map_or("–".to_owned(), |usual_s| format!("± {} s", fixed(usual_s, 2)));
        view! {
            <tr data-section=key class:chosen=move || store.compared.stretch.with(|chosen| chosen.as_ref() == Some(&own))>
                <th scope="row">
                    <button class="term" title="Show this section in the pictures below" on:click=move |_| store.compared.stretch.set(Some(shown.clone()))>
                        {title}
                    </button>
                </th>
                {laid_section.times_s.each_ref().map(time)}
                {lost}
                <td>{usual}</td>
                <td class="links"><RideLinks section=name laid/></td>
            </tr>
        }
    };
    let rows = view.over.sections.iter().map(row).collect_view();
    let whole = view.lost_at(view.known_m[1]).map(|[lost_s, half_s]| {
        let measured = Measured::value(lost_s).with_interval([lost_s - half_s, lost_s + half_s]);
        let times = [0, 1].map(|side| {
            let took_s = view.time_at(side, view.known_m[1]).map(|to_s| to_s - view.over.from_s[side]);
            view! { <td>{took_s.map_or("–".to_owned(), |took_s| moment::format(took_s, 0.01))}</td> }
        });
        let usual = move || usual_of("run").map_or("–".to_owned(), |usual_s| format!("± {} s", fixed(usual_s, 2)));
        view! {
            <tr class="whole">
                <th scope="row">
                    <button class="term" title="Show the whole track in the pictures below" on:click=move |_| store.compared.stretch.set(None)>
                        "start to finish"
                    </button>
                </th>
                {times}
                {lost_cell(&measured)}
                <td>{usual}</td>
                <td class="links"><RideLinks section="run" laid/></td>
            </tr>
        }
    });
    view! {
        <table class="section-times">
            <thead><tr>
                <th scope="col">"Section"</th>
                <th scope="col">"A"</th>
                <th scope="col">"B"</th>
                <th scope="col"><Term name="B less A" meaning="Time that B lost (+) or gained (−), with what the placing of the section in both runs leaves open, 95 %."/></th>
                <th scope="col"><Term name="usual" meaning="Two runs with nothing changed differ by no more than this nineteen times in twenty, by the repeats of today and of earlier days. What is within it says nothing about the bike."/></th>
                <th scope="col">"in Ride"</th>
            </tr></thead>
            <tbody>{rows}{whole}</tbody>
        </table>
    }
}

fn lost_cell(lost_s: &Measured) -> AnyView {
    let Ok(value) = lost_s.get().copied() else {
        return missing(lost_s.get().err().map_or(String::new(), |why| why.0));
    };
    let sign = if value >= 0.005 { "+" } else { "" };
    let number = fixed(value, 2).replace('-', "−");
    let word = match () {
        () if value >= 0.005 => "lost",
        () if value <= -0.005 => "gained",
        () => "",
    };
    let half = lost_s.interval().map(|[low, high]| format!(" ±\u{a0}{}", fixed((high - low) / 2.0, 2)));
    view! { <td class="lost"><b>{format!("{sign}{number}\u{a0}s")}</b><small>{half}</small>" "<span class="quiet">{word}</span></td> }
        .into_any()
}

fn missing(why: String) -> AnyView {
    let why = format!("not measured: {why}");
    view! { <td><abbr class="not" tabindex="0" title=why.clone() aria-label=why>"not measured"</abbr></td> }
        .into_any()
}
