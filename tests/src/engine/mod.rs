//! Other engines than Chromium, driven by scripts alone: Firefox by WebDriver BiDi, WebKitGTK (which is near to Safari,
//! not Safari) by its WebDriver.

mod firefox;
mod socket;
mod webkit;

use std::process::Child;
use std::time::{Duration, Instant};

use serde_json::Value;

use firefox::Firefox;
use webkit::WebKit;

/// How long a page may take to show what is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// One window of an engine, with a profile of its own.
pub enum Engine {
    /// Firefox.
    Firefox(Firefox),
    /// WebKitGTK.
    WebKit(WebKit),
}

impl Engine {
    /// The one in `EVENKEEL_FIREFOX`.
    pub fn firefox() -> Self {
        Self::Firefox(Firefox::start())
    }

    /// The one of `EVENKEEL_WEBKIT_DRIVER`, on a screen of its own by `Xvfb`.
    pub fn webkit() -> Self {
        Self::WebKit(WebKit::start())
    }

    /// Opens an address, and waits until it has loaded.
    pub fn open(&mut self, url: &str) {
        match self {
            Self::Firefox(firefox) => firefox.open(url),
            Self::WebKit(webkit) => webkit.open(url),
        }
    }

    /// Runs the body of an asynchronous function in the page, and gives what it returns.
    pub fn run(&mut self, script: &str) -> Value {
        match self {
            Self::Firefox(firefox) => firefox.run(script),
            Self::WebKit(webkit) => webkit.run(script),
        }
    }

    /// Waits until an expression holds.
    pub fn wait_for(&mut self, expression: &str) {
        let start = Instant::now();
        while self.run(&format!("return Boolean({expression});")) != true {
            if start.elapsed() > PATIENCE {
                let shown = self.run("return document.body.innerText.slice(0, 2000);");
                panic!("never: {expression}\nthe page shows {shown}");
            }
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

/// A program that ends with its test.
struct Ended(Child);

impl Drop for Ended {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
