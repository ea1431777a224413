//! What the project's commands share with its browser tests: the static server, and the digests that it is named by.

pub mod digest;
pub mod site;
