//! The built site in a real browser.

use std::fs;

use evenkeel_tests::browser::Browser;
use serde_json::json;

#[test]
fn the_page_starts_without_an_error() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.wait_for("text=Load the demo day");
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}

/// Tries to run text as a program, and to call another machine; names what worked.
const MISBEHAVE: &str = r#"
    const misbehave = async () => {
        const worked = [];
        try { eval("1"); worked.push("eval"); } catch {}
        try { await fetch("http://elsewhere.example/", { mode: "no-cors" }); worked.push("fetch"); } catch {}
        return worked;
    };"#;
/// From a timer, because a driver's own script is exempt from the policy.
const FROM_PAGE: &str = "return new Promise((done) => setTimeout(() => misbehave().then(done)));";
const FROM_WORKER: &str = r#"
    const program = `const misbehave = ${misbehave}; misbehave().then(postMessage);`;
    const worker = new Worker(URL.createObjectURL(new Blob([program])));
    return new Promise((done) => { worker.onmessage = ({ data }) => done(data); });"#;

/// The policy is the page's, and workers that begin from a blob inherit it (Content Security Policy
/// Level 3, "Initialize a global object's CSP list": local schemes take their creator's policies).
#[test]
fn neither_page_nor_worker_may_run_text_or_call_other_machines() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    for place in [FROM_PAGE, FROM_WORKER] {
        assert_eq!(browser.run(&format!("{MISBEHAVE}{place}"), Vec::new()), json!([]));
    }
    browser.assert_nothing_elsewhere();
}

/// The two checks above see what they are there to see, on a page without a policy.
#[test]
fn errors_and_calls_to_other_machines_are_seen() {
    let folder = std::env::temp_dir().join(format!("evenkeel-misbehaving-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    fs::write(
        folder.join("index.html"),
        "<!doctype html><link rel=icon href=data:,><script>console.error('said'); undefined_name;</script>",
    )
    .unwrap();
    let browser = Browser::on_folder(&folder);
    browser.open("", 1440, 900, false);
    for place in [FROM_PAGE, FROM_WORKER] {
        assert_eq!(browser.run(&format!("{MISBEHAVE}{place}"), Vec::new()), json!(["eval", "fetch"]));
    }
    let errors: String =
        browser.console().into_iter().filter(|m| m.level == "SEVERE").map(|m| m.text).collect();
    for expected in ["said", "undefined_name is not defined", "403"] {
        assert!(errors.contains(expected), "{expected} is not in {errors}");
    }
    assert_eq!(browser.requests_elsewhere(), ["GET http://elsewhere.example/"; 2]);
    drop(browser);
    fs::remove_dir_all(folder).unwrap();
}
