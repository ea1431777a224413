//! The site for a host: every file but the page and its service worker has its content in its name.

use std::collections::BTreeMap;

use xtask::digest::{integrity, named, short};

use crate::Failure;
use crate::parts::{MANIFEST, PAGE, Parts, SERVICE_WORKER, is_deflated};

/// Paths below the site's folder, and what is there.
pub fn lay(parts: &Parts) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
    let mut addresses = BTreeMap::new();
    let mut site = BTreeMap::new();
    let mut put = |name: &str, bytes: Vec<u8>, addresses: &mut BTreeMap<String, String>| {
        let path = named(name, &bytes) + if is_deflated(name) { ".deflated" } else { "" };
        addresses.insert(name.to_owned(), path.clone());
        site.insert(path, bytes);
    };
    for (name, bytes) in &parts.0 {
        if ![PAGE, SERVICE_WORKER, MANIFEST].contains(&name.as_str()) {
            put(name, bytes.clone(), &mut addresses);
        }
    }
    put(MANIFEST, addressed(parts.text(MANIFEST)?, &addresses).into_bytes(), &mut addresses);
    let page = page(parts.text(PAGE)?, &addresses)?;
    let kept: Vec<(&str, String)> = std::iter::once(("./", integrity(page.as_bytes())))
        .chain(site.iter().map(|(path, bytes)| (path.as_str(), integrity(bytes))))
        .collect();
    let service_worker = service_worker(parts.text(SERVICE_WORKER)?, &kept);
    site.insert(PAGE.to_owned(), page.into_bytes());
    site.insert(SERVICE_WORKER.to_owned(), service_worker.into_bytes());
    Ok(site)
}

/// A text with every name that stands in quotes replaced by its address.
fn addressed(text: &str, addresses: &BTreeMap<String, String>) -> String {
    addresses.iter().fold(text.to_owned(), |text, (name, address)| {
        text.replace(&format!("\"{name}\""), &format!("\"{address}\""))
    })
}

/// The page, with the addresses that its script looks up.
fn page(text: &str, addresses: &BTreeMap<String, String>) -> Result<String, Failure> {
    let pairs: Vec<String> =
        addresses.iter().map(|(name, address)| format!("\"{name}\":\"{address}\"")).collect();
    let block = format!(
        "<script type=\"application/json\" data-file=\"addresses\">{{{}}}</script>\n</head>",
        pairs.join(",")
    );
    let text = addressed(text, addresses);
    if text.matches("</head>").count() != 1 {
        return Err(format!("{PAGE} must have one </head>"));
    }
    Ok(text.replace("</head>", &block))
}

fn service_worker(script: &str, kept: &[(&str, String)]) -> String {
    let files: Vec<String> =
        kept.iter().map(|(path, integrity)| format!("  [\"{path}\", \"{integrity}\"],\n")).collect();
    let files = files.concat();
    let version = short(files.as_bytes());
    format!("\"use strict\";\nconst VERSION = \"{version}\";\nconst FILES = [\n{files}];\n{script}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(style: &str) -> Parts {
        let part = |(name, text): (&str, &str)| (name.to_owned(), text.as_bytes().to_vec());
        let page = "<head><link href=\"a/b.css\"><link href=\"manifest.webmanifest\"></head>";
        let all = [
            (PAGE, page),
            (SERVICE_WORKER, "onfetch = 0;"),
            (MANIFEST, "{\"src\": \"a/b.css\"}"),
            ("a/b.css", style),
        ];
        Parts(all.map(part).into())
    }

    fn text(site: &BTreeMap<String, Vec<u8>>, path: &str) -> String {
        String::from_utf8(site[path].clone()).unwrap()
    }

    #[test]
    fn every_reference_leads_to_a_file_and_every_file_is_kept() {
        let site = lay(&parts("p {}")).unwrap();
        let style = named("a/b.css", b"p {}");
        let manifest = site.keys().find(|path| path.starts_with("manifest-")).unwrap();
        let page = text(&site, PAGE);
        assert!(
            page.starts_with(&format!("<head><link href=\"{style}\"><link href=\"{manifest}\">")),
            "{page}"
        );
        assert!(page.contains(&format!("\"a/b.css\":\"{style}\"")), "{page}");
        assert_eq!(text(&site, manifest), format!("{{\"src\": \"{style}\"}}"));
        let worker = text(&site, SERVICE_WORKER);
        for path in site.keys().filter(|path| ![PAGE, SERVICE_WORKER].contains(&path.as_str())) {
            assert!(worker.contains(&format!("[\"{path}\", \"{}\"]", integrity(&site[path]))), "{worker}");
        }
        assert!(worker.contains(&format!("[\"./\", \"{}\"]", integrity(page.as_bytes()))), "{worker}");
    }

    #[test]
    fn another_content_is_another_version() {
        let version =
            |style| text(&lay(&parts(style)).unwrap(), SERVICE_WORKER).lines().nth(1).map(str::to_owned);
        assert_eq!(version("p {}"), version("p {}"));
        assert_ne!(version("p {}"), version("q {}"));
    }
}
