//! The page in a real browser beside its peers: how soon a file is read and drawn, how long a frame takes, how long
//! the page is held up, what it holds in memory, how much there is to fetch.
//!
//! `cargo xtask bench page` measures all of it, `cargo xtask bench page frames` the frames alone.

mod app;
mod frames;
mod length;
mod loading;
mod logs;
mod peers;
mod sizes;
mod table;

use table::Table;

type Part = fn(&mut Table);

const PARTS: [(&str, Part); 4] = [
    ("sizes", sizes::measure),
    ("loading", loading::measure),
    ("frames", frames::measure),
    ("length", length::measure),
];

fn main() {
    // `cargo test --benches` only asks whether it runs.
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    if !words.iter().any(|word| word == "--bench") {
        return;
    }
    words.retain(|word| !word.starts_with("--"));
    if let Some(unknown) = words.iter().find(|word| PARTS.iter().all(|(name, _)| name != word)) {
        eprintln!("there is no part {unknown}; these there are: {}", PARTS.map(|(name, _)| name).join(", "));
        std::process::exit(2);
    }
    let mut table = Table::default();
    for (name, measure) in PARTS {
        if words.is_empty() || words.iter().any(|word| word == name) {
            measure(&mut table);
        }
    }
    table.sum_up();
}
