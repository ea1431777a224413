//! Debian's packages, where this machine has them.

use std::process::Command;

use crate::Failure;
use crate::program::{find, output, run};

/// Whether every package is installed.
pub fn installed(packages: &[&str]) -> bool {
    packages.iter().all(|package| {
        output(Command::new("dpkg-query").args(["--show", "--showformat=${db:Status-Status}", package]))
            .is_some_and(|status| status == "installed")
    })
}

/// Installs packages as root, or through `sudo` where it asks for no password.
pub fn install(packages: &[&str]) -> Result<(), Failure> {
    let by_hand = format!("apt-get install {}", packages.join(" "));
    if find("apt-get").is_none() {
        return Err("this system has no apt-get".to_owned());
    }
    let Some(rights) = rights() else {
        return Err(format!("installing needs root: run `sudo {by_hand}`"));
    };
    let apt = |arguments: &[&str]| {
        let mut words = rights.iter().chain(&["apt-get"]).chain(arguments);
        let mut command = Command::new(words.next().unwrap_or(&"apt-get"));
        run(command.args(words).env("DEBIAN_FRONTEND", "noninteractive"))
    };
    let install = [&["install", "--yes", "--quiet", "--no-install-recommends"], packages].concat();
    println!("Installing {}", packages.join(", "));
    // A fresh machine has no package lists, or stale ones that lead to packages too old; without a network the
    // packages may still be at hand.
    let _ = apt(&["update", "--quiet"]);
    apt(&install).map_err(|failure| format!("{failure}: run `{by_hand}` as root to see why"))
}

fn rights() -> Option<&'static [&'static str]> {
    if output(Command::new("id").arg("-u")).as_deref() == Some("0") {
        return Some(&[]);
    }
    output(Command::new("sudo").args(["-n", "true"])).map(|_| ["sudo", "-n"].as_slice())
}
