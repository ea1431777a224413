//! Firefox by WebDriver BiDi.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use super::Ended;
use super::socket::Socket;
use crate::browser::{Elsewhere, new_folder};

/// Firefox, until it is dropped.
pub struct Firefox {
    socket: Socket,
    last: u64,
    window: String,
    _process: Ended,
    _elsewhere: Elsewhere,
    profile: PathBuf,
}

impl Firefox {
    pub(super) fn start() -> Self {
        let program =
            std::env::var("EVENKEEL_FIREFOX").expect("EVENKEEL_FIREFOX is not set: run `cargo xtask test`");
        let (profile, elsewhere) = (new_folder("firefox"), Elsewhere::listen());
        std::fs::write(profile.join("user.js"), preferences(&elsewhere)).unwrap();
        let mut child = Command::new(&program)
            .args(["--headless", "--no-remote", "--remote-debugging-port", "0", "--profile"])
            .arg(&profile)
            .env("HOME", &profile)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap_or_else(|error| panic!("{program} does not start: {error}"));
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let process = Ended(child);
        let port = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("WebDriver BiDi listening on ws://127.0.0.1:")?.parse().ok());
        // Its pipe must not fill up.
        std::thread::spawn(move || lines.for_each(drop));
        let socket = Socket::open(port.unwrap_or_else(|| panic!("{program} named no port")), "/session");
        let mut firefox = Self {
            socket,
            last: 0,
            window: String::new(),
            _process: process,
            _elsewhere: elsewhere,
            profile,
        };
        firefox.ask("session.new", json!({ "capabilities": {} }));
        let tree = firefox.ask("browsingContext.getTree", json!({}));
        firefox.window = tree["contexts"][0]["context"].as_str().expect("no window").to_owned();
        firefox
    }

    pub(super) fn open(&mut self, url: &str) {
        self.ask(
            "browsingContext.navigate",
            json!({ "context": self.window, "url": url, "wait": "complete" }),
        );
    }

    pub(super) fn run(&mut self, script: &str) -> Value {
        let expression =
            format!("(async () => {{ {script} }})().then((value) => JSON.stringify(value ?? null))");
        let answer = self.ask(
            "script.evaluate",
            json!({ "expression": expression, "awaitPromise": true, "target": { "context": self.window } }),
        );
        let text = answer["result"]["value"].as_str().unwrap_or_else(|| panic!("{script}\nfailed: {answer}"));
        serde_json::from_str(text).unwrap()
    }

    fn ask(&mut self, method: &str, parameters: Value) -> Value {
        self.last += 1;
        self.socket.send(&json!({ "id": self.last, "method": method, "params": parameters }).to_string());
        loop {
            let mut answer: Value = serde_json::from_str(&self.socket.receive()).unwrap();
            if answer["id"] == self.last {
                assert_eq!(answer["type"], "success", "{method}: {answer}");
                return answer["result"].take();
            }
        }
    }
}

impl Drop for Firefox {
    fn drop(&mut self) {
        let _ = self._process.0.kill();
        let _ = self._process.0.wait();
        let _ = std::fs::remove_dir_all(&self.profile);
    }
}

/// No other machine can be reached, not by Firefox itself either; what it says of the first start is left out.
fn preferences(elsewhere: &Elsewhere) -> String {
    let address = elsewhere.address();
    let (host, port) = (json!(address.ip().to_string()), json!(address.port()));
    [
        ("network.proxy.type", json!(1)),
        ("network.proxy.http", host.clone()),
        ("network.proxy.http_port", port.clone()),
        ("network.proxy.ssl", host),
        ("network.proxy.ssl_port", port),
        ("datareporting.policy.dataSubmissionEnabled", json!(false)),
        ("toolkit.telemetry.enabled", json!(false)),
        ("browser.shell.checkDefaultBrowser", json!(false)),
        ("browser.startup.page", json!(0)),
    ]
    .map(|(name, value)| format!("user_pref(\"{name}\", {value});\n"))
    .concat()
}
