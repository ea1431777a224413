//! Where the project's files are, and its cargo.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::Failure;

/// The folder of the workspace.
pub fn root() -> PathBuf {
    let xtask = std::env::var_os("CARGO_MANIFEST_DIR").unwrap_or_else(|| env!("CARGO_MANIFEST_DIR").into());
    Path::new(&xtask).join("..").components().collect()
}

/// Cargo's target folder, wherever the person's settings put it: this program lies in `<target>/<profile>/`.
pub fn target() -> Result<PathBuf, Failure> {
    let program =
        std::env::current_exe().map_err(|error| format!("this program cannot find itself: {error}"))?;
    let target = program.ancestors().nth(2).ok_or("this program must be started by `cargo xtask`")?;
    Ok(target.to_path_buf())
}

/// Cargo in the workspace, free of inherited settings that would rebuild everything with other flags.
pub fn cargo() -> Command {
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    cargo.current_dir(root());
    if let Ok(target) = target() {
        cargo.env("CARGO_TARGET_DIR", target);
    }
    for inherited in ["RUSTC", "RUSTFLAGS", "CARGO_ENCODED_RUSTFLAGS"] {
        cargo.env_remove(inherited);
    }
    cargo
}

/// `rustc` as that cargo uses it.
pub fn rustc() -> Command {
    let mut rustc = Command::new("rustc");
    rustc.current_dir(root());
    rustc
}

/// The version of a package in `Cargo.lock`.
pub fn locked_version(package: &str) -> Result<String, Failure> {
    let path = root().join("Cargo.lock");
    let lock = std::fs::read_to_string(&path)
        .map_err(|error| format!("{} cannot be read: {error}", path.display()))?;
    version_in(&lock, package).ok_or_else(|| format!("Cargo.lock has no package {package}"))
}

fn version_in(lock: &str, package: &str) -> Option<String> {
    let name = format!("name = \"{package}\"");
    let mut lines = lock.lines().skip_while(|line| *line != name).skip(1);
    let version = lines.next()?.strip_prefix("version = \"")?.strip_suffix('"')?;
    Some(version.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_the_version_of_the_very_package() {
        let lock = "[[package]]\nname = \"a-b\"\nversion = \"1.0.0\"\n\n[[package]]\nname = \"a\"\nversion = \"2.0.1\"\n";
        assert_eq!(version_in(lock, "a").as_deref(), Some("2.0.1"));
        assert_eq!(version_in(lock, "b"), None);
    }

    #[test]
    fn the_bindings_library_matches_the_bindings() {
        assert_eq!(locked_version("wasm-bindgen"), locked_version("wasm-bindgen-cli-support"));
    }
}
