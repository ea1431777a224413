//! What to heed, whatever is changed.

use evenkeel_core::setup::CAUTIONS;
use leptos::prelude::*;

#[component]
pub fn Cautions() -> impl IntoView {
    let lines = CAUTIONS.map(|line| view! { <li>{line}</li> });
    view! {
        <section class="caution" aria-label="Cautions">
            <p>"Measurements advise; they do not decide."</p>
            <ul>{lines}</ul>
        </section>
    }
}
