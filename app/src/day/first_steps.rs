//! What stands here before there is a run.

use leptos::prelude::*;

use super::cautions::Cautions;

#[component]
pub fn FirstSteps() -> impl IntoView {
    view! {
        <section class="steps" aria-label="How it goes">
            <ol>
                <li><b>"Load"</b>"The text files of your loggers: several for one run, each with its own clock and rate."</li>
                <li><b>"Check"</b>"What each channel was taken for: sensor, unit, zero, sign, and how the inertial unit lies."</li>
                <li><b>"Ride"</b>"Type a time from the helmet video and see what the bike did at that moment."</li>
            </ol>
            <Cautions/>
        </section>
    }
}
