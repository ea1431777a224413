//! The peers, in a page of their own on a loopback site of the same kind.

use std::path::{Path, PathBuf};

use evenkeel_tests::browser::Browser;
use serde::Deserialize;
use serde_json::{Value, json};

use super::app::WINDOW;

/// Where the libraries are in the folder that they are installed in.
const LIBRARIES: [&str; 3] =
    ["udsv/dist/uDSV.iife.min.js", "papaparse/papaparse.min.js", "uplot/dist/uPlot.iife.min.js"];
const STYLE: &str = "uplot/dist/uPlot.min.css";

/// A browser on the peers' page, with a log chosen.
pub struct Peers {
    pub browser: Browser,
}

/// uDSV's milliseconds: cold with reading, and warm with the text in hand.
#[derive(Clone, Debug, Deserialize)]
pub struct Udsv {
    pub cold: f64,
    pub warm: Vec<f64>,
    pub rows: usize,
    pub columns: usize,
}

impl Peers {
    /// `None` where the libraries are not installed.
    pub fn open(log: &Path) -> Option<Self> {
        let folder = PathBuf::from(std::env::var_os("EVENKEEL_PEERS")?);
        let installed = |file: &str| {
            let path = folder.join("node_modules").join(file);
            std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
        };
        let own = [include_str!("frames.js"), include_str!("peers.js")].map(str::to_owned);
        let scripts = LIBRARIES.map(installed).into_iter().chain(own);
        let mut page = format!("{}<style>{}</style>\n", include_str!("peers.html"), installed(STYLE));
        page.extend(scripts.map(|script| format!("<script>{script}</script>\n")));
        std::fs::write(folder.join("peers.html"), page).unwrap();
        let browser = Browser::on_folder(&folder);
        browser.open("peers.html", WINDOW.0, WINDOW.1, false);
        browser.upload("#file", &[log]);
        Some(Self { browser })
    }

    pub fn udsv(&self, rounds: usize) -> Udsv {
        self.ask("return peers.parseUdsv(...arguments);", vec![json!(rounds)])
    }

    /// PapaParse's milliseconds, text in hand.
    pub fn papa(&self, rounds: usize) -> Vec<f64> {
        #[derive(Deserialize)]
        struct Papa {
            warm: Vec<f64>,
        }
        self.ask::<Papa>("return peers.parsePapa(...arguments);", vec![json!(rounds)]).warm
    }

    pub fn ask<T: for<'a> Deserialize<'a>>(&self, script: &str, arguments: Vec<Value>) -> T {
        serde_json::from_value(self.browser.run_long(script, arguments)).unwrap()
    }
}
