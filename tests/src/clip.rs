//! A video whose frames say which they are.

use std::path::Path;
use std::process::Command;

/// Writes one of this many seconds: `tests/reference/clip.py` says what it shows.
///
/// # Panics
/// With the script's own words, if it fails.
pub fn write(file: &Path, seconds: f64) {
    let python = std::env::var_os("EVENKEEL_PYTHON").expect("run the tests with `cargo xtask test`");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/clip.py");
    let made = Command::new(python).arg(script).arg(file).arg(seconds.to_string()).output().unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}
