//! The driver's process.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};

pub struct ChromeDriver {
    child: Child,
    port: u16,
}

impl ChromeDriver {
    /// Starts it on a port of its own choice.
    pub fn start() -> Self {
        let program = std::env::var("EVENKEEL_CHROMEDRIVER").unwrap_or_else(|_| "chromedriver".to_owned());
        let mut child = Command::new(&program)
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|error| panic!("{program} does not start: {error}"));
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let port = lines.by_ref().map_while(Result::ok).find_map(|line| port_in(&line));
        // Its pipe must not fill up.
        std::thread::spawn(move || lines.for_each(drop));
        let mut driver = Self { child, port: 0 };
        driver.port = port.unwrap_or_else(|| panic!("{program} named no port"));
        driver
    }

    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }
}

impl Drop for ChromeDriver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A new, empty folder for this process.
pub fn new_folder(name: &str) -> PathBuf {
    static MADE: AtomicUsize = AtomicUsize::new(0);
    let number = MADE.fetch_add(1, Ordering::Relaxed);
    let folder = std::env::temp_dir().join(format!("evenkeel-{name}-{}-{number}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn port_in(line: &str) -> Option<u16> {
    line.rsplit_once("successfully on port ")?.1.trim_end_matches('.').parse().ok()
}

#[test]
fn finds_the_port_in_what_the_driver_prints() {
    assert_eq!(port_in("ChromeDriver was started successfully on port 40123."), Some(40123));
    assert_eq!(port_in("Only local connections are allowed."), None);
}
