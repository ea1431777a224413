//! The corners one by one.

use evenkeel_core::align::moment;
use evenkeel_core::ride::Corner;
use evenkeel_core::{Measured, Unit};
use leptos::prelude::*;

use super::figure::Figure;
use crate::words::number;

#[component]
pub fn Corners(corners: Measured<Vec<Corner>>, go: Callback<f64>) -> impl IntoView {
    let table = match corners.get() {
        Err(reason) => {
            view! { <table><tbody><tr data-number="Corners"><th scope="row">"Corners"</th>{Figure::not(reason).cell()}</tr></tbody></table> }
                .into_any()
        }
        Ok(corners) if corners.is_empty() => view! { <p class="quiet">"None begins here."</p> }.into_any(),
        Ok(corners) => {
            let rows = corners.iter().cloned().map(|corner| view! { <OneCorner corner go/> }).collect_view();
            view! {
                <table class="corners">
                    <thead><tr>
                        <th scope="col"><abbr class="term" title="The moment of most lean into the corner; puts the cursor there.">"apex"</abbr></th>
                        <th scope="col">"to"</th>
                        <th scope="col"><abbr class="term" title="Lean at the apex, degrees.">"lean °"</abbr></th>
                        <th scope="col"><abbr class="term" title="Speed at the apex.">"km/h"</abbr></th>
                        <th scope="col"><abbr class="term" title="Mean front travel from entry to exit, mm.">"front mm"</abbr></th>
                        <th scope="col"><abbr class="term" title="Mean rear travel from entry to exit, mm.">"rear mm"</abbr></th>
                    </tr></thead>
                    <tbody>{rows}</tbody>
                </table>
            }
            .into_any()
        }
    };
    view! { <h3>"Corners"</h3>{table} }
}

#[component]
fn OneCorner(corner: Corner, go: Callback<f64>) -> impl IntoView {
    let apex_s = corner.apex_s;
    let side = if corner.turn_rad >= 0.0 { "left" } else { "right" };
    let cell = |measured: &Measured, unit| Figure::of(measured, |si| number(*si, unit)).cell();
    view! {
        <tr>
            <th scope="row"><button class="moment" title="Put the cursor here" on:click=move |_| go.run(apex_s)>{moment::format(apex_s, 0.1)}</button></th>
            <td>{side}</td>
            <td>{format!("{:.0}", corner.lean_max_rad.to_degrees().abs())}</td>
            {cell(&corner.apex_speed_mps, Unit::KilometrePerHour)}
            {cell(&corner.front.travel_m, Unit::Millimetre)}
            {cell(&corner.rear.travel_m, Unit::Millimetre)}
        </tr>
    }
}
