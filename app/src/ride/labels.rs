//! What stands left of the traces: each row's name and its values at the cursor, and over the range.

use std::sync::Arc;

use evenkeel_core::signal::Stretch;
use leptos::prelude::*;

use super::rows::{Line, Row, Strip};
use super::span::Span;
use crate::store::{RideView, store};
use crate::words::{number, symbol};

/// A row's name and its values.
#[component]
pub fn RowLabel(
    drawn: Arc<Vec<Strip>>,
    row: usize,
    ride: Memo<Option<Arc<RideView>>>,
    span: Span,
) -> impl IntoView {
    let store = store();
    let Strip { row: Row { ref title, sign, unit, ref lines, .. }, weight, .. } = drawn[row];
    // A row of one channel has a long name and an empty place beside its value.
    let is_alone = lines.len() == 1 && lines[0].name.is_empty();
    let unit_of_row = move || view! { <span class="unit">{symbol(unit)}</span> };
    let values = lines.iter().filter(|line| {
        ride.with_untracked(|ride| ride.as_ref().is_some_and(|ride| ride.get(line.trace).is_some()))
    });
    let values = values.map(|Line { trace, name, ink }| {
        let (trace, key) = (*trace, format!("{} {name}", title.to_lowercase()));
        let value = move || {
            let sample =
                ride.with(|ride| ride.as_ref().and_then(|ride| ride.at(trace, store.cursor_s.get())));
            sample.map_or("–".to_owned(), |si| number(si, unit))
        };
        let over = move || {
            let of = |what: &'static str, value: fn(&Stretch) -> f64| {
                let shown = move || span.get(trace).map_or("–".to_owned(), |stretch| number(value(&stretch), unit));
                view! { <span class=what title=what>{shown}</span> }
            };
            span.shown.get().then(|| view! {
                <span class="spanned">{of("min", |s| f64::from(s.min))}{of("mean", Stretch::mean)}{of("max", |s| f64::from(s.max))}</span>
            })
        };
        view! {
            <span class="value" data-value=key.trim().to_owned()>
                <i class=format!("swatch {}", &ink.variable()[2..])></i>
                <span class="line-name">{*name}</span>
                <output>{value}</output>
                {is_alone.then(unit_of_row)}
                {over}
            </span>
        }
    });
    let values = values.collect_view();
    view! {
        <div class="row-label" class:alone=is_alone style:flex-grow=weight.to_string()>
            <h3 title=title.to_string()>{title.to_string()}" "{(!is_alone).then(unit_of_row)}</h3>
            <p class="sign">{sign}</p>
            {values}
        </div>
    }
}
