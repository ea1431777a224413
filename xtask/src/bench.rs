//! Times ours beside its peers, in one run on one machine.

use crate::program::run;
use crate::{Failure, checkout, python};

/// Every bench; each prints its ratios.
pub fn bench() -> Result<(), Failure> {
    let python = python::set_up()?;
    let mut cargo = checkout::cargo();
    cargo.env("EVENKEEL_PYTHON", python);
    run(cargo.args(["bench", "--locked", "--package", "evenkeel-tests", "--benches"]))
}
