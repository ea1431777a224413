//! The static site: works from any host and any path.

use std::fs;
use std::path::{Path, PathBuf};

use crate::{Failure, bindings, checkout, wasm};

/// Files and folders of the checkout, and where the site has them.
const AS_THEY_ARE: [(&str, &str); 4] = [
    ("index.html", "index.html"),
    ("app/boot.js", "boot.js"),
    ("style", "style"),
    ("demo-data/harrowdean", "demo-data/harrowdean"),
];

/// Builds the site and returns its folder.
pub fn dist() -> Result<PathBuf, Failure> {
    let modules = wasm::build()?;
    let site = checkout::target()?.join("dist");
    lay(&modules, &site)?;
    Ok(site)
}

fn lay(modules: &Path, site: &Path) -> Result<(), Failure> {
    if site.exists() {
        fs::remove_dir_all(site).map_err(|error| cannot("be emptied", site, &error))?;
    }
    fs::create_dir_all(site).map_err(|error| cannot("be made", site, &error))?;
    for program in wasm::PROGRAMS {
        bindings::write(&modules.join(program).with_extension("wasm"), program, site)?;
    }
    let root = checkout::root();
    AS_THEY_ARE.iter().try_for_each(|(from, to)| copy(&root.join(from), &site.join(to)))?;
    Ok(())
}

fn copy(from: &Path, to: &Path) -> Result<(), Failure> {
    if from.is_dir() {
        fs::create_dir_all(to).map_err(|error| cannot("be made", to, &error))?;
        let entries = fs::read_dir(from).map_err(|error| cannot("be read", from, &error))?;
        for entry in entries {
            let name = entry.map_err(|error| cannot("be read", from, &error))?.file_name();
            copy(&from.join(&name), &to.join(&name))?;
        }
        Ok(())
    } else {
        fs::copy(from, to).map(drop).map_err(|error| cannot("be copied", from, &error))
    }
}

fn cannot(what: &str, path: &Path, error: &std::io::Error) -> Failure {
    format!("{} cannot {what}: {error}", path.display())
}
