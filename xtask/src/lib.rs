//! What the project's commands share with its browser tests: the static server.

pub mod site;
