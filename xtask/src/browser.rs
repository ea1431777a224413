//! The browser and its driver for the tests.

use std::path::{Path, PathBuf};

use crate::program::find;
use crate::{Failure, apt};

const BROWSERS: [&str; 5] =
    ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"];
const USUAL_PLACES: [&str; 4] = [
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
];

/// A Chromium and the driver of its version.
pub struct Pair {
    pub browser: PathBuf,
    pub driver: PathBuf,
}

/// Finds the pair: in `EVENKEEL_CHROME` and `EVENKEEL_CHROMEDRIVER`, else in the usual places; else installs it.
pub fn set_up() -> Result<Pair, Failure> {
    if let Some(pair) = here() {
        return Ok(pair);
    }
    apt::install(&["chromium", "chromium-driver"]).map_err(|no_apt| {
        format!(
            "the browser tests need Chromium or Chrome and its chromedriver ({no_apt}): install both, or name them \
             in EVENKEEL_CHROME and EVENKEEL_CHROMEDRIVER"
        )
    })?;
    here().ok_or_else(|| "the browser that was installed is not on PATH".to_owned())
}

fn here() -> Option<Pair> {
    let browser = named("EVENKEEL_CHROME")
        .or_else(|| BROWSERS.into_iter().find_map(find))
        .or_else(|| USUAL_PLACES.into_iter().map(PathBuf::from).find(|path| path.is_file()))?;
    let driver = named("EVENKEEL_CHROMEDRIVER").or_else(|| find("chromedriver")).or_else(|| {
        // Hosted build machines say where theirs is.
        let folder = named("CHROMEWEBDRIVER")?;
        let driver = Path::new(&folder).join(format!("chromedriver{}", std::env::consts::EXE_SUFFIX));
        driver.is_file().then_some(driver)
    })?;
    Some(Pair { browser, driver })
}

fn named(variable: &str) -> Option<PathBuf> {
    std::env::var_os(variable).map(PathBuf::from)
}
