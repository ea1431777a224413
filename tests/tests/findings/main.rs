//! Findings: the rules of the trade on constructed runs, and what is wrong with simulated bikes.

mod constructed;
mod on_the_model;
