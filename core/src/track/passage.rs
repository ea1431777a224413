//! Places of the course seen in a run: they anchor its alignment.

use serde::{Deserialize, Serialize};

use super::RunDistance;
use super::alignment::Anchor;
use crate::align::Moment;
use crate::measured::NotMeasured;

/// One place of the course, and when this run passes it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Distance along the course, m.
    pub course_m: f64,
    /// When, on the run's clock, with the resolution it was typed with.
    pub time: Moment,
}

impl Passage {
    /// The anchors that passages make.
    pub(super) fn anchors(passages: &[Self], run: &RunDistance) -> Result<Vec<Anchor>, NotMeasured> {
        let mut anchors = Vec::with_capacity(passages.len());
        for passage in passages {
            let Moment { seconds, resolution_s } = passage.time;
            let at = |time_s| run.at_time_m(time_s);
            let (Some(run_m), Some(before_m), Some(after_m)) =
                (at(seconds), at(seconds - resolution_s), at(seconds + resolution_s))
            else {
                return Err(NotMeasured::because(format!(
                    "the mark at {:.0} m has a time outside of the run: correct it",
                    passage.course_m
                )));
            };
            anchors.push(Anchor {
                course_m: passage.course_m,
                run_m,
                half_width_m: (after_m - before_m) / 2.0,
            });
        }
        anchors.sort_by(|a, b| a.course_m.total_cmp(&b.course_m));
        if anchors.windows(2).any(|pair| pair[1].run_m <= pair[0].run_m) {
            return Err(NotMeasured::because("the marks of this run are not in the order of the track"));
        }
        Ok(anchors)
    }
}
