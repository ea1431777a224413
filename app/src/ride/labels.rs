//! What stands left of the traces: each row's name, its values at the cursor, and the view's buttons.

use std::sync::Arc;

use leptos::prelude::*;

use super::chart::whole_of;
use super::rows::{Line, Row, Strip};
use super::view::View;
use crate::store::{RideView, store};
use crate::words::{number, symbol};

/// A row's name and its values at the cursor.
#[component]
pub fn RowLabel(drawn: Arc<Vec<Strip>>, row: usize, ride: Memo<Option<Arc<RideView>>>) -> impl IntoView {
    let store = store();
    let Strip { row: Row { title, sign, unit, ref lines }, weight, .. } = drawn[row];
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
        view! {
            <span class="value" data-value=key>
                <i class=format!("swatch {}", &ink.variable()[2..])></i>
                <span class="line-name">{*name}</span>
                <output>{value}</output>
            </span>
        }
    });
    let values = values.collect_view();
    view! {
        <div class="row-label" style:flex-grow=weight.to_string()>
            <h3>{title}" "<span class="unit">{symbol(unit)}</span></h3>
            <p class="sign">{sign}</p>
            {values}
        </div>
    }
}

#[component]
pub fn ViewButtons(view: RwSignal<View>, ride: Memo<Option<Arc<RideView>>>) -> impl IntoView {
    let store = store();
    let whole = move || ride.with_untracked(|ride| whole_of(ride.as_deref()));
    // Zooming by button keeps the cursor where it is, if it can be seen.
    let zoom = move |factor: f64| {
        let cursor = store.cursor_s.get_untracked();
        view.update(|view| {
            let place = view.place(cursor);
            *view = view.zoomed(factor, if (0.0..=1.0).contains(&place) { place } else { 0.5 }, whole());
        });
    };
    view! {
        <div class="view-buttons">
            <button aria-label="Zoom in" on:click=move |_| zoom(0.5)>"+"</button>
            <button aria-label="Zoom out" on:click=move |_| zoom(2.0)>"−"</button>
            <button on:click=move |_| view.set(whole())>"Whole run"</button>
        </div>
    }
}
