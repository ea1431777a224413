//! The built site in a real browser.

use std::fs;
use std::time::Duration;

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

/// Presses a key as long as the page rehearses, and counts how often anything took it.
const PRESS_MEANWHILE: &str = r#"
    globalThis.pressed = globalThis.taken = 0;
    setInterval(() => {
        if (!document.querySelector(".wings")) return;
        pressed += 1;
        taken += !document.body.dispatchEvent(new KeyboardEvent("keydown", { key: "0", bubbles: true, cancelable: true }));
    }, 5);"#;

#[test]
fn the_page_rehearses_in_nobodys_way_and_leaves_nothing_of_it() {
    let browser = Browser::on_site();
    browser.run_before_load(PRESS_MEANWHILE);
    browser.open("", 1440, 900, false);
    let over = "return performance.getEntriesByName('evenkeel:rehearsed').length > 0";
    browser.wait_until(over, Duration::from_secs(60));
    // All the way: a run was drawn and read out.
    let marks = "return performance.getEntriesByType('mark').map(({ name }) => name)";
    assert_eq!(
        browser.run(marks, Vec::new()),
        json!(["evenkeel:drawn", "evenkeel:analysed", "evenkeel:rehearsed"])
    );
    assert_eq!(browser.run("return [pressed > 20, taken]", Vec::new()), json!([true, 0]));
    let left = "return [document.querySelectorAll('.wings, .run, .job, .notice').length,
        document.querySelector('.kept-state').textContent]";
    assert_eq!(browser.run(left, Vec::new()), json!([0, ""]));
    browser.reload();
    browser.wait_for("text=Load the demo day");
    assert_eq!(browser.texts(".kept-days li").len(), 0);
    browser.assert_no_errors();
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

/// Remembers where workers begin.
const WATCH_WORKERS: &str = "globalThis.begun = []; const Plain = Worker;
    globalThis.Worker = class extends Plain { constructor(url) { super(url); begun.push(String(url)); } };";

/// The policy is the page's, and workers that begin from a blob inherit it (Content Security Policy
/// Level 3, "Initialize a global object's CSP list": local schemes take their creator's policies). All do.
#[test]
fn neither_page_nor_worker_may_run_text_or_call_other_machines() {
    let browser = Browser::on_site();
    browser.run_before_load(WATCH_WORKERS);
    for page in ["".to_owned(), one_file()] {
        browser.open(&page, 1440, 900, false);
        browser.wait_for("#demo");
        for place in [FROM_PAGE, FROM_WORKER] {
            assert_eq!(browser.run(&format!("{MISBEHAVE}{place}"), Vec::new()), json!([]));
        }
        let begun: Vec<String> = serde_json::from_value(browser.run("return begun;", Vec::new())).unwrap();
        // The app's own, and the one that misbehaved.
        assert!(begun.len() == 2 && begun.iter().all(|url| url.starts_with("blob:")), "{begun:?}");
    }
    browser.assert_nothing_elsewhere();
}

/// The address of the page as one file.
fn one_file() -> String {
    format!("file://{}/evenkeel.html", std::env::var("EVENKEEL_SITE").expect("run `cargo xtask test`"))
}

/// The policy of the page that is open.
fn policy(browser: &Browser) -> String {
    browser.attribute("meta[http-equiv=\"Content-Security-Policy\"]", "content").unwrap_or_default()
}

/// The one file says what the site says, less every place that a request could go to, and with its own scripts and
/// styles alone, each by its digest (which the browser has checked: they ran).
#[test]
fn the_policies_are_the_strictest_that_the_page_can_run_under() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    assert_eq!(
        policy(&browser),
        "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self' blob:; style-src 'self'; \
         img-src 'self' blob: data:; media-src blob:; connect-src 'self'; manifest-src 'self'; base-uri 'none'; \
         form-action 'none'"
    );
    browser.open(&one_file(), 1440, 900, false);
    browser.wait_for("#demo");
    let policy = policy(&browser);
    let digest = |word: &&str| word.starts_with("'sha256-") && word.len() == "'sha256-'".len() + 44;
    let plain = policy.split(' ').filter(|word| !digest(&word.trim_end_matches(';')));
    assert_eq!(
        plain.collect::<Vec<_>>().join(" "),
        "default-src 'none'; script-src 'wasm-unsafe-eval'; worker-src blob:; style-src img-src blob: data:; \
         media-src blob:; base-uri 'none'; form-action 'none'"
    );
    browser.assert_no_errors();
}

/// The two checks above see what they are there to see, on a page without a policy.
#[test]
fn leaving_is_asked_about_where_something_typed_would_be_lost_and_only_there() {
    let is_asked = |browser: &Browser| {
        let leave = "const leaving = new Event('beforeunload', { cancelable: true });
            dispatchEvent(leaving); return leaving.defaultPrevented;";
        browser.run(leave, Vec::new()) == json!(true)
    };
    // On a host it is kept; the page that was opened from a file keeps nothing unless it is told to.
    for (browser, address, is_kept) in
        [(Browser::on_site(), String::new(), true), (Browser::start(), one_file(), false)]
    {
        browser.open(&address, 1440, 900, false);
        browser.wait_for("#demo");
        assert!(!is_asked(&browser), "{address}: with nothing typed");
        browser.write_over("#runs-left", "3");
        browser.wait_for_text(".kept-state", if is_kept { "kept" } else { "not kept" });
        assert_eq!(is_asked(&browser), !is_kept, "{address}");
    }
}

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
