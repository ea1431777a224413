//! The day is kept in the browser: it comes back after a reload at any moment, a browser that refuses is told, and no
//! other tab's changes are written over.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);
/// What a crash may cost.
const LOST: Duration = Duration::from_secs(1);

/// Ten seconds of two ends and a speed.
fn log(name: &str) -> PathBuf {
    let text =
        (0..1000).fold("time [s],fork travel [mm],rear travel [mm],speed [m/s]\n".to_owned(), |text, i| {
            let t = f64::from(i) * 0.01;
            let [front, rear] = [50.0 + 20.0 * (9.0 * t).sin(), 55.0 + 25.0 * (9.0 * t).sin()];
            text + format!("{t:.2},{front:.2},{rear:.2},8\n").as_str()
        });
    let folder = std::env::temp_dir().join(format!("evenkeel-kept-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("run1.csv");
    std::fs::write(&path, text).unwrap();
    path
}

fn run(browser: &Browser, script: &str) -> Value {
    browser.run(script, Vec::<Value>::new())
}

/// Does something with the page's `database`; gives what is `done`.
fn in_database<const N: usize>(browser: &Browser, script: &str, given: [Value; N]) -> Value {
    let opened = format!(
        "return new Promise((done) => {{ indexedDB.open('evenkeel').onsuccess = (event) => {{
            const database = event.target.result; {script} }}; }});"
    );
    browser.run(&opened, given.to_vec())
}

/// Writes the rider's words, as one change.
fn write_words(browser: &Browser, words: &str) {
    browser.set(".run-words textarea", words);
}

fn words(browser: &Browser) -> String {
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.value(".run-words textarea")
}

fn with_a_run(name: &str) -> Browser {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&log(name)]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.wait_for_text(".kept-state", "kept");
    browser
}

#[test]
fn a_file_of_a_known_name_that_holds_something_else_is_kept_anew() {
    let browser = with_a_run("renamed");
    let path = log("renamed");
    let half = std::fs::read_to_string(&path)
        .unwrap()
        .lines()
        .take(501)
        .fold(String::new(), |text, line| text + line + "\n");
    std::fs::write(&path, half).unwrap();
    browser.upload("#files", &[&path]);
    browser.wait_for_text_within(".files", "5.0 s", LOADING);
    browser.wait_for_text(".kept-state", "kept");
    browser.reload();
    browser.wait_for_text_within(".files", "5.0 s", LOADING);
    browser.assert_no_errors();
}

#[test]
fn a_tab_that_is_killed_at_any_moment_loses_at_most_the_last_second() {
    let browser = with_a_run("killed");
    let mut written: Vec<(Instant, String)> = vec![(Instant::now() - LOST, words(&browser))];
    let mut longest = Duration::ZERO;
    // Moments spread over the time in which a change is kept, in an order that looks like none.
    for moment in 0..50_u64 {
        let told = format!("words {moment}");
        write_words(&browser, &told);
        written.push((Instant::now(), told));
        std::thread::sleep(Duration::from_millis(moment * 7919 % 401));
        let ended = Instant::now();
        browser.crash();
        let found = words(&browser);
        let at = written.iter().rposition(|(_, told)| *told == found);
        let at = at.unwrap_or_else(|| panic!("{found:?} was never written: {written:?}"));
        // What comes back is what the next change is made to.
        let lost = written.drain(at + 1..).next().map(|(lost, _)| ended.duration_since(lost));
        longest = longest.max(lost.unwrap_or_default());
    }
    println!("the oldest change that was lost was {longest:?} old (goal: 1 s)");
    assert!(longest <= LOST, "{longest:?}");
    // The traces are back with it.
    browser.click("text=Open in Ride");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    browser.assert_no_errors();
}

#[test]
fn nothing_is_said_to_be_kept_before_it_is() {
    let browser = with_a_run("slow");
    // A transaction that goes on: what is written after it waits.
    in_database(
        &browser,
        "const files = database.transaction('files', 'readwrite').objectStore('files');
         const goOn = () => { if (!window.enough) files.count().onsuccess = goOn; done(true); };
         goOn();",
        [],
    );
    let second = log("slow").with_file_name("run2.csv");
    std::fs::copy(log("slow"), &second).unwrap();
    browser.upload("#files", &[&second]);
    browser.wait_for_text_within(".files", "run2.csv", LOADING);
    std::thread::sleep(2 * LOST);
    assert_eq!(browser.texts(".kept-state"), ["keeping…"]);
    run(&browser, "window.enough = true;");
    browser.wait_for_text(".kept-state", "kept");
    browser.reload();
    browser.wait_for_text_within(".files", "run2.csv", LOADING);
    browser.assert_no_errors();
}

#[test]
fn a_full_disk_is_told_and_loses_nothing_that_was_kept() {
    let browser = with_a_run("full");
    write_words(&browser, "kept before");
    browser.wait_for_text(".kept-state", "kept");
    // Browsers say so at once, or only at the end.
    for full in [
        "IDBObjectStore.prototype.put = function () { throw new DOMException('full', 'QuotaExceededError'); };",
        "IDBTransaction.prototype.commit = function () { this.abort(); };",
    ] {
        run(&browser, full);
        write_words(&browser, "does not fit");
        browser.wait_for_text(".kept-state", "not kept");
        let told = browser.attribute(".not-kept", "title").unwrap();
        assert!(told.contains("What was kept before is safe"), "{told}");
        browser.reload();
        assert_eq!(words(&browser), "kept before");
    }
}

#[test]
fn a_day_that_is_only_looked_at_is_not_changed_for_other_tabs() {
    let browser = with_a_run("looked");
    write_words(&browser, "kept before");
    browser.wait_for_text(".kept-state", "kept");
    browser.reload();
    assert_eq!(words(&browser), "kept before");
    let revision = || {
        in_database(
            &browser,
            "database.transaction('days').objectStore('days').getAll().onsuccess =
                (days) => done(days.target.result[0].revision);",
            [],
        )
    };
    let before = revision();
    browser.reload();
    browser.wait_for_text_within(".files", "run1.csv", LOADING);
    std::thread::sleep(2 * LOST);
    assert_eq!(revision(), before);
    write_words(&browser, "changed");
    browser.wait_for_text(".kept-state", "kept");
    assert_ne!(revision(), before);
}

#[test]
fn a_browser_that_gives_nothing_back_is_told_and_the_page_goes_on() {
    let browser = Browser::on_site();
    browser.run_before_load("IDBFactory.prototype.open = () => new EventTarget();");
    browser.open(&format!("#{}", include_str!("../corpus/link/extract").trim()), 1440, 900, false);
    browser.wait_for_text_within(".notices", "does not give back what it keeps", LOADING);
    browser.wait_for_text(".kept-state", "not kept");
    // The link that waited is shown.
    browser.wait_for_text_within(".whose", "a piece of", LOADING);
}

/// What another tab does when it keeps one more change of the same day.
fn in_another_tab(browser: &Browser, before: &str, after: &str) {
    in_database(
        browser,
        "const days = database.transaction('days', 'readwrite').objectStore('days');
         days.getAllKeys().onsuccess = (keys) => { const key = keys.target.result[0];
             days.get(key).onsuccess = (got) => { const day = got.target.result;
                 day.revision += 1; day.json = day.json.replace(arguments[0], arguments[1]);
                 days.put(day, key).onsuccess = () => done(true); }; };",
        [before.into(), after.into()],
    );
}

#[test]
fn two_tabs_do_not_write_over_each_other() {
    let browser = with_a_run("tabs");
    write_words(&browser, "mine");
    browser.wait_for_text(".kept-state", "kept");
    in_another_tab(&browser, "mine", "theirs");
    write_words(&browser, "mine again");
    browser.wait_for_text(".kept-state", "changed in another tab");
    browser.reload();
    assert_eq!(words(&browser), "theirs");
    // Taking over is a click, and said.
    in_another_tab(&browser, "theirs", "theirs again");
    write_words(&browser, "mine in the end");
    browser.click("text=Take over");
    browser.wait_until_gone(".not-kept");
    browser.wait_for_text(".kept-state", "kept");
    browser.reload();
    assert_eq!(words(&browser), "mine in the end");
    browser.assert_no_errors();
}

#[test]
fn a_new_day_leaves_the_old_one_in_the_list_and_a_forgotten_one_is_gone() {
    let browser = with_a_run("days");
    write_words(&browser, "the first day");
    browser.wait_for_text(".kept-state", "kept");
    browser.click(".kept-days summary");
    browser.click("#new-day");
    browser.wait_for("#demo");
    browser.wait_until_gone(".files");
    browser.click(".kept-days summary");
    browser.wait_for_text(".kept-days", "the day of run1");
    browser.click(".kept-days tbody .small");
    browser.wait_for(".run-words textarea");
    assert_eq!(words(&browser), "the first day");
    browser.click(".kept-days summary");
    browser.wait_for_text(".kept-days", "(open)");
    // What is typed while it is being forgotten does not bring it back.
    run(
        &browser,
        "IDBTransaction.prototype.commit = () => {};
         const { delete: forget } = IDBObjectStore.prototype;
         IDBObjectStore.prototype.delete = function (key) {
             const until = performance.now() + 800;
             const goOn = () => { if (performance.now() < until) this.count().onsuccess = goOn; };
             goOn();
             return forget.call(this, key);
         };",
    );
    write_words(&browser, "too late");
    browser.click("text=Forget it and its files");
    browser.wait_until_gone(".files");
    let left = in_database(
        &browser,
        "const both = database.transaction(['days', 'files']);
         both.objectStore('days').count().onsuccess = (days) => both.objectStore('files').count().onsuccess =
             (files) => done([days.target.result, files.target.result]);",
        [],
    );
    assert_eq!(left, json!([0, 0]));
    browser.assert_no_errors();
}
