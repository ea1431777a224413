//! The extremes in numbers, each with the moment it was reached.

use evenkeel_core::align::moment;
use leptos::prelude::*;

use super::pose::{Extreme, Ghost};
use super::{side_of, turning};
use crate::ride::span::Span;
use crate::ride::tools::go_to;
use crate::ride::view::View;
use crate::store::store;

#[component]
pub fn Extremes(ghosts: Memo<Vec<Ghost>>, view: RwSignal<View>, span: Span) -> impl IntoView {
    let store = store();
    let of_what =
        move || if store.range_s.with(Option::is_some) { "of the range" } else { "of what is in view" };
    let row = move |Ghost { extreme, value, time_s, .. }: Ghost| {
        view! {
            <tr>
                <th scope="row">{extreme.words()}</th>
                <td class="number">{words(extreme, value)}</td>
                <td class="number"><button class="moment" title="Put the cursor here" on:click=move |_| go_to(store, view, time_s)>{moment::format(time_s, 0.001)}</button></td>
            </tr>
        }
    };
    view! {
        <label class="tick">
            <input type="checkbox" id="extremes" prop:checked=move || span.extremes.get() on:change:target=move |e| span.extremes.set(e.target().checked())/>
            <span>"Extremes "{of_what}", drawn thin"</span>
        </label>
        <details hidden=move || ghosts.with(Vec::is_empty)>
            <summary>"In numbers"</summary>
            <table class="extremes"><tbody>{move || ghosts.get().into_iter().map(row).collect_view()}</tbody></table>
        </details>
    }
}

fn words(extreme: Extreme, value: f64) -> String {
    match extreme {
        Extreme::FrontDeepest | Extreme::RearDeepest => format!("{:.0} mm", value * 1e3),
        Extreme::NoseDown | Extreme::NoseUp => side_of(Some(value), "nose down", "nose up"),
        Extreme::LeanLeft | Extreme::LeanRight => side_of(Some(value), "right", "left"),
        Extreme::TurnLeft | Extreme::TurnRight => turning(Some(value)),
    }
}
