//! What exactly would leave, and who could read it.

use evenkeel_core::handover::Content;
use leptos::prelude::*;

#[component]
pub fn WhatLeaves(contents: Vec<Content>, who: String) -> impl IntoView {
    let tells_place = contents.iter().any(|content| content.tells_place);
    let items = contents.into_iter().map(|content| {
        view! { <li>{content.what}{content.tells_place.then(|| view! { <b>" ▲"</b> })}</li> }
    });
    view! {
        <div class="leaves">
            <h3>"What is in it"</h3>
            <ul>{items.collect_view()}</ul>
            {tells_place.then(|| view! { <p class="quiet">"▲ Positions say where on earth the ride was."</p> })}
            <p><b>"Who can read it: "</b>{who}</p>
        </div>
    }
}
