//! What was found, the most important first, as much as one page takes.

use evenkeel_core::align::moment;
use evenkeel_core::findings::{Finding, Step};
use leptos::prelude::*;

use super::fitting;

/// So many have room.
const SHOWN: usize = 3;
/// Of each, so many of the numbers behind it.
const EVIDENCE: usize = 2;

pub fn findings(findings: &[Finding]) -> AnyView {
    let more = findings.len().saturating_sub(SHOWN);
    view! {
        <div>
            <h2>"Findings"</h2>
            {findings.is_empty().then(|| view! { <p>"Nothing beyond the limits. What was not measured was not judged."</p> })}
            <ol>{findings.iter().take(SHOWN).map(one).collect_view()}</ol>
            {(more > 0).then(|| view! { <p>{format!("{more} more on the screen.")}</p> })}
        </div>
    }
    .into_any()
}

fn one(finding: &Finding) -> AnyView {
    let step = &finding.advice.step;
    let what = match step {
        Step::Inspect(_) => "To look at: ",
        Step::Ride(_) => "To ride: ",
        Step::Later(_) => "Later, one change at a time: ",
        Step::Adjust(_) | Step::OneOf(_) => "To try: ",
    };
    let steps: Vec<String> = match step.adjustments() {
        [] => vec![step.words().to_string()],
        adjustments => adjustments.iter().take(2).map(|adjustment| adjustment.words().to_string()).collect(),
    };
    let place = match (finding.section.as_str(), finding.moments.first()) {
        ("run", None) => "over the whole run".to_owned(),
        ("run", Some(first)) => format!("most at {}", moment::format(first.start_s, 0.1)),
        (section, _) => format!("in {}", fitting(section, 40)),
    };
    let evidence = finding.evidence.iter().take(EVIDENCE).map(|evidence| {
        let limit =
            evidence.limit.as_ref().map(|limit| format!(" (limit {})", evidence.measure.words(limit.at)));
        fitting(&format!("{} {}{}", evidence.what, evidence.shown(), limit.unwrap_or_default()), 80)
    });
    view! {
        <li>
            <b>{fitting(&finding.statement, 160)}</b>
            {format!(" {} ({place}).", capital(finding.confidence.level.words()))}
            <br/>
            {evidence.collect::<Vec<_>>().join("; ")}
            <br/>
            <i>{what}</i>
            {fitting(&steps.join(", or "), 130)}
            <br/>
            <i>"Next run, if right: "</i>
            {fitting(&finding.advice.next_run, 140)}
        </li>
    }
    .into_any()
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
