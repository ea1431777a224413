//! What leaves and what comes back: nothing is lost, and nothing that is made to harm does.

mod contents;
mod day_file;
mod hostile_zip;
mod links;
mod remarks;
mod sealed;
mod tables;
