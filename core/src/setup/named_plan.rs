//! A plan, and whether it was named before its run could be read.

use serde::{Deserialize, Serialize};

use crate::decide::Plan;

/// The question a run is to answer, as its sheet keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NamedPlan {
    /// The question.
    pub plan: Plan,
    /// When it was named.
    pub named: Named,
}

/// When a plan was named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Named {
    /// Before the run's log was loaded.
    BeforeTheRun,
    /// With the run's log there to look at: a metric chosen after the fact finds what it looks for.
    AfterTheRun,
}
