//! Builds the site and serves it on this machine.

use std::io::ErrorKind;

use xtask::site::Site;

use crate::{Failure, dist};

const FIRST_PORT: u16 = 8000;
const PORTS_TO_TRY: u16 = 100;

/// Serves on the port given, else on the first free one from 8000.
pub fn serve(port: Option<u16>) -> Result<(), Failure> {
    let folder = dist::dist()?;
    let ports = port.map_or(FIRST_PORT..FIRST_PORT + PORTS_TO_TRY, |port| port..port.saturating_add(1));
    for port in ports.clone() {
        match Site::start(&folder, "/", port) {
            Ok(site) => {
                println!("Evenkeel is at {} (Ctrl+C ends it)", site.url());
                site.serve_forever();
                return Ok(());
            }
            Err(error) if error.kind() == ErrorKind::AddrInUse => {}
            Err(error) => return Err(format!("port {port} cannot be served: {error}")),
        }
    }
    Err(format!("port {} is taken: give another with `--port N`", ports.start))
}
