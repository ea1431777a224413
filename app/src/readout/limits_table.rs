//! Every limit that findings are judged by, with its origin; its owner can set each.

use evenkeel_core::findings::Limit;
use leptos::prelude::*;

use crate::field::parse_number;
use crate::store::store;

#[component]
pub fn LimitsTable() -> impl IntoView {
    let store = store();
    let set = Memo::new(move |_| store.day.with(|day| !day.findings.limits.is_default()));
    let reset = move |_| store.day.update(|day| day.findings.limits = Default::default());
    view! {
        <details class="limits">
            <summary><h2>"Limits"</h2></summary>
            <p class="quiet">
                "Findings are judged by these; they are kept with the day. Common practice is a rule of the trade. "
                "What comes from a simulated bike, or is our own default, is to be changed as you learn your bike."
            </p>
            <table>
                <thead><tr>
                    <td></td>
                    <th scope="col">"limit"</th>
                    <th scope="col">"where it comes from"</th>
                </tr></thead>
                <tbody>{Limit::ALL.iter().map(|&limit| view! { <OneLimit limit/> }).collect_view()}</tbody>
            </table>
            <button on:click=reset aria-disabled=move || (!set.get()).then_some("true")>"All as they came"</button>
        </details>
    }
}

#[component]
fn OneLimit(limit: Limit) -> impl IntoView {
    let store = store();
    let own = Memo::new(move |_| {
        store.day.with(|day| (day.findings.limits.get(limit), day.findings.limits.is_set(limit)))
    });
    let wrong = RwSignal::new(false);
    let (per_si, unit) = limit.measure().shown();
    let write = move |text: String| {
        let number = parse_number(&text).filter(|number| *number >= 0.0);
        wrong.set(number.is_none() && !text.trim().is_empty());
        if !wrong.get_untracked() {
            store.day.update(|day| day.findings.limits.set(limit, number.map(|number| number / per_si)));
        }
    };
    let shown = move || plain(own.get().0 * per_si);
    let origin = move || if own.get().1 { "set by you" } else { limit.origin().words() };
    view! {
        <tr>
            <th scope="row"><abbr class="term" tabindex="0" title=limit.sentence()>{limit.name()}</abbr></th>
            <td>
                <input
                    inputmode="decimal"
                    autocomplete="off"
                    aria-label=limit.name()
                    aria-invalid=move || wrong.get().then_some("true")
                    prop:value=shown
                    on:change:target=move |event| write(event.target().value())
                />
                <span class="unit">{unit}</span>
            </td>
            <td class="quiet">{origin}</td>
        </tr>
    }
}

/// What stands in the field: no more digits than say something.
fn plain(number: f64) -> String {
    let text = format!("{number:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use evenkeel_core::findings::Measure;

    use super::*;

    #[test]
    fn what_stands_in_the_field_is_the_limit() {
        for &limit in Limit::ALL {
            let (per_si, _) = limit.measure().shown();
            let read: f64 = plain(limit.default_value() * per_si).parse().unwrap();
            assert!((read / per_si - limit.default_value()).abs() < 1e-9, "{}", limit.name());
        }
        assert_eq!(Measure::Pressure.shown(), (1e-5, "bar"));
    }
}
