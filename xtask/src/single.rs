//! The whole page as one HTML file, which asks for nothing: it opens from a disk by a double click.

use std::fmt::Write;

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use xtask::digest::integrity;

use crate::parts::{PAGE, Parts, deflated, is_deflated};
use crate::{Failure, wasm};

/// Tags of the page that name another file, and what a browser does about each.
const SCRIPT: [&str; 2] = ["<script defer src=\"", "\"></script>"];
const STYLE: [&str; 2] = ["<link rel=\"stylesheet\" href=\"", "\">"];
const ICON: [&str; 2] = ["<link rel=\"icon\" href=\"", "\" type=\"image/svg+xml\">"];
const POLICY: [&str; 2] = ["<meta http-equiv=\"Content-Security-Policy\" content=\"", "\">"];

/// The page, with everything in it.
pub fn page(parts: &Parts) -> Result<String, Failure> {
    let (mut head, mut scripts, mut blocks) = (String::new(), String::new(), String::new());
    let mut digests = Digests::default();
    let text = parts.text(PAGE)?;
    let (before, body) = text.split_once("<body>").ok_or_else(|| format!("{PAGE} must have a <body>"))?;
    let mut named = Vec::new();
    for line in before.lines() {
        if let Some(name) = within(line, SCRIPT) {
            let script = plain(name, parts.text(name)?)?;
            digests.scripts.push(integrity(script.as_bytes()));
            _ = writeln!(scripts, "<script>{script}</script>");
            named.push(name);
        } else if let Some(name) = within(line, STYLE) {
            let style = plain(name, parts.text(name)?)?;
            digests.styles.push(integrity(style.as_bytes()));
            _ = writeln!(head, "<style>{style}</style>");
        } else if let Some(name) = within(line, ICON) {
            let icon = BASE64_STANDARD.encode(parts.bytes(name)?);
            _ = writeln!(head, "{}data:image/svg+xml;base64,{icon}{}", ICON[0], ICON[1]);
        } else if line.starts_with("<link ") {
            // What only an address can have: it is not installed.
        } else {
            _ = writeln!(head, "{line}");
        }
    }
    for (name, bytes) in &parts.0 {
        if named.contains(&name.as_str()) {
        } else if name.ends_with(".wasm") {
            block(&mut blocks, name, &BASE64_STANDARD.encode(deflated(bytes)?));
        } else if is_deflated(name) {
            block(&mut blocks, name, &BASE64_STANDARD.encode(bytes));
        } else if name.strip_suffix(".js").is_some_and(|program| wasm::PROGRAMS.contains(&program)) {
            block(&mut blocks, name, plain(name, parts.text(name)?)?);
        }
    }
    let hosted = within_text(&head, POLICY).ok_or_else(|| format!("{PAGE} must have a policy"))?.to_owned();
    let head = head.replace(&hosted, &digests.policy(&hosted));
    let body = body.replace("</body>", &format!("{blocks}{scripts}</body>"));
    Ok(format!("{head}<body>{body}"))
}

/// What the policy lets in by its digest alone.
#[derive(Default)]
struct Digests {
    scripts: Vec<String>,
    styles: Vec<String>,
}

impl Digests {
    /// The hosted page's policy with nothing in it that another file could satisfy.
    fn policy(&self, hosted: &str) -> String {
        let directive = |directive: &str| {
            let mut words = directive.split_whitespace();
            let name = words.next()?;
            let digests = match name {
                "script-src" => self.scripts.as_slice(),
                "style-src" => &self.styles,
                _ => &[],
            };
            let digests = digests.iter().map(|digest| format!("'{digest}'"));
            let rest = words.filter(|word| *word != "'self'").map(str::to_owned);
            let sources: Vec<String> = digests.chain(rest).collect();
            (!sources.is_empty()).then(|| format!("{name} {}", sources.join(" ")))
        };
        hosted.split(';').filter_map(directive).collect::<Vec<_>>().join("; ")
    }
}

/// A block of data, which no browser runs.
fn block(blocks: &mut String, name: &str, text: &str) {
    _ = writeln!(blocks, "<script type=\"text/plain\" data-file=\"{name}\">{text}</script>");
}

/// A script or style as it may stand in a page: nothing in it ends it, and a parser changes nothing of it.
fn plain<'a>(name: &str, text: &'a str) -> Result<&'a str, Failure> {
    let lower = text.to_lowercase();
    match ["</script", "</style", "<!--", "\r"].into_iter().find(|words| lower.contains(words)) {
        Some(words) => Err(format!("{name} cannot stand in a page: it has {words:?}")),
        None => Ok(text),
    }
}

fn within<'a>(line: &'a str, [before, after]: [&str; 2]) -> Option<&'a str> {
    line.strip_prefix(before)?.strip_suffix(after)
}

fn within_text<'a>(text: &'a str, between: [&str; 2]) -> Option<&'a str> {
    text.lines().find_map(|line| within(line, between))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_policy_lets_in_what_has_its_digest_and_nothing_by_its_place() {
        let digests = Digests { scripts: vec!["sha256-a".to_owned()], styles: vec!["sha256-b".to_owned()] };
        let hosted = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self' blob:; \
            style-src 'self'; connect-src 'self'; base-uri 'none'";
        let single = "default-src 'none'; script-src 'sha256-a' 'wasm-unsafe-eval'; worker-src blob:; \
            style-src 'sha256-b'; base-uri 'none'";
        assert_eq!(digests.policy(hosted), single);
    }

    #[test]
    fn what_would_end_a_script_is_refused() {
        assert!(plain("a.js", "const a = '</SCRIPT>';").is_err());
        assert_eq!(plain("a.js", "1 < 2;"), Ok("1 < 2;"));
    }
}
