//! The other engines for the tests: Firefox, and WebKitGTK with a screen that nobody sees.

use std::path::{Path, PathBuf};

use crate::program::find;
use crate::{Failure, apt};

const FIREFOXES: [&str; 2] = ["firefox-esr", "firefox"];
const FIREFOX_PLACES: [&str; 2] =
    ["/Applications/Firefox.app/Contents/MacOS/firefox", r"C:\Program Files\Mozilla Firefox\firefox.exe"];
const WEBKIT_DRIVER: &str = "WebKitWebDriver";
const SCREEN: &str = "Xvfb";

/// What a test of an engine is told, and the start of the names of its tests.
pub struct Engine {
    pub name: &'static str,
    pub variable: &'static str,
    pub tests: &'static str,
    /// Its program, or why there is none: not every system has every engine.
    pub program: Result<PathBuf, Failure>,
}

/// Finds them, or installs what is missing.
pub fn set_up() -> [Engine; 2] {
    [
        Engine {
            name: "Firefox",
            variable: "EVENKEEL_FIREFOX",
            tests: "firefox_",
            program: found(firefox, &["firefox-esr"]),
        },
        Engine {
            name: "WebKitGTK",
            variable: "EVENKEEL_WEBKIT_DRIVER",
            tests: "webkit_",
            program: found(webkit, &["webkit2gtk-driver", "xvfb"]),
        },
    ]
}

fn found(look: impl Fn() -> Option<PathBuf>, packages: &[&str]) -> Result<PathBuf, Failure> {
    if let Some(program) = look() {
        return Ok(program);
    }
    apt::install(packages)?;
    look().ok_or_else(|| format!("{} brought no program that is on PATH", packages.join(", ")))
}

fn firefox() -> Option<PathBuf> {
    std::env::var_os("EVENKEEL_FIREFOX")
        .map(PathBuf::from)
        .or_else(|| FIREFOXES.into_iter().find_map(find))
        .or_else(|| FIREFOX_PLACES.into_iter().map(PathBuf::from).find(|path| Path::is_file(path)))
}

fn webkit() -> Option<PathBuf> {
    find(SCREEN)?;
    std::env::var_os("EVENKEEL_WEBKIT_DRIVER").map(PathBuf::from).or_else(|| find(WEBKIT_DRIVER))
}
