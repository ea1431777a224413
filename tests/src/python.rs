//! Runs a script of `tests/reference` on our arrays and brings its arrays back.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Arrays by name; a scalar is an array of one.
pub type Arrays = BTreeMap<String, Vec<f64>>;

/// Hands `inputs` to `tests/reference/<script>.py` and returns what it saved.
///
/// Arrays go through little-endian `f64` files; the script reads and writes them with
/// `exchange.py`. Panics, with the script's own words, if it fails: a check that cannot run has failed.
pub fn reference(script: &str, inputs: &[(&str, &[f64])]) -> Arrays {
    static CALLS: AtomicUsize = AtomicUsize::new(0);
    let python = std::env::var_os("EVENKEEL_PYTHON").expect(
        "EVENKEEL_PYTHON is not set: run the tests with `cargo xtask test`, which makes the environment",
    );
    let folder = std::env::temp_dir().join(format!(
        "evenkeel-reference-{}-{}",
        std::process::id(),
        CALLS.fetch_add(1, Ordering::Relaxed)
    ));
    let (sent, back) = (folder.join("in"), folder.join("out"));
    std::fs::create_dir_all(&sent).unwrap();
    std::fs::create_dir_all(&back).unwrap();
    for (name, values) in inputs {
        let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        std::fs::write(sent.join(name), bytes).unwrap();
    }
    let output = Command::new(python)
        .arg(script_path(script))
        .arg(&folder)
        .output()
        .unwrap_or_else(|error| panic!("could not start Python for {script}: {error}"));
    assert!(
        output.status.success(),
        "{script}.py failed:\n{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    let arrays = read_arrays(&back);
    std::fs::remove_dir_all(&folder).unwrap();
    arrays
}

fn script_path(script: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(format!("{script}.py"))
}

fn read_arrays(folder: &Path) -> Arrays {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let entry = entry.unwrap();
            let bytes = std::fs::read(entry.path()).unwrap();
            let (values, rest) = bytes.as_chunks::<8>();
            assert!(rest.is_empty(), "{:?} is not whole f64s", entry.path());
            let values = values.iter().map(|chunk| f64::from_le_bytes(*chunk)).collect();
            (entry.file_name().into_string().unwrap(), values)
        })
        .collect()
}
