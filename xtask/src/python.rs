//! The Python with the reference libraries, in an environment of its own.

use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::program::{find, output, run};
use crate::{Failure, apt, checkout};

/// Written last, so that an environment that was cut off is made again.
const COMPLETE: &str = "complete";

/// The interpreter: the one in `EVENKEEL_PYTHON`, else one that has exactly `tests/reference/requirements.txt`.
pub fn set_up() -> Result<PathBuf, Failure> {
    if let Some(python) = std::env::var_os("EVENKEEL_PYTHON") {
        return Ok(python.into());
    }
    let requirements = checkout::root().join("tests/reference/requirements.txt");
    let wanted = fs::read_to_string(&requirements)
        .map_err(|error| format!("{} cannot be read: {error}", requirements.display()))?;
    let (base, version) = base()?;
    let folder = checkout::target()?.join(format!("python-{:016x}", key(&wanted, &version)));
    let python = folder.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    if folder.join(COMPLETE).exists() && output(Command::new(&python).arg("--version")).is_some() {
        return Ok(python);
    }
    make(&base, &folder)?;
    run(Command::new(&python).args(["-m", "pip", "install", "--quiet", "--requirement"]).arg(&requirements))
        .map_err(|failure| format!("the reference libraries cannot be installed: {failure}"))?;
    fs::write(folder.join(COMPLETE), wanted)
        .map_err(|error| format!("{} cannot be written: {error}", folder.display()))?;
    Ok(python)
}

fn base() -> Result<(PathBuf, String), Failure> {
    let here = || {
        ["python3", "python"]
            .into_iter()
            .filter_map(find)
            .find_map(|python| Some((python.clone(), output(Command::new(&python).arg("--version"))?)))
    };
    if here().is_none() {
        apt::install(&["python3", "python3-venv"]).map_err(|no_apt| {
            format!(
                "the reference checks need Python 3.11 or later ({no_apt}): install it and put it on PATH"
            )
        })?;
    }
    here().ok_or_else(|| "the Python that was installed does not start".to_owned())
}

fn make(base: &Path, folder: &Path) -> Result<(), Failure> {
    let venv = || run(Command::new(base).args(["-m", "venv", "--clear"]).arg(folder));
    // Debian keeps this part of Python in a package of its own.
    venv().or_else(|failure| {
        apt::install(&["python3-venv"])
            .and_then(|()| venv())
            .map_err(|no_apt| format!("{failure}, and python3-venv did not help: {no_apt}"))
    })
}

fn key(requirements: &str, version: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    (requirements, version).hash(&mut hasher);
    hasher.finish()
}
