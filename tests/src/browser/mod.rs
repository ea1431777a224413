//! A real browser on the built site, driven as a person would: look, click, type, wait.
//!
//! Everything panics with what was expected and what the page's console said: a test stops where it
//! cannot go on, and the processes end with it.

mod acting;
mod elsewhere;
mod evidence;
mod keys;
mod process;
mod seeing;

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::{Value, json};
use thirtyfour::error::WebDriverResult;
use thirtyfour::{
    ChromeCapabilities, ChromiumLikeCapabilities, DesiredCapabilities, LoggingPrefsLogLevel, WebDriver,
    WindowHandle,
};
use tokio::runtime::{self, Runtime};
use xtask::site::Site;

pub(crate) use elsewhere::Elsewhere;
pub use evidence::Message;
use process::ChromeDriver;
pub(crate) use process::new_folder;

/// Where the site is served: below the root, because it must work there too.
const MOUNT: &str = "/some/path/";

/// One browser window with a profile of its own.
pub struct Browser {
    runtime: Runtime,
    /// Taken only when dropped.
    driver: Option<WebDriver>,
    console: RefCell<Vec<Message>>,
    elsewhere: Elsewhere,
    site: Option<Site>,
    /// An empty tab, once one has crashed.
    spare: RefCell<Option<WindowHandle>>,
    profile: PathBuf,
    _process: ChromeDriver,
}

impl Browser {
    /// Starts a browser, and serves the site in `EVENKEEL_SITE` to it.
    pub fn on_site() -> Self {
        let folder = std::env::var_os("EVENKEEL_SITE")
            .expect("EVENKEEL_SITE is not set: run the tests with `cargo xtask test`, which builds the site");
        Self::on_folder(Path::new(&folder))
    }

    /// Starts a browser, and serves a folder to it.
    pub fn on_folder(folder: &Path) -> Self {
        let site = Site::start(folder, MOUNT, 0).unwrap();
        let mut browser = Self::start();
        browser.site = Some(site);
        browser
    }

    /// Ends the site's server: there is no network from now on.
    pub fn without_network(&mut self) {
        self.site = None;
    }

    /// Starts a browser without a site of its own.
    pub fn start() -> Self {
        let process = ChromeDriver::start();
        let elsewhere = Elsewhere::listen();
        let profile = process::new_folder("profile");
        let runtime = runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let capabilities = capabilities(&profile, &elsewhere).unwrap();
        let driver = runtime
            .block_on(WebDriver::new(process.url(), capabilities))
            .unwrap_or_else(|error| panic!("Chromium does not start: {error}"));
        Self {
            runtime,
            driver: Some(driver),
            console: RefCell::default(),
            elsewhere,
            site: None,
            spare: RefCell::default(),
            profile,
            _process: process,
        }
    }

    /// Opens a path of the site, or a whole URL, in a viewport of this size, and waits until it has loaded.
    pub fn open(&self, path: &str, width: u32, height: u32, dark: bool) {
        let url = match &self.site {
            Some(site) if !path.contains("://") => site.url() + path,
            _ => path.to_owned(),
        };
        self.resize(width, height);
        let scheme = if dark { "dark" } else { "light" };
        self.devtools(
            "Emulation.setEmulatedMedia",
            json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] }),
        );
        self.sure(&format!("{url} does not load"), self.driver().goto(url.as_str()));
    }

    /// Gives the viewport another size, in CSS pixels.
    pub fn resize(&self, width: u32, height: u32) {
        self.resize_at(width, height, 1.0);
    }

    /// [`resize`](Self::resize) with so many of the screen's pixels to a CSS pixel.
    pub fn resize_at(&self, width: u32, height: u32, pixel_ratio: f64) {
        self.devtools(
            "Emulation.setDeviceMetricsOverride",
            json!({ "width": width, "height": height, "deviceScaleFactor": pixel_ratio, "mobile": false }),
        );
    }

    /// Runs a script in every page that opens from now on, before anything of its own.
    pub fn run_before_load(&self, script: &str) {
        self.devtools("Page.addScriptToEvaluateOnNewDocument", json!({ "source": script }));
    }

    /// Loads the page again.
    pub fn reload(&self) {
        self.sure("the page does not reload", self.driver().refresh());
    }

    /// Ends the page's process at once, as a crash does, and opens what it showed in another tab.
    pub fn crash(&self) {
        self.sure("no tab takes over from one that crashed", async {
            let driver = self.driver();
            let address = driver.current_url().await?;
            let devtools = driver.cdp();
            let waiting = self.spare.take();
            let other = if let Some(tab) = waiting { tab } else { driver.new_tab().await? };
            let order = devtools.send_raw("Page.crash", json!({}));
            // There is nobody left to answer.
            let _ = tokio::time::timeout(Duration::from_secs(5), order).await;
            driver.switch_to_window(other).await?;
            driver.goto(address.as_str()).await?;
            // The next crash need not wait for a tab to open.
            self.spare.replace(Some(driver.new_tab().await?));
            Ok(())
        });
    }

    /// Sends a command of the Chrome DevTools Protocol.
    pub fn devtools(&self, method: &str, parameters: Value) -> Value {
        self.sure(&format!("{method} failed"), self.driver().cdp().send_raw(method, parameters))
    }

    fn driver(&self) -> &WebDriver {
        self.driver.as_ref().unwrap()
    }

    fn sure<T>(&self, trouble: &str, step: impl Future<Output = WebDriverResult<T>>) -> T {
        match self.runtime.block_on(step) {
            Ok(value) => value,
            Err(error) => self.stop(&format!("{trouble}: {error}")),
        }
    }

    fn stop(&self, trouble: &str) -> ! {
        panic!("{trouble}\nconsole: {:#?}", self.console());
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if let Some(driver) = self.driver.take() {
            // Where it does not answer, its processes end below all the same.
            let _ = self
                .runtime
                .block_on(async { tokio::time::timeout(Duration::from_secs(10), driver.quit()).await });
        }
        let _ = std::fs::remove_dir_all(&self.profile);
    }
}

fn capabilities(profile: &Path, elsewhere: &Elsewhere) -> WebDriverResult<ChromeCapabilities> {
    let mut chrome = DesiredCapabilities::chrome();
    // The driver knows where its browser usually is.
    if let Ok(program) = std::env::var("EVENKEEL_CHROME") {
        chrome.set_binary(&program)?;
    }
    chrome.set_browser_log_level(LoggingPrefsLogLevel::All)?;
    for argument in [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-default-apps",
        "--disable-features=AutofillServerCommunication,OptimizationHints",
        "--hide-scrollbars",
        // The browser ends when its driver does, however that ends.
        "--remote-debugging-pipe",
        &format!("--user-data-dir={}", profile.display()),
        &format!("--proxy-server={}", elsewhere.address()),
    ] {
        chrome.add_arg(argument)?;
    }
    Ok(chrome)
}
