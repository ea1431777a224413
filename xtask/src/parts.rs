//! The files that a site is made of, each by the name that it has in the sources.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;

use flate2::Compression;
use flate2::write::DeflateEncoder;

use crate::dist::cannot;
use crate::{Failure, checkout};

/// The page that names the others.
pub const PAGE: &str = "index.html";
/// The script that keeps them for want of a network.
pub const SERVICE_WORKER: &str = "service-worker.js";
/// What an installed app is called and looks like.
pub const MANIFEST: &str = "manifest.webmanifest";
/// Its files are fetched as they are needed, by the page, and deflated: any host sends them as small as they are.
const DEMO: &str = "demo-data/harrowdean";

/// Files and folders of the checkout, and what the page calls them.
const AS_THEY_ARE: [(&str, &str); 8] = [
    (PAGE, PAGE),
    ("app/boot.js", "boot.js"),
    ("app/offline.js", "offline.js"),
    ("app/picture.js", "picture.js"),
    ("app/service-worker.js", SERVICE_WORKER),
    ("app/manifest.webmanifest", MANIFEST),
    ("style", "style"),
    (DEMO, DEMO),
];

/// All of them, in the order of their names.
pub struct Parts(pub BTreeMap<String, Vec<u8>>);

impl Parts {
    /// Those of the checkout, and the programs in a folder.
    pub fn read(programs: &Path) -> Result<Self, Failure> {
        let mut parts = Self(BTreeMap::new());
        parts.add(programs, "")?;
        let root = checkout::root();
        AS_THEY_ARE.iter().try_for_each(|(from, name)| parts.add(&root.join(from), name))?;
        Ok(parts)
    }

    fn add(&mut self, from: &Path, name: &str) -> Result<(), Failure> {
        if from.is_dir() {
            for entry in fs::read_dir(from).map_err(|error| cannot("be read", from, &error))? {
                let entry = entry.map_err(|error| cannot("be read", from, &error))?.file_name();
                let below = entry.to_string_lossy();
                let name = if name.is_empty() { below.into_owned() } else { format!("{name}/{below}") };
                self.add(&from.join(&entry), &name)?;
            }
            return Ok(());
        }
        let bytes = fs::read(from).map_err(|error| cannot("be read", from, &error))?;
        let bytes = if is_deflated(name) { deflated(&bytes)? } else { bytes };
        self.0.insert(name.to_owned(), bytes);
        Ok(())
    }

    /// A part by its name.
    pub fn bytes(&self, name: &str) -> Result<&[u8], Failure> {
        self.0.get(name).map(Vec::as_slice).ok_or_else(|| format!("the site has no {name}"))
    }

    /// A part that is text.
    pub fn text(&self, name: &str) -> Result<&str, Failure> {
        std::str::from_utf8(self.bytes(name)?).map_err(|error| format!("{name} is no UTF-8: {error}"))
    }
}

/// Whether a part is deflated already.
pub fn is_deflated(name: &str) -> bool {
    name.starts_with(DEMO)
}

/// As `DecompressionStream("deflate-raw")` opens it (RFC 1951).
pub fn deflated(bytes: &[u8]) -> Result<Vec<u8>, Failure> {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    encoder
        .write_all(bytes)
        .and_then(|()| encoder.finish())
        .map_err(|error| format!("something cannot be deflated: {error}"))
}
