//! WebKitGTK by its WebDriver, on a screen that nobody sees.

use std::io::{BufRead, BufReader};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;
use thirtyfour::{Capabilities, WebDriver};
use tokio::runtime::{self, Runtime};

use super::Ended;
use crate::browser::new_folder;

/// WebKitGTK, until it is dropped.
pub struct WebKit {
    runtime: Runtime,
    /// Taken only when dropped.
    driver: Option<WebDriver>,
    _process: Ended,
    _screen: Ended,
    home: PathBuf,
}

impl WebKit {
    pub(super) fn start() -> Self {
        let program = std::env::var("EVENKEEL_WEBKIT_DRIVER")
            .expect("EVENKEEL_WEBKIT_DRIVER is not set: run `cargo xtask test`");
        let (screen, display) = screen();
        let home = new_folder("webkit");
        // Free a moment ago; the driver names none of its own choice.
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let process = Command::new(&program)
            .arg(format!("--port={port}"))
            .env("DISPLAY", display)
            .env("HOME", &home)
            .env_remove("WAYLAND_DISPLAY")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|error| panic!("{program} does not start: {error}"));
        let process = Ended(process);
        let start = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(start.elapsed() < Duration::from_secs(20), "{program} does not listen");
            std::thread::sleep(Duration::from_millis(50));
        }
        let runtime = runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let driver = runtime
            .block_on(WebDriver::new(format!("http://127.0.0.1:{port}"), Capabilities::new()))
            .unwrap_or_else(|error| panic!("WebKitGTK does not start: {error}"));
        Self { runtime, driver: Some(driver), _process: process, _screen: screen, home }
    }

    pub(super) fn open(&mut self, url: &str) {
        self.runtime
            .block_on(self.driver().goto(url))
            .unwrap_or_else(|error| panic!("{url} does not load: {error}"));
    }

    pub(super) fn run(&mut self, script: &str) -> Value {
        let script = format!(
            "const told = arguments[0]; (async () => {{ {script} }})().then((value) => told({{ value }}), (error) => told({{ error: String(error) }}));"
        );
        let answer = self.runtime.block_on(self.driver().execute_async(&script, Vec::<Value>::new()));
        let mut answer = answer.unwrap_or_else(|error| panic!("{script}\nfailed: {error}")).json().clone();
        assert!(answer.get("error").is_none(), "{script}\nfailed: {answer}");
        answer["value"].take()
    }

    fn driver(&self) -> &WebDriver {
        self.driver.as_ref().unwrap()
    }
}

impl Drop for WebKit {
    fn drop(&mut self) {
        if let Some(driver) = self.driver.take() {
            let _ = self
                .runtime
                .block_on(async { tokio::time::timeout(Duration::from_secs(10), driver.quit()).await });
        }
        let _ = std::fs::remove_dir_all(&self.home);
    }
}

/// A screen and its name.
fn screen() -> (Ended, String) {
    let mut child = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1440x900x24", "-nolisten", "tcp"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|error| panic!("Xvfb does not start: {error}"));
    let mut number = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut number).unwrap();
    let child = Ended(child);
    assert!(!number.trim().is_empty(), "Xvfb has no screen");
    (child, format!(":{}", number.trim()))
}
