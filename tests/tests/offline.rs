//! After its start the site asks for nothing, works without a network, and gives way to a newer version only when it is
//! told to; as one file it needs no site at all.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use evenkeel_tests::browser::Browser;
use evenkeel_tests::clip;
use serde_json::{Value, json};
use xtask::digest::integrity;

const LOADING: Duration = Duration::from_secs(60);
const PLACES: [(&str, &str); 5] = [
    ("day", ".run"),
    ("check", ".channel"),
    ("ride", "#plot"),
    ("read-out", ".finding"),
    ("back-to-back", ".back-to-back"),
];

fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("evenkeel-offline-{name}-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn site() -> PathBuf {
    std::env::var_os("EVENKEEL_SITE").expect("run the tests with `cargo xtask test`").into()
}

/// Ten seconds of two ends and a speed.
fn log(folder: &Path) -> PathBuf {
    let row =
        |i: u32| format!("{:.2},{:.1},{:.1},8\n", f64::from(i) * 0.01, f64::from(i % 90), f64::from(i % 70));
    let rows: String = (0..1000).map(row).collect();
    let file = folder.join("run7.csv");
    fs::write(&file, format!("time [s],fork travel [mm],rear travel [mm],speed [m/s]\n{rows}")).unwrap();
    file
}

fn run(browser: &Browser, script: &str) -> Value {
    browser.run(script, Vec::<Value>::new())
}

fn load_demo(browser: &Browser) {
    browser.click("#demo");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
}

fn go_to(browser: &Browser, place: &str, there: &str) {
    browser.click(&format!("#place-{place}"));
    browser.wait_for(there);
}

/// Opens the site and waits until it is kept.
fn kept(browser: &Browser) {
    browser.open("", 1440, 900, false);
    browser.wait_for_text_within(".offline-state", "works offline", LOADING);
}

#[test]
fn nothing_is_requested_after_the_start_and_nothing_ever_elsewhere() {
    let folder = folder("requests");
    let browser = Browser::on_site();
    kept(&browser);
    let at_start = browser.requests();
    assert!(at_start.iter().all(|path| path.starts_with("/some/path/")), "{at_start:?}");
    let kept = at_start.iter().filter(|path| path.ends_with(".deflated")).count();
    assert!(kept >= 13, "the demo is kept with the rest: {at_start:?}");

    load_demo(&browser);
    let clip_file = folder.join("helmet.mp4");
    clip::write(&clip_file, 2.0);
    browser.upload("#video-file", &[&clip_file]);
    browser.wait_for("#play");
    browser.click("#play");
    browser.click("#place-day");
    browser.upload("#files", &[&log(&folder)]);
    browser.wait_for_text_within(".files", "run7.csv", LOADING);
    for (place, there) in PLACES {
        go_to(&browser, place, there);
    }
    browser.wait_for_text_within(".kept-state", "kept", LOADING);
    assert_eq!(browser.requests()[at_start.len()..], [""; 0], "requested after the start");
    browser.assert_nothing_elsewhere();
    browser.assert_no_errors();
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn without_a_network_the_page_opens_again_with_the_demo_and_with_a_log() {
    let folder = folder("network");
    let mut browser = Browser::on_site();
    kept(&browser);
    let wrong = |method, field: &str| browser.devtools(method, json!({}))[field].clone();
    assert_eq!(wrong("Page.getAppManifest", "errors"), json!([]));
    assert_eq!(wrong("Page.getInstallabilityErrors", "installabilityErrors"), json!([]));
    browser.without_network();
    browser.reload();
    load_demo(&browser);
    browser.click("#place-day");
    browser.upload("#files", &[&log(&folder)]);
    browser.wait_for_text_within(".files", "run7.csv", LOADING);
    browser.wait_for_text_within(".kept-state", "kept", LOADING);
    browser.reload();
    browser.wait_for_text_within(".files", "run7.csv", LOADING);
    browser.wait_for_text(".offline-state", "works offline");
    browser.assert_nothing_elsewhere();
    fs::remove_dir_all(folder).unwrap();
}

/// A copy of the site, hard links where nothing is changed.
fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let to = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &to);
        } else if fs::hard_link(entry.path(), &to).is_err() {
            fs::copy(entry.path(), to).unwrap();
        }
    }
}

/// Writes a file anew, not through its other name.
fn rewrite(file: &Path, change: impl FnOnce(String) -> String) -> [String; 2] {
    let before = fs::read_to_string(file).unwrap();
    let after = change(before.clone());
    assert_ne!(before, after);
    fs::remove_file(file).unwrap();
    fs::write(file, &after).unwrap();
    [before, after]
}

/// Puts a newer version where the site is.
fn publish(site: &Path) {
    let page = rewrite(&site.join("index.html"), |page| page.replace("<title>Evenkeel", "<title>Newer"));
    let [before, after] = page.map(|page| integrity(page.as_bytes()));
    rewrite(&site.join("service-worker.js"), |script| {
        script.replace(&before, &after).replace("const VERSION = \"", "const VERSION = \"newer")
    });
}

#[test]
fn what_is_not_of_the_version_is_not_kept() {
    let folder = folder("altered");
    copy(&site(), &folder);
    let style = fs::read_dir(folder.join("style")).unwrap().map(|entry| entry.unwrap().path());
    let style = style.into_iter().find(|path| path.extension().is_some_and(|kind| kind == "css")).unwrap();
    rewrite(&style, |text| text + "p { color: red; }");
    let browser = Browser::on_folder(&folder);
    browser.open("", 1440, 900, false);
    browser.wait_for_text_within(".offline-state", "needs a network", LOADING);
    drop(browser);
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn places_that_could_not_be_fetched_are_fetched_when_that_is_asked_for() {
    let folder = folder("later");
    copy(&site(), &folder);
    let files = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path());
    let is_later = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().starts_with("later_bg-");
    let later = files.into_iter().find(is_later).unwrap();
    let aside = later.with_extension("aside");
    fs::rename(&later, &aside).unwrap();
    let browser = Browser::on_folder(&folder);
    browser.open("", 1440, 900, false);
    browser.click("#place-hand-over");
    browser.wait_for_text(".later", "could not be fetched");
    fs::rename(&aside, &later).unwrap();
    browser.click(".later button");
    browser.wait_for(".hand-over");
    drop(browser);
    fs::remove_dir_all(folder).unwrap();
}

fn title(browser: &Browser) -> Value {
    run(browser, "return document.title;")
}

#[test]
fn a_newer_version_waits_until_it_is_taken_and_is_never_forced() {
    let folder = folder("newer");
    copy(&site(), &folder);
    let browser = Browser::on_folder(&folder);
    kept(&browser);
    let look = || {
        browser.click(".offline-state summary");
        browser.click("#look-for-newer");
    };
    look();
    browser.wait_for_text(".notices", "the newest version");
    browser.click(".offline-state summary");
    publish(&folder);
    look();
    browser.wait_for_text(".notices", "a newer version");
    browser.wait_for_text_within("#newer", "New version", LOADING);
    browser.reload();
    browser.wait_for_text_within("#newer", "New version", LOADING);
    assert_eq!(title(&browser), "Evenkeel", "the version that was kept is the one that opens");

    // Not over what the browser does not keep,
    run(
        &browser,
        "globalThis.put = IDBObjectStore.prototype.put; IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };",
    );
    browser.upload("#files", &[&log(&folder)]);
    browser.wait_for_text_within(".kept-state", "not kept", LOADING);
    browser.click("#newer");
    browser.wait_for_text(".notice", "would lose what is not kept");
    run(&browser, "IDBObjectStore.prototype.put = put;");
    browser.type_text(".run-words textarea", "kept");
    browser.click("#place-day");
    browser.wait_until_gone(".not-kept");
    // nor under another tab;
    run(
        &browser,
        "globalThis.other = open(location.href); return new Promise((done) => { other.onload = () => done(true); });",
    );
    browser.click("#newer");
    browser.wait_for_text(".notices", "open in another tab");
    assert_eq!(title(&browser), "Evenkeel");
    run(&browser, "other.close();");
    // then at a click, and with nothing lost.
    run(&browser, "return new Promise((done) => setTimeout(done, 500));");
    browser.click("#newer");
    browser.wait_for_text_within(".files", "run7.csv", LOADING);
    browser.wait_for_text_within(".offline-state", "works offline", LOADING);
    assert_eq!(title(&browser), "Newer");
    let caches = run(&browser, "return caches.keys().then((names) => names.length);");
    assert_eq!(caches, 1, "the version before is cleared away");
    drop(browser);
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn the_one_file_needs_nothing_beside_it_and_keeps_only_what_it_is_asked_to() {
    let folder = folder("one");
    let file = folder.join("Evenkeel on a stick.html");
    fs::copy(site().join("evenkeel.html"), &file).unwrap();
    let browser = Browser::start();
    browser.open(&format!("file://{}", file.display()).replace(' ', "%20"), 1440, 900, false);
    load_demo(&browser);
    go_to(&browser, "read-out", ".finding");
    let fetched = run(
        &browser,
        "return performance.getEntriesByType('resource').map((one) => one.name).filter((name) => !/^(blob|data):/.test(name));",
    );
    assert_eq!(fetched, json!([]));
    // Other pages from files could read it: nothing is kept until that is said and asked for.
    browser.wait_for_text(".not-asked summary", "not kept");
    let databases = "return indexedDB.databases().then((all) => all.length);";
    assert_eq!(run(&browser, databases), 0);
    browser.click(".not-asked summary");
    browser.wait_for_text(".not-asked", "every page that is opened from a file");
    browser.click("#keep-here");
    browser.wait_for_text_within(".kept-state", "kept", LOADING);
    browser.wait_until_gone(".not-kept");
    browser.reload();
    browser.wait_for_text_within(".files", "run-6-motion.csv", LOADING);
    browser.assert_nothing_elsewhere();
    browser.assert_no_errors();
    drop(browser);
    fs::remove_dir_all(folder).unwrap();
}
