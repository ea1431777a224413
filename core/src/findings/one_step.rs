//! One adjustment at a time over the whole list.

use super::{Adjustment, Finding, Step};

/// Leaves the first adjustment of the list proposed, and lets the others wait. Where another finding, just as sure, is
/// of the same kind at the other end, or asks to turn the same thing the other way, both are offered, as a choice.
pub fn propose(found: &mut [Finding]) {
    let Some(first) = found.iter().position(|finding| finding.advice.step.proposes()) else { return };
    let (before, after) = found.split_at_mut(first + 1);
    let Some(first) = before.last_mut() else { return };
    let mut offered: Vec<Adjustment> = first.advice.step.adjustments().to_vec();
    let wanted = offered.clone();
    for later in after {
        let theirs = later.advice.step.adjustments().to_vec();
        if theirs.is_empty() {
            continue;
        }
        let alike = later.kind == first.kind && later.confidence.level == first.confidence.level;
        let against = theirs.iter().any(|one| wanted.iter().any(|other| one.opposes(other)));
        if alike || against {
            offered.extend(theirs.iter().filter(|one| !wanted.contains(one)));
        }
        later.advice.step = Step::Later(theirs);
    }
    offered.dedup();
    first.advice.step = match offered[..] {
        [one] => Step::Adjust(one),
        _ => Step::OneOf(offered),
    };
}
