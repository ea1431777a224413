//! The static site, and the same as one file: both work from any host and any path, the one file from a disk too.

use std::fs;
use std::path::{Path, PathBuf};

use crate::parts::Parts;
use crate::{Failure, bindings, checkout, hosted, single, wasm};

/// The site's page as one file.
pub const ONE_FILE: &str = "evenkeel.html";

/// Builds the site and returns its folder.
pub fn dist() -> Result<PathBuf, Failure> {
    let (modules, target) = (wasm::build()?, checkout::target()?);
    let programs = target.join("programs");
    empty(&programs)?;
    for program in wasm::PROGRAMS {
        bindings::write(&modules.join(program).with_extension("wasm"), program, &programs)?;
    }
    let parts = Parts::read(&programs)?;
    let site = target.join("dist");
    empty(&site)?;
    for (path, bytes) in hosted::lay(&parts)? {
        write(&site.join(path), &bytes)?;
    }
    write(&site.join(ONE_FILE), single::page(&parts)?.as_bytes())?;
    Ok(site)
}

fn empty(folder: &Path) -> Result<(), Failure> {
    if folder.exists() {
        fs::remove_dir_all(folder).map_err(|error| cannot("be emptied", folder, &error))?;
    }
    fs::create_dir_all(folder).map_err(|error| cannot("be made", folder, &error))
}

fn write(file: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let folder = file.parent().unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(|error| cannot("be made", folder, &error))?;
    fs::write(file, bytes).map_err(|error| cannot("be written", file, &error))
}

/// What could not be done with a file.
pub fn cannot(what: &str, path: &Path, error: &std::io::Error) -> Failure {
    format!("{} cannot {what}: {error}", path.display())
}
