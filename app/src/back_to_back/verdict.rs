//! The verdict on the one number that was named before the run, or why there is none.

use std::sync::Arc;

use evenkeel_core::decide::{Asked, Comparison, Evidence};
use evenkeel_core::setup::{AskedBetween, Descent, Named};
use leptos::prelude::*;

use super::answer::Answer;
use super::interval::Interval;
use super::places::RideLinks;
use super::term::Term;
use super::words::{Told, advice, difference, headline, name_of, reason, repeats};
use crate::day::{WayBackButton, name_next};
use crate::store::store;
use crate::words::fixed;

#[component]
pub fn VerdictCard(answer: RwSignal<Option<Arc<Answer>>>, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    view! {
        <section class="verdict" aria-label="Verdict" aria-live="polite">
            {move || {
                let answer = answer.get()?;
                Some(match (&answer.asked, &answer.said.asked) {
                    (Some(named), Some(asked)) => view! { <Judged named=named.clone() asked=asked.clone() laid/> }.into_any(),
                    (Some(named), None) => view! { <TooLate named=named.clone()/> }.into_any(),
                    (None, _) => view! { <NothingNamed/> }.into_any(),
                })
            }}
        </section>
    }
}

#[component]
fn NothingNamed() -> impl IntoView {
    view! {
        <h2 class="headline">"No verdict"</h2>
        <p>
            "No number was named before the first run with the newer set-up, so nothing can be proved by it: whoever picks a number that is known already finds what they look for. Everything below is a hint."
        </p>
        <NameNext/>
    }
}

#[component]
fn TooLate(named: AskedBetween) -> impl IntoView {
    let store = store();
    let run = |run: usize| store.day.with_untracked(|day| day.run_name(Descent::Ridden(run)));
    let name = name_of(&named.named.plan.metric);
    let why = match (named.run == named.newer, named.named.named) {
        (true, Named::AfterTheRun) => {
            format!("was named when the log of {} was there to look at", run(named.run))
        }
        _ => format!(
            "was named for {}, when {} had been ridden with the newer set-up already",
            run(named.run),
            run(named.newer)
        ),
    };
    view! {
        <h2 class="headline">"No verdict"</h2>
        <p>{format!("The number ({name}) {why}: what is picked from known numbers is a hint, not a proof. It stands among the explored numbers below.")}</p>
        <NameNext/>
    }
}

/// Offers to name a number in time.
#[component]
fn NameNext() -> impl IntoView {
    let store = store();
    view! {
        <p class="buttons">
            <button id="name-next" class="main" on:click=move |_| name_next(store)>"Name a number for the next run"</button>
        </p>
    }
}

#[component]
fn Judged(named: AskedBetween, asked: Asked, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let store = store();
    let plan = named.named.plan;
    let question = plan.in_words();
    let run = store.day.with_untracked(|day| day.run_name(Descent::Ridden(named.run)));
    let comparison = match asked.comparison {
        Ok(comparison) => comparison,
        Err(why) => {
            return view! {
                <h2 class="headline">"No verdict"</h2>
                <p class="question-asked"><b>"To be shown"</b>" "{question}</p>
                <p>{format!("It cannot be answered: {}.", why.0)}</p>
            }
            .into_any();
        }
    };
    // So fine that the scatter can be told too.
    let scatter = comparison.evidence.get().map_or(f64::INFINITY, |evidence| evidence.run_to_run_sd);
    let told = Told::of(&plan.metric, plan.scale, plan.worth_having.min(5.0 * scatter));
    let said = match comparison.verdict.get() {
        Ok(verdict) => {
            let in_turn = comparison.contrast.ridden_in_turn;
            view! {
                <h2 class="headline" id="verdict">{headline(*verdict)}</h2>
                <p class="by-how-much">{difference(&comparison, told)}</p>
                <p>{reason(&comparison, *verdict, told)}</p>
                <p><b>"So: "</b>{advice(*verdict, in_turn)}</p>
            }
            .into_any()
        }
        Err(why) => view! {
            <h2 class="headline" id="verdict">"No verdict yet"</h2>
            <p class="by-how-much">{difference(&comparison, told)}</p>
            <p>{format!("Whether that is more than two runs of an unchanged bike differ by, nobody can say: {}.", why.0)}</p>
            <p>"Ride one of the two set-ups once more, or load earlier days on which something was ridden twice."</p>
        }
        .into_any(),
    };
    let picture = comparison.evidence.get().ok().copied();
    let rests =
        view! { <RestsOn comparison=comparison.clone() evidence=picture asked_scatter=asked.scatter told/> };
    let (removed, in_turn) = (comparison.contrast.steady_trend_removed, comparison.contrast.ridden_in_turn);
    view! {
        <p class="question-asked"><b>"To be shown"</b>" "{question}<span class="quiet">{format!(" (named before {run})")}</span></p>
        {said}
        {picture.map(|evidence| view! { <Interval comparison=comparison.clone() evidence told/> })}
        {rests}
        <Trend removed in_turn/>
        <BySection comparison told laid/>
    }
    .into_any()
}

/// The picture in numbers, and what they rest on.
#[component]
fn RestsOn(
    comparison: Comparison,
    evidence: Option<Evidence>,
    asked_scatter: [evenkeel_core::decide::RunToRun; 2],
    told: Told,
) -> impl IntoView {
    let store = store();
    let line = |name: &'static str, meaning: &'static str, value: String| {
        view! { <tr><th scope="row"><Term name meaning/></th><td>{value}</td></tr> }
    };
    let contrast = &comparison.contrast;
    let [level_a, level_b] = contrast.levels.map(|level| told.level(level));
    let [today, earlier] = asked_scatter;
    let days = store.earlier.with_untracked(Vec::len);
    let of_earlier = match (days, earlier.runs) {
        (0, _) => "no earlier day is loaded".to_owned(),
        (_, 0) => "the earlier days have no repeats on these sections".to_owned(),
        _ => format!("{} on earlier days", repeats(&earlier)),
    };
    let of_today = if today.runs == 0 {
        "nothing ridden twice today".to_owned()
    } else {
        format!("{} today", repeats(&today))
    };
    let known = evidence.map(|evidence| {
        let share = |p: f64| if p < 0.001 { "under 0.001".to_owned() } else { fixed(p, 3) };
        let worth = comparison.p_worth_having.get().map_or_else(|why| why.0, |p| share(*p));
        view! {
            {line("95 % interval", "The true difference lies in here nineteen times in twenty.", told.range(evidence.interval))}
            {line(
                "90 % interval",
                "Where this lies wholly inside what is too little to be worth having, there is no difference that matters.",
                told.range(evidence.interval_90),
            )}
            {line(
                "Could have been seen",
                "The smallest true difference that these runs would have shown four times in five. Ride more runs, or go back (A-B-A), to see less.",
                format!("from {} on", told.amount(evidence.smallest_detectable)),
            )}
            {line(
                "Scatter from run to run",
                "How much this number differs between runs with nothing changed: standard deviation. Two runs in three lie within it of their middle.",
                told.amount(comparison.plan.scale.told(evidence.run_to_run_sd)),
            )}
            {line(
                "Chance of so much by scatter",
                "How often runs of an unchanged bike would differ by this much or more (p value).",
                share(evidence.p),
            )}
            {line(
                "Chance of so little, were it worth having",
                "How often so small a difference would turn up if the true one were just worth having (two one-sided tests). Under 0.05: no difference that matters.",
                worth,
            )}
        }
    });
    let df = evidence.map(|evidence| format!(" ({} repeats in all)", evidence.df)).unwrap_or_default();
    view! {
        <table class="rests-on">
            <tbody>
                {line("A, B", "Mean over the sections compared, each run with one vote.", format!("{level_a}, {level_b}"))}
                {line("B less A", "The difference, averaged over the sections compared.", told.signed(contrast.difference))}
                {line(
                    "Worth having from",
                    "The smallest difference that is worth having, as it was written down before the run.",
                    told.amount(comparison.plan.worth_having),
                )}
                {known}
                {line(
                    "The scatter rests on",
                    "Runs ridden with one set-up, on this day and on earlier ones: each beyond the first of its set-up is a repeat (a degree of freedom).",
                    format!("{of_today}; {of_earlier}{df}"),
                )}
            </tbody>
        </table>
    }
}

/// Whether what the day itself did is taken out.
#[component]
fn Trend(removed: bool, in_turn: bool) -> impl IntoView {
    if removed {
        return view! {
            <p class="trend">
                "A and B were ridden equally late on average, so a steady trend of the day, such as a rider who learns the track or a track that dries, is taken out."
            </p>
        }
        .into_any();
    }
    if in_turn {
        return view! {
            <p class="trend">
                "A and B were ridden in turn, one of them later on average: what the day itself changed, the track or the rider, is taken out in part, and in part still counts as a difference."
            </p>
        }
        .into_any();
    }
    let store = store();
    let can_go_back = Memo::new(move |_| store.day.with(|day| day.way_back().is_some()));
    view! {
        <div class="trend">
            <p>
                "One set-up was ridden later than the other: what the day itself changed, the track or the rider, counts as a difference. Going back (A-B-A) takes it out."
            </p>
            <Show when=move || can_go_back.get()><p class="buttons"><WayBackButton/></p></Show>
        </div>
    }
    .into_any()
}

/// The difference in each section, one click from its place.
#[component]
fn BySection(comparison: Comparison, told: Told, laid: Memo<Option<[usize; 2]>>) -> impl IntoView {
    let contrast = comparison.contrast;
    let row = |compared: evenkeel_core::decide::SectionDifference| {
        let speed = match compared.speed_difference_mps.get() {
            Ok(speed) => format!("{} km/h", fixed(speed * 3.6, 1).replace('-', "−")),
            Err(why) => format!("not known: {}", why.0),
        };
        let section = compared.section.clone();
        view! {
            <tr>
                <th scope="row">{if compared.section == "run" { "whole run".to_owned() } else { compared.section }}</th>
                <td>{told.signed(compared.difference)}</td>
                <td>{speed}</td>
                <td class="links"><RideLinks section laid/></td>
            </tr>
        }
    };
    let left_out =
        |out: evenkeel_core::decide::LeftOut| view! { <li>{format!("{}: {}", out.name, out.reason)}</li> };
    let left: Vec<_> = contrast.sections_left_out.into_iter().chain(contrast.runs_left_out).collect();
    view! {
        <details class="by-section">
            <summary>{format!("Section by section ({})", contrast.sections.len())}</summary>
            <table>
                <thead><tr>
                    <th scope="col">"Section"</th>
                    <th scope="col">"B less A"</th>
                    <th scope="col"><Term name="speed" meaning="Mean speed with B less that with A. Sections ridden more than 3.6 km/h faster or slower are not compared."/></th>
                    <th scope="col">"in Ride"</th>
                </tr></thead>
                <tbody>{contrast.sections.into_iter().map(row).collect_view()}</tbody>
            </table>
        </details>
        {(!left.is_empty()).then(|| view! {
            <div class="left-out"><p>"Not compared:"</p><ul>{left.into_iter().map(left_out).collect_view()}</ul></div>
        })}
    }
}
