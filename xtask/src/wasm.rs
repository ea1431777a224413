//! Finds, or installs, a way to build for `wasm32-unknown-unknown`, and builds the app with it.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::program::{find, output, run};
use crate::{Failure, apt, checkout};

const TARGET: &str = "wasm32-unknown-unknown";
/// Debian's compiler, the source of its standard library, and a linker, kept in step by its security suite.
const DEBIAN_PACKAGES: [&str; 3] = ["rustc-web", "rust-web-src", "lld-19"];
/// Every current browser has SIMD. Leptos with erased view types builds in a fraction of the time, and smaller.
const RUSTFLAGS: &str = "-Ctarget-feature=+simd128 --cfg=erase_components";
const DEBIAN_RUSTC: &str = "/usr/bin/rustc";
const DEBIAN_LINKER: &str = "/usr/bin/wasm-ld-19";

/// Who supplies the standard library.
enum Way {
    /// The compiler in use has it.
    Ready,
    /// Debian's compiler builds it from Debian's source.
    Debian,
}

/// The app's programs.
pub const PROGRAMS: [&str; 3] = ["page", "worker", "seal"];

/// Builds the app; returns the folder of its modules before bindings.
pub fn build() -> Result<PathBuf, Failure> {
    let way = find_way()?;
    let build = |words: &[&str], last: &[&str]| {
        let mut cargo = checkout::cargo();
        cargo.args(words).args(["--locked", "--profile", "web", "--target", TARGET]);
        cargo.env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS", RUSTFLAGS);
        if let Way::Debian = way {
            cargo.arg("-Zbuild-std=std,panic_abort");
            cargo.env("RUSTC", DEBIAN_RUSTC);
            // Building the standard library is a nightly feature of cargo.
            cargo.env("RUSTC_BOOTSTRAP", "1");
            cargo.env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", DEBIAN_LINKER);
        }
        run(cargo.args(last))
    };
    for program in ["page", "worker"] {
        // Only what links a whole program turns loops into SIMD, and only if it is not to make it small. What is in
        // it stays as small, or as fast, as its own package's profile says.
        let rustc = ["rustc", "--package", "evenkeel-app", "--bin", program];
        build(&rustc, &["--", "-Copt-level=3"])?;
    }
    // Beside the app, or what they share would be built once more.
    build(&["build", "--package", "evenkeel-app", "--package", "evenkeel-seal", "--bin", "seal"], &[])?;
    Ok(checkout::target()?.join(TARGET).join("web"))
}

fn find_way() -> Result<Way, Failure> {
    if target_is_there() {
        return Ok(Way::Ready);
    }
    let rustup = if rustup_may_download(std::env::var("RUSTUP_AUTO_INSTALL").ok().as_deref()) {
        add_by_rustup()
    } else {
        Err("RUSTUP_AUTO_INSTALL=0 forbids rustup to download it".to_owned())
    };
    let Err(no_rustup) = rustup else { return Ok(Way::Ready) };
    if !apt::installed(&DEBIAN_PACKAGES) {
        apt::install(&DEBIAN_PACKAGES).map_err(|no_apt| missing(&no_rustup, &no_apt))?;
    }
    for file in [DEBIAN_RUSTC, DEBIAN_LINKER] {
        if !Path::new(file).exists() {
            return Err(missing(&no_rustup, &format!("Debian's packages brought no {file}")));
        }
    }
    Ok(Way::Debian)
}

fn target_is_there() -> bool {
    output(checkout::rustc().args(["--print", "sysroot"]))
        .is_some_and(|sysroot| Path::new(&sysroot).join("lib/rustlib").join(TARGET).is_dir())
}

fn rustup_may_download(auto_install: Option<&str>) -> bool {
    auto_install != Some("0")
}

fn add_by_rustup() -> Result<(), Failure> {
    if find("rustup").is_none() {
        return Err("there is no rustup".to_owned());
    }
    run(Command::new("rustup").args(["target", "add", TARGET]).current_dir(checkout::root()))?;
    if target_is_there() { Ok(()) } else { Err("rustup added it to another compiler".to_owned()) }
}

fn missing(no_rustup: &str, no_apt: &str) -> Failure {
    format!(
        "Rust's standard library for {TARGET} is missing ({no_rustup}; {no_apt}): run `rustup target add {TARGET}`, \
         or on Debian `apt-get install {}`, and try again.",
        DEBIAN_PACKAGES.join(" ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rustup_downloads_nothing_where_it_is_told_not_to() {
        assert!(!rustup_may_download(Some("0")));
        assert!(rustup_may_download(Some("1")));
        assert!(rustup_may_download(None));
    }
}
