//! Why these rows: what to look for in what was picked from the rider's words, and what this run has not.

use std::sync::Arc;

use evenkeel_core::ride::Trace;
use evenkeel_core::{NotMeasured, Role};
use leptos::prelude::*;

use super::{RowSet, catalogue};
use crate::complaints::Complaint;
use crate::store::{RideView, store};

/// Stands above the traces while rows are picked from the rider's words.
#[component]
pub fn ComplaintNote(ride: Memo<Option<Arc<RideView>>>) -> impl IntoView {
    let store = store();
    let complaint = Memo::new(move |_| {
        store.rows.with(|choice| if let RowSet::For(complaint) = choice.set { Some(complaint) } else { None })
    });
    move || {
        let complaint = complaint.get()?;
        let missing = ride
            .with(|ride| ride.as_ref().filter(|ride| ride.analysed).map(|ride| missing(complaint, ride)))
            .unwrap_or_default();
        let missing = (!missing.is_empty()).then(|| {
            let items = missing.into_iter().map(|(what, why)| view! { <li>{format!("{what}: {why}")}</li> });
            view! { <details><summary>"Not in this run"</summary><ul>{items.collect_view()}</ul></details> }
        });
        Some(view! {
            <div class="complaint-note" role="status">
                <p>
                    <b>{format!("Rows for “{}”. ", complaint.words())}</b>
                    {complaint.look_for()}" "
                    {complaint.undecided().map(|undecided| view! { <em>{undecided}</em> })}
                </p>
                {missing}
                <button on:click=move |_| store.rows.update(|choice| choice.set = RowSet::Usual)>"Usual rows"</button>
            </div>
        })
    }
}

/// Lines that a complaint asks for and the run does not have, each with the reason.
fn missing(complaint: Complaint, ride: &RideView) -> Vec<(String, String)> {
    let mut missing = Vec::new();
    let rows = catalogue();
    for row in complaint.rows().iter().filter_map(|key| rows.iter().find(|row| row.key == *key)) {
        let absent: Vec<_> = row.lines.iter().filter(|line| ride.get(line.trace).is_none()).collect();
        for line in &absent {
            let why = why_not(line.trace, ride);
            let what = if absent.len() == row.lines.len() && row.lines.len() > 1 {
                row.title.to_string()
            } else {
                format!("{} {}", row.title, line.name).trim().to_owned()
            };
            if !missing.iter().any(|(_, known)| *known == why) {
                missing.push((what, why));
            }
        }
    }
    missing
}

/// Why a run does not have a trace.
fn why_not(trace: Trace, ride: &RideView) -> String {
    let travel = |end| {
        let whole = ride.readout.sections.first();
        whole.and_then(|whole| {
            let ends = [&whole.front, &whole.rear];
            ends[end as usize].travel.ride_height_m.get().err()
        })
    };
    let reason: Option<NotMeasured> = match trace {
        Trace::Logged(role) => return why_not_logged(role, ride),
        Trace::AxleSpeed(end) | Trace::RideHeight(end) => travel(end),
        Trace::ChordPitch | Trace::Heave => evenkeel_core::End::BOTH.into_iter().find_map(travel),
        Trace::Speed => ride.readout.sections.first().and_then(|whole| whole.distance_m.get().err()),
        Trace::Slip(end) => return why_not_logged(Role::WheelSpeed(end), ride),
        Trace::Pitch | Trace::Roll | Trace::Yaw | Trace::YawRate => ride.attitude.as_ref().err().cloned(),
    };
    reason.map_or_else(|| "not measured in this run".to_owned(), |reason| reason.to_string())
}

fn why_not_logged(role: Role, ride: &RideView) -> String {
    let problem = ride
        .readout
        .channels
        .iter()
        .find(|channel| channel.role.as_read() == role)
        .and_then(|channel| channel.problem.clone());
    problem.unwrap_or_else(|| format!("no {} is logged", role.words()))
}
