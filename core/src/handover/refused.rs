//! Why something could not be handed over or taken in, and what to do about it.

use std::fmt;

/// A refusal that a person can act on. Displays as one line: `problem; what to do`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

impl Refused {
    /// A refusal.
    pub(crate) fn because(problem: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { problem: problem.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // What a file says of itself may hold line ends; the message stays on one line.
        let line = format!("{}; {}", self.problem, self.remedy);
        line.chars().try_for_each(|c| fmt::Write::write_char(f, if c.is_control() { ' ' } else { c }))
    }
}

impl std::error::Error for Refused {}
