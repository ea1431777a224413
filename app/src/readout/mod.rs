//! The Read-out: what the run in view means, then the numbers and pictures behind it.

mod evidence;
mod finding_card;
mod limits_table;
mod pictures;
mod rider;
mod usual;

use std::sync::Arc;

use evenkeel_core::RunReadout;
use leptos::prelude::*;

use crate::hand_over::is_copy;
use crate::printed::PrintButton;
use crate::store::store;
use finding_card::FindingCard;
use limits_table::LimitsTable;
use pictures::Pictures;
pub use pictures::on_paper;
use rider::RiderSaid;
use usual::Usual;

#[component]
pub fn ReadoutPlace() -> impl IntoView {
    let store = store();
    let readout = Memo::new(move |_| store.readout(store.run.get()));
    let none = Memo::new(move |_| store.day.with(|day| day.runs.is_empty()));
    view! {
        <div class="readout">
            <Show
                when=move || readout.with(Option::is_some)
                fallback=move || view! {
                    <p class="empty">
                        {move || if none.get() {
                            "No run yet. Load its log files in Day, or the demo day."
                        } else if store.is_reading_out(store.run.get()) {
                            "Reading this run out …"
                        } else {
                            "None of this run's log files is read yet."
                        }}
                    </p>
                }
            >
                <div class="readout-columns">
                    <div class="readout-main">
                        <Findings readout/>
                        <RiderSaid readout/>
                    </div>
                    <div class="readout-side">
                        <fieldset class="as-it-came" disabled=move || is_copy(store)><Usual/><LimitsTable/></fieldset>
                    </div>
                </div>
                <Pictures readout/>
            </Show>
        </div>
    }
}

/// In sentences, the most important first.
#[component]
fn Findings(readout: Memo<Option<Arc<RunReadout>>>) -> impl IntoView {
    let store = store();
    // A caution is said once.
    let findings = Memo::new(move |_| {
        let mut said = Vec::new();
        let mut findings =
            readout.with(|run| run.as_ref().map(|run| run.findings.clone())).unwrap_or_default();
        for finding in &mut findings {
            finding.advice.cautions.retain(|caution| !said.contains(caution));
            said.extend(finding.advice.cautions.iter().cloned());
        }
        findings
    });
    let stale = move || store.is_reading_out(store.run.get());
    view! {
        <section class="findings" aria-label="Findings" aria-busy=move || stale().to_string()>
            <div class="findings-head">
                <h2>
                    {move || match findings.with(Vec::len) {
                        0 => "Nothing beyond the limits".to_owned(),
                        1 => "One finding".to_owned(),
                        n => format!("{n} findings, the most important first"),
                    }}
                    <Show when=stale><span class="quiet">" being made anew …"</span></Show>
                </h2>
                <PrintButton/>
            </div>
            <Show when=move || findings.with(Vec::is_empty)>
                <p>
                    "Nothing in this run goes past the limits below. What was not measured was not judged; the numbers say which and why. "
                    "A bike that nothing is found in is left as it is."
                </p>
            </Show>
            {move || {
                let run = readout.get_untracked()?;
                let card = |finding| view! { <FindingCard finding run=Arc::clone(&run)/> };
                Some(findings.get().into_iter().map(card).collect_view())
            }}
        </section>
    }
}
