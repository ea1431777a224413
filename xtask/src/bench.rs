//! Times ours beside its peers, in one run on one machine.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use crate::program::{find, run};
use crate::{Failure, browser, checkout, dist, python};

/// The bench that needs a browser.
const PAGE: &str = "page";

/// Every bench, or the one named first with only those of its parts that are named after it; each prints its ratios.
pub fn bench(names: &[&str]) -> Result<(), Failure> {
    let mut cargo = checkout::cargo();
    cargo.args(["bench", "--locked", "--package", "evenkeel-tests"]);
    let (bench, parts) = names.split_first().map_or((None, names), |(bench, parts)| (Some(*bench), parts));
    match bench {
        Some(bench) => cargo.args(["--bench", bench, "--"]).args(parts),
        None => cargo.arg("--benches"),
    };
    if bench != Some(PAGE) {
        cargo.env("EVENKEEL_PYTHON", python::set_up()?);
    }
    if bench.is_none_or(|bench| bench == PAGE) {
        let pair = browser::set_up()?;
        cargo.env("EVENKEEL_SITE", dist::dist()?);
        cargo.env("EVENKEEL_CHROME", pair.browser).env("EVENKEEL_CHROMEDRIVER", pair.driver);
        match peers() {
            Ok(folder) => {
                cargo.env("EVENKEEL_PEERS", folder);
            }
            Err(why) => println!("The page is measured without its peers: {why}."),
        }
    }
    run(&mut cargo)
}

/// The folder of the libraries that the page is measured beside, from npm, in the versions of their `package.json`.
fn peers() -> Result<PathBuf, Failure> {
    let npm = find("npm").ok_or("there is no npm, which installs them; install Node and run it again")?;
    let wanted = checkout::root().join("tests/benches/page/package.json");
    let text = fs::read_to_string(&wanted)
        .map_err(|error| format!("{} cannot be read: {error}", wanted.display()))?;
    let folder = checkout::target()?.join("bench-peers");
    let there = folder.join("node_modules");
    let complete = there.join("complete");
    if fs::read_to_string(&complete).is_ok_and(|installed| installed == text) {
        return Ok(folder);
    }
    let cannot = |error| format!("{} cannot be written: {error}", folder.display());
    fs::create_dir_all(&folder).map_err(cannot)?;
    fs::write(folder.join("package.json"), &text).map_err(cannot)?;
    let quiet = ["install", "--ignore-scripts", "--no-package-lock", "--no-audit", "--no-fund"];
    run(Command::new(npm).args(quiet).current_dir(&folder))?;
    // Written last, so that what was cut off is installed again.
    fs::write(complete, text).map_err(cannot)?;
    Ok(folder)
}
