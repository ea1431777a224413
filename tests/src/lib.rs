//! Tools of the outside tests: a bridge to Python's reference libraries, and a browser.
#![warn(missing_docs)]

pub mod browser;
pub mod python;
