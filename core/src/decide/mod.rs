//! Back to back: whether a change made a difference, honestly with few runs.
//!
//! The unit is the run: bumps and sections within one run are not independent evidence. Before the runs a
//! [`Plan`] names one metric, its direction, its sections and the smallest difference worth having. Only that
//! metric gets a [`Verdict`]; every other is [`Explored`].
//!
//! Sections that both set-ups rode at like speed are compared one by one, and the differences averaged to one
//! number. How much such a number varies between runs of an unchanged bike is pooled over every repeat of a
//! set-up, of the day and of the archive ([`RunToRun`]): three runs against three on their own cannot decide
//! anything at 5 %, since an exact permutation test of them has no p value below 2/20 = 0.10.
//!
//! Going back is worth its run: A-B-A takes out a steady trend, such as a rider who learns the track or a
//! track that dries.

mod archive;
mod back_to_back;
mod comparison;
mod contrast;
mod evidence;
mod explored;
mod matched;
mod meaning;
mod metric;
mod plan;
mod run_to_run;

pub use archive::{Archive, ArchivedDay, RunSummary, SectionSummary};
pub use back_to_back::{Asked, BackToBack, back_to_back};
pub use comparison::{Comparison, Verdict, compare};
pub use contrast::Contrast;
pub use evidence::{DETECTION_POWER, Evidence, TEST_LEVEL};
pub use explored::{Explored, ExploredMetric, explore};
pub use matched::{LIKE_SPEED_MPS, LeftOut, RunValues, SectionDifference, SectionValue};
pub use metric::{METRICS, Metric};
pub use plan::{Direction, Plan, Scale};
pub use run_to_run::RunToRun;
