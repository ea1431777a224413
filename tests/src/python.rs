//! Runs a script of `tests/reference` on our arrays or files and brings its own back.

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
    let bytes = |values: &[f64]| values.iter().flat_map(|v| v.to_le_bytes()).collect();
    let sent: Vec<(&str, Vec<u8>)> = inputs.iter().map(|(name, values)| (*name, bytes(values))).collect();
    let sent: Vec<(&str, &[u8])> = sent.iter().map(|(name, bytes)| (*name, bytes.as_slice())).collect();
    let array = |(name, bytes): (String, Vec<u8>)| {
        let (values, rest) = bytes.as_chunks::<8>();
        assert!(rest.is_empty(), "{name} is not whole f64s");
        let values = values.iter().map(|chunk| f64::from_le_bytes(*chunk)).collect();
        (name, values)
    };
    reference_files(script, &sent).into_iter().map(array).collect()
}

/// Hands files to `tests/reference/<script>.py`, which finds them in the folder `in` of its argument, and returns
/// those it left in `out`. Panics as [`reference`] does.
pub fn reference_files(script: &str, inputs: &[(&str, &[u8])]) -> BTreeMap<String, Vec<u8>> {
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
    for (name, bytes) in inputs {
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
    let file = |entry: std::io::Result<std::fs::DirEntry>| {
        let entry = entry.unwrap();
        (entry.file_name().into_string().unwrap(), std::fs::read(entry.path()).unwrap())
    };
    let files = std::fs::read_dir(&back).unwrap().map(file).collect();
    std::fs::remove_dir_all(&folder).unwrap();
    files
}

fn script_path(script: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(format!("{script}.py"))
}
