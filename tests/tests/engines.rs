//! Firefox and WebKitGTK: a log is loaded and kept, a link opens, the site works without a network under its policy,
//! and the one file opens from a disk.

use std::path::{Path, PathBuf};

use evenkeel_tests::engine::Engine;
use serde_json::json;
use xtask::site::Site;

fn site() -> PathBuf {
    std::env::var_os("EVENKEEL_SITE").expect("run the tests with `cargo xtask test`").into()
}

/// Gives the page a file as a person does: ten seconds of two ends and a speed.
const GIVE: &str = "
    const rows = Array.from({ length: 1000 }, (_, i) => `${(i / 100).toFixed(2)},${i % 90},${i % 70},8`);
    const log = new File(['time [s],fork travel [mm],rear travel [mm],speed [m/s]\\n' + rows.join('\\n')], 'run1.csv');
    const given = new DataTransfer();
    given.items.add(log);
    const input = document.querySelector('#files');
    input.files = given.files;
    input.dispatchEvent(new Event('change', { bubbles: true }));";
const WRITE: &str = "
    const field = document.querySelector('.run-words textarea');
    field.value = 'harsh';
    field.dispatchEvent(new Event('change', { bubbles: true }));";
/// From now on a change is written for as long as the page is shown.
const WRITE_LONG: &str = "
    let shown = true;
    addEventListener('pagehide', ({ persisted }) => { shown = false; localStorage.comesBack = persisted; });
    const { put } = IDBObjectStore.prototype;
    IDBObjectStore.prototype.put = function (...what) {
        const goOn = () => { if (shown) this.count().onsuccess = goOn; };
        goOn();
        window.writes = true;
        return put.apply(this, what);
    };
    const { commit } = IDBTransaction.prototype;
    IDBTransaction.prototype.commit = function () { if (!shown) commit.apply(this); };";
/// Tries to run text as a program, and to call another machine, from a timer and from a worker; names what worked.
const MISBEHAVE: &str = "
    const misbehave = async () => {
        const worked = [];
        try { eval('1'); worked.push('eval'); } catch {}
        try { await fetch('http://elsewhere.example/', { mode: 'no-cors' }); worked.push('fetch'); } catch {}
        return worked;
    };
    const here = await new Promise((done) => setTimeout(() => misbehave().then(done)));
    const program = `const misbehave = ${misbehave}; misbehave().then((worked) => postMessage(worked));`;
    const worker = new Worker(URL.createObjectURL(new Blob([program])));
    const there = await new Promise((done) => { worker.onmessage = ({ data }) => done(data); });
    return [here, there];";

/// A piece of a run in a link.
const LINK: &str = include_str!("../corpus/link/extract");

const READ: &str = "document.querySelector('.files')?.innerText.includes('100 Hz')";

fn works_on_a_host(mut engine: Engine) {
    let site = Site::start(&site(), "/some/path/", 0).unwrap();
    engine.open(&site.url());
    engine.wait_for("document.querySelector('#demo')");
    assert_eq!(engine.run(MISBEHAVE), json!([[], []]));
    engine.run(GIVE);
    engine.wait_for(READ);
    engine.run(WRITE);
    engine.wait_for("document.querySelector('.offline-state summary')?.innerText == 'works offline'");
    engine.wait_for("document.querySelector('.kept-state').innerText == 'kept'");
    let url = site.url();
    drop(site);
    engine.open(&url);
    engine.wait_for(READ);
    assert_eq!(engine.run("return document.querySelector('.run-words textarea').value;"), "harsh");
    engine.run("document.querySelector('#demo').click();");
    engine.wait_for("/mm/.test(document.querySelector('[data-number=\"Ride height\"] td')?.innerText)");
    a_page_that_is_left_holds_nobody_up(&mut engine, &format!("{url}?"));
}

/// While it writes; and what it wrote is kept once it is gone back to.
fn a_page_that_is_left_holds_nobody_up(engine: &mut Engine, page: &str) {
    engine.wait_for("document.querySelector('.kept-state').innerText == 'kept'");
    engine.run("document.querySelector('#place-day').click();");
    engine.wait_for("document.querySelector('.run-words textarea')");
    engine.run(WRITE_LONG);
    engine.run(&WRITE.replace("harsh", "kept late"));
    engine.wait_for("window.writes");
    opens_a_link(engine, page);
    if engine.run("return localStorage.comesBack;") != "true" {
        let by_rule = matches!(engine, Engine::WebKit(_));
        assert!(!by_rule, "the page was not put by, so nothing of this was tried");
        return;
    }
    engine.run("setTimeout(() => history.back());");
    engine.wait_for("window.writes && document.querySelector('.kept-state').innerText == 'kept'");
    engine.run("setTimeout(() => location.reload());");
    engine.wait_for("!window.writes && document.querySelector('.run-words textarea')?.value == 'kept late'");
}

/// A link is shown, and out of the address at once.
fn opens_a_link(engine: &mut Engine, page: &str) {
    engine.open(&format!("{page}#{}", LINK.trim()));
    engine.wait_for("document.querySelector('.whose')?.innerText.includes('a piece of')");
    engine.wait_for(
        "document.querySelector('[data-value=\"axle travel front\"] output')?.innerText.includes('.')",
    );
    assert_eq!(engine.run("return location.hash;"), "");
}

fn works_from_a_file(mut engine: Engine) {
    let page = address(&site().join("evenkeel.html"));
    opens_a_link(&mut engine, &format!("{page}?"));
    engine.open(&page);
    engine.wait_for("document.querySelector('#demo')");
    assert_eq!(engine.run(MISBEHAVE), json!([[], []]));
    engine.run("document.querySelector('#demo').click();");
    engine.wait_for("/mm/.test(document.querySelector('[data-number=\"Ride height\"] td')?.innerText)");
    engine.run("document.querySelector('#place-read-out').click();");
    engine.wait_for("document.querySelector('.finding')");
    let fetched = "return performance.getEntriesByType('resource').map(({ name }) => name).filter((name) => !/^(blob|data):/.test(name));";
    assert_eq!(engine.run(fetched), json!([]));
    // Nothing is kept before it is asked for.
    engine.wait_for("document.querySelector('.not-asked')");
    engine.run("document.querySelector('#keep-here').click();");
    engine.wait_for("document.querySelector('.kept-state').innerText == 'kept'");
    // Another day is open: the link's is opened in its stead.
    opens_a_link(&mut engine, &format!("{page}?again"));
}

fn address(file: &Path) -> String {
    format!("file://{}", file.display())
}

#[test]
fn firefox_loads_and_keeps_a_log_and_needs_no_network_again() {
    works_on_a_host(Engine::firefox());
}

#[test]
fn firefox_opens_the_one_file() {
    works_from_a_file(Engine::firefox());
}

#[test]
fn webkit_loads_and_keeps_a_log_and_needs_no_network_again() {
    works_on_a_host(Engine::webkit());
}

#[test]
fn webkit_opens_the_one_file() {
    works_from_a_file(Engine::webkit());
}
