//! Running the reader once before it is needed.

use std::fmt::Write;

use evenkeel_core::import;

/// Rows of the made log: enough for a browser to find out what is worth making fast, little enough not to be noticed.
const ROWS: u32 = 3000;

/// Reads a made log and forgets it. A browser compiles new code quickly, and well only what has run for a while:
/// without this the first file would be read at half the speed of the second.
pub fn warm() {
    let mut text = "time [s]".to_owned();
    (0..20).for_each(|column| _ = write!(text, ",channel {column}"));
    for row in 0..ROWS {
        let t_s = f64::from(row) / 1000.0;
        _ = write!(text, "\n{t_s:.3}");
        (0..20).for_each(|column| _ = write!(text, ",{}.{:03}", column - 10, (row * 7 + 13) % 1000));
    }
    _ = import::read("made.csv", text.as_bytes());
}
