//! How long the day's sections took.

use evenkeel_core::align::moment;
use evenkeel_core::track::{AlignmentMethod, TrackReadout};
use leptos::prelude::*;

use super::figure::Figure;

#[component]
pub fn SectionTimes(track: TrackReadout) -> impl IntoView {
    let rows = track.sections.into_iter().map(|section| {
        let time = Figure::of(&section.time_s, |time_s| moment::format(*time_s, 0.01));
        let name = section.name.clone();
        view! { <tr data-section=name><th scope="row">{section.name}</th>{time.cell()}</tr> }
    });
    let rows = rows.collect_view();
    let method = track.method.get().ok().map(|method| {
        let how = match method {
            AlignmentMethod::Curvature => "Found by how the track bends".to_owned(),
            AlignmentMethod::Rescaled(reason) => format!("Found by distance alone: {reason}"),
        };
        let within = track.uncertainty_p95_m.get();
        let within = within.map(|metres| format!(", to ±{metres:.1} m")).unwrap_or_default();
        view! { <p class="quiet note">{how}{within}"."</p> }
    });
    view! {
        <h3>"Section times"</h3>
        <table class="section-times"><tbody>{rows}</tbody></table>
        {method}
    }
}
