//! The Hand-over place: a day leaves as a file, sealed or as a link, and comes back whole; who gets it sees what its
//! owner sees, changes nothing, and their remarks find their way back.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use evenkeel_core::handover::{DayFile, KeyPair, Link, Opener, open};
use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);
/// By then a change is kept.
const KEPT: Duration = Duration::from_millis(900);

/// A folder of this test's own, empty.
fn folder(name: &str) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("evenkeel-hand-over-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Twelve seconds of two ends and a speed, which is all that the tests look for again.
fn log(folder: &Path) -> PathBuf {
    let text =
        (0..1200).fold("time [s],fork travel [mm],rear travel [mm],speed [m/s]\n".to_owned(), |text, i| {
            let t = f64::from(i) * 0.01;
            let [front, rear] = [50.0 + 20.0 * (9.0 * t).sin(), 55.0 + 25.0 * (9.0 * t).sin()];
            text + format!("{t:.2},{front:.2},{rear:.2},8\n").as_str()
        });
    let path = folder.join("run1.csv");
    std::fs::write(&path, text).unwrap();
    path
}

fn run(browser: &Browser, script: &str) -> Value {
    browser.run(script, Vec::<Value>::new())
}

/// A page whose downloads go to a folder.
fn fresh(folder: &Path) -> Browser {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.devtools(
        "Browser.setDownloadBehavior",
        json!({ "behavior": "allow", "downloadPath": folder.display().to_string() }),
    );
    browser
}

/// One with a run in it, and what its rider said.
fn with_a_run(folder: &Path) -> Browser {
    let browser = fresh(folder);
    browser.upload("#files", &[&log(folder)]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.set(".run-words textarea", "It dives. <img src=x onerror=alert(1)>");
    browser
}

/// The bytes of a file once it is saved.
fn saved(folder: &Path, ending: &str) -> Vec<u8> {
    let start = Instant::now();
    loop {
        let found = std::fs::read_dir(folder).unwrap().filter_map(|entry| Some(entry.ok()?.path()));
        let found = found.into_iter().find(|path| path.to_string_lossy().ends_with(ending));
        if let Some(bytes) = found.and_then(|path| std::fs::read(path).ok()).filter(|bytes| !bytes.is_empty())
        {
            return bytes;
        }
        assert!(start.elapsed() < LOADING, "no file that ends in {ending} was saved");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// Saves the day as a file for oneself, open.
fn day_file(browser: &Browser, folder: &Path) -> Vec<u8> {
    browser.click("#place-hand-over");
    browser.set("#file-for", "yourself, to go on elsewhere");
    browser.set("#file-lock", "nothing: anybody can open it");
    browser.click("#list-file");
    browser.wait_for_text_within(
        "[aria-label=\"File\"] .leaves",
        "run1.csv: 3 columns of 1200 samples",
        LOADING,
    );
    browser.wait_for_text("[aria-label=\"File\"] .leaves", "Anybody who gets the file");
    browser.click("#save-file");
    saved(folder, ".zip")
}

/// The fragment of the link in view.
fn fragment(browser: &Browser) -> String {
    browser.wait_for_text_within("#link-length", "characters: fits", LOADING);
    browser.click("#copy-link");
    let link = browser.value("#link-text");
    link.split_once('#').unwrap_or_else(|| panic!("{link} has no fragment")).1.to_owned()
}

fn open_link(browser: &Browser, fragment: &str) {
    browser.open(&format!("?#{fragment}"), 1440, 900, false);
}

fn remark(browser: &Browser, within: &str, words: &str) {
    browser.clear(&format!("{within} .remark-author"));
    browser.type_text(&format!("{within} .remark-author"), "Coach");
    browser.type_text(&format!("{within} .remark-words"), words);
    browser.click(&format!("{within} .add-remark"));
    browser.wait_for_text(".remark-list", words);
}

#[test]
fn a_day_that_went_out_as_a_file_and_was_forgotten_comes_back_identical() {
    let folder = folder("file");
    let browser = with_a_run(&folder);
    let bytes = day_file(&browser, &folder);
    let before = DayFile::read(&bytes).unwrap();
    assert_eq!((before.copy, before.day.runs.len(), before.sources.len()), (false, 1, 1));
    std::fs::rename(
        std::fs::read_dir(&folder)
            .unwrap()
            .find_map(|e| Some(e.ok()?.path()).filter(|p| p.extension() == Some("zip".as_ref())))
            .unwrap(),
        folder.join("before.day"),
    )
    .unwrap();

    browser.click("#place-day");
    browser.click(".kept-days summary");
    browser.wait_for_text(".kept-days", "(open)");
    browser.click("text=Forget it and its files");
    browser.wait_until_gone(".files");
    browser.wait_for("#files");
    browser.upload("#files", &[&folder.join("before.day")]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    assert!(browser.value(".run-words textarea").starts_with("It dives."));
    let after = DayFile::read(&day_file(&browser, &folder)).unwrap();
    assert_eq!(after, before);

    // It is kept with its samples, and analysed as if its log had been loaded.
    std::thread::sleep(KEPT);
    browser.reload();
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.click("text=Open in Ride");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);

    // Opened beside another day it replaces nothing: both are in the list.
    browser.click("#place-day");
    browser.upload("#files", &[&folder.join("before.day")]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.wait_for(".kept-days");
    std::thread::sleep(KEPT);
    let count = "return new Promise((done) => { indexedDB.open('evenkeel').onsuccess = (event) =>
        event.target.result.transaction('days').objectStore('days').count().onsuccess = (days) => done(days.target.result); });";
    assert_eq!(run(&browser, count), json!(2));
    browser.assert_no_errors();
}

#[test]
fn a_sealed_file_opens_with_its_passphrase_or_key_and_with_nothing_else() {
    let folder = folder("sealed");
    let browser = with_a_run(&folder);
    browser.click("#place-hand-over");
    browser.click("#list-file");
    browser.wait_for_text_within("[aria-label=\"File\"] .leaves", "knows the passphrase", LOADING);
    // Nothing is sealed with what was typed once.
    browser.type_text("#passphrase-0", "plain bob major");
    browser.click("#save-file");
    browser.wait_for_text("#file-wrong", "differ");
    browser.type_text("#passphrase-1", "plain bob major");
    browser.click("#save-file");
    let sealed = saved(&folder, ".age");
    let opened = open(&sealed, Opener::Passphrase("plain bob major", 16)).unwrap();
    let day = DayFile::read(&opened).unwrap();
    assert!(day.copy && day.day.runs.len() == 1);
    // A suggested one is typed twice by itself, and is another each time.
    browser.click("#suggest");
    let suggested = browser.value("#passphrase-0");
    assert!(suggested.len() > 30 && browser.value("#passphrase-1") == suggested, "{suggested}");
    browser.click("#suggest");
    assert_ne!(browser.value("#passphrase-0"), suggested);

    // For a key: whoever has the other half opens it.
    let pair = KeyPair::generate();
    std::fs::remove_file(
        std::fs::read_dir(&folder)
            .unwrap()
            .find_map(|e| Some(e.ok()?.path()).filter(|p| p.extension() == Some("age".as_ref())))
            .unwrap(),
    )
    .unwrap();
    browser.set("#file-lock", "a coach's public key");
    browser.type_text("#recipients", &pair.public);
    browser.click("#save-file");
    let for_a_key = saved(&folder, ".age");
    assert_eq!(DayFile::read(&open(&for_a_key, Opener::Key(&pair.secret)).unwrap()).unwrap().day, day.day);
    browser.assert_no_errors();

    // A coach elsewhere: a wrong passphrase, an altered file, then the right ones.
    let coach = fresh(&folder);
    let mut altered = sealed.clone();
    let last = altered.len() - 5;
    altered[last] ^= 1;
    for (name, bytes) in [("whole.age", &sealed), ("altered.age", &altered), ("key.age", &for_a_key)] {
        std::fs::write(folder.join(name), bytes).unwrap();
    }
    // Of two at once the second is not lost without a word.
    coach.upload("#files", &[&folder.join("altered.age"), &folder.join("whole.age")]);
    coach.wait_for_text(".notices", "whole.age waits its turn");
    coach.wait_for_text_within("[aria-label=\"Sealed file\"]", "128 MB of memory", LOADING);
    coach.type_text("#unseal-with", "plain bob major");
    coach.click("#unseal");
    coach.wait_for_text_within("#unseal-wrong", "cut off or altered", LOADING);
    coach.click("text=Leave it");
    coach.upload("#open-file", &[&folder.join("whole.age")]);
    coach.wait_for_text_within("[aria-label=\"Sealed file\"]", "whole.age", LOADING);
    coach.wait_for_text_within("[aria-label=\"Sealed file\"]", "128 MB of memory", LOADING);
    coach.type_text("#unseal-with", "plain bob minor");
    coach.click("#unseal");
    coach.wait_for_text_within("#unseal-wrong", "does not open this file", LOADING);
    coach.clear("#unseal-with");
    coach.type_text("#unseal-with", "plain bob major");
    coach.click("#unseal");
    coach.wait_for_text_within(".files", "100 Hz", LOADING);
    coach.wait_for_text(".whose", "somebody else's");
    // It cannot be changed here, neither by a field nor by a key.
    assert_eq!(
        run(&coach, "return document.querySelector('.run-words textarea').matches(':disabled');"),
        json!(true)
    );
    coach.click("text=Open in Ride");
    coach.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    coach.press("m");
    coach.wait_for_text(".notices", "stays as it came");
    assert_eq!(coach.texts(".marks li").len(), 0);

    // The same day for a key, in a list of two then.
    coach.click("#place-hand-over");
    coach.upload("#open-file", &[&folder.join("key.age")]);
    coach.wait_for_text_within("[aria-label=\"Sealed file\"]", "sealed for a key", LOADING);
    coach.type_text("#unseal-with", &pair.secret);
    coach.click("#unseal");
    coach.wait_for_text_within(".files", "100 Hz", LOADING);
    coach.assert_no_errors();
    coach.assert_nothing_elsewhere();
}

#[test]
fn an_extract_is_seen_elsewhere_and_a_remark_on_it_comes_back() {
    let folder = folder("extract");
    let owner = with_a_run(&folder);
    owner.click("text=Open in Ride");
    owner.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    owner.click("#place-hand-over");
    owner.wait_for_text_within("[aria-label=\"Link\"] .leaves", "front axle travel", LOADING);
    owner.wait_for_text("[aria-label=\"Link\"] .leaves", "what the rider said of it");
    owner.wait_for_text("[aria-label=\"Link\"] .leaves", "Anybody who sees the link");
    let sent = fragment(&owner);
    let Some(Ok(Link::Extract(extract))) = Link::read(&sent) else { panic!("{sent} is no extract") };
    assert!(
        extract.channels.len() >= 3 && extract.channels.iter().all(|channel| !channel.samples.is_empty())
    );

    // In a fresh browser, without a log: the link is taken out of the address, the traces are drawn, read-only.
    let coach = fresh(&folder);
    open_link(&coach, &sent);
    coach.wait_for_text_within(".whose", "a piece of", LOADING);
    assert_eq!(run(&coach, "return location.hash + location.search;"), json!(""));
    coach.wait_for_text("[data-value=\"axle travel front\"] output", ".");
    let inked = "const canvas = document.querySelector('canvas.traces'); const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
        let colours = new Set(); for (let i = 0; i < data.length; i += 4) colours.add(data[i] << 16 | data[i + 1] << 8 | data[i + 2]); return colours.size;";
    assert!(run(&coach, inked).as_u64().unwrap() > 8, "nothing is drawn");
    remark(&coach, ".side", "Brakes late here.");
    coach.click("#place-hand-over");
    coach.wait_for_text("[aria-label=\"Extract\"]", "0.1 mm");
    // Markup is words.
    coach.wait_for_text("[aria-label=\"Extract\"] .said", "<img src=x onerror=alert(1)>");
    assert_eq!(run(&coach, "return document.querySelectorAll('.said img').length;"), json!(0));
    coach.wait_for_text("[aria-label=\"Send back\"] .leaves", "1 remark, by “Coach”");
    let back = fragment(&coach);
    let Some(Ok(Link::View(view))) = Link::read(&back) else { panic!("{back} is no view") };
    assert_eq!((view.id.as_str(), view.remarks.iter().len()), (extract.id.as_str(), 1));
    // Opened again it is the same day, with the remark still there.
    std::thread::sleep(KEPT);
    open_link(&coach, &sent);
    coach.wait_for_text_within(".side .remark-list", "Brakes late here.", LOADING);
    coach.click("#place-day");
    coach.click(".kept-days summary");
    coach.wait_for_text(".kept-days", "(open)");
    assert_eq!(coach.texts(".kept-days tbody tr").len(), 1);
    coach.assert_no_errors();
    coach.assert_nothing_elsewhere();

    // At home it stands at its moment, once, however often it comes; nothing else was touched.
    owner.click("#place-hand-over");
    remark(&owner, "[aria-label=\"Remarks\"]", "Mine stays.");
    std::thread::sleep(KEPT);
    for _ in 0..2 {
        open_link(&owner, &back);
        owner.wait_for_text_within("[aria-label=\"Remarks\"] .remark-list", "Brakes late here.", LOADING);
        assert_eq!(owner.texts("[aria-label=\"Remarks\"] .remark").len(), 2);
        std::thread::sleep(KEPT);
    }
    let at = extract.cursor_s.unwrap_or(extract.channels[0].start_s);
    owner.click("[aria-label=\"Remarks\"] .remark .moment");
    owner.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    let cursor: f64 = owner.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap();
    assert!((cursor - at).abs() < 0.02, "the cursor stands at {cursor}, not at {at}");
    owner.click("#place-day");
    assert!(owner.value(".run-words textarea").starts_with("It dives."));
    owner.assert_no_errors();
}

#[test]
fn a_view_waits_for_its_log_and_goes_where_it_points() {
    let folder = folder("view");
    let owner = with_a_run(&folder);
    owner.click("text=Open in Ride");
    owner.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    owner.press("m");
    owner.press("ArrowRight");
    owner.click("#place-hand-over");
    remark(&owner, "[aria-label=\"Remarks\"]", "Look at this one.");
    owner.set("#link-kind", "where to look, for somebody who has the log");
    owner.wait_for_text_within("[aria-label=\"Link\"] .leaves", "without a sample", LOADING);
    owner.wait_for_text_within("[aria-label=\"Link\"] .leaves", "1 remark", LOADING);
    let sent = fragment(&owner);
    assert!(sent.len() < 2000, "{} characters", sent.len());
    let Some(Ok(Link::View(view))) = Link::read(&sent) else { panic!("{sent} is no view") };

    let coach = fresh(&folder);
    open_link(&coach, &sent);
    coach.wait_for_text_within("[aria-label=\"Link received\"]", "load its log run1.csv", LOADING);
    coach.wait_for_text("[aria-label=\"Link received\"]", "Look at this one.");
    coach.click("#place-day");
    coach.upload("#files", &[&folder.join("run1.csv")]);
    coach.wait_for_text_within(".files", "100 Hz", LOADING);
    coach.click("#place-hand-over");
    coach.click("#show-here");
    coach.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    let cursor: f64 = coach.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap();
    assert!((cursor - view.cursor_s.unwrap()).abs() < 0.02, "the cursor stands at {cursor}");
    // A remark from there knows whose day it is.
    remark(&coach, ".side", "Seen.");
    coach.click("#place-hand-over");
    coach.set("#link-kind", "where to look, for somebody who has the log");
    coach.wait_for_text_within("[aria-label=\"Link\"] .leaves", "2 remarks", LOADING);
    let back = fragment(&coach);
    let Some(Ok(Link::View(back))) = Link::read(&back) else { panic!("{back} is no view") };
    assert_eq!(back.id, view.id);
    coach.assert_no_errors();
}

/// The site in a folder of its own, to put a file beside it.
fn host(folder: &Path) -> PathBuf {
    fn copy(from: &Path, to: &Path) {
        if from.is_dir() {
            std::fs::create_dir_all(to).unwrap();
            let entries = std::fs::read_dir(from).unwrap().map(|entry| entry.unwrap().file_name());
            entries.for_each(|name| copy(&from.join(&name), &to.join(&name)));
        } else {
            std::fs::copy(from, to).unwrap();
        }
    }
    let site = PathBuf::from(std::env::var_os("EVENKEEL_SITE").expect("EVENKEEL_SITE is not set"));
    copy(&site, &folder.join("host"));
    folder.join("host")
}

#[test]
fn a_link_opens_the_sealed_file_beside_the_page_that_it_points_to() {
    let folder = folder("pointer");
    let owner = with_a_run(&folder);
    owner.click("#place-hand-over");
    owner.set("#link-kind", "the way to a sealed file beside this app");
    owner.clear("#pointer-path");
    owner.type_text("#pointer-path", "days/a-run.age");
    owner.click("#list-pointer");
    owner.wait_for_text_within("[aria-label=\"Link\"] .leaves", "Whoever has the link", LOADING);
    owner.click("#seal-pointer");
    let sealed = saved(&folder, "a-run.age");
    let sent = fragment(&owner);
    owner.assert_no_errors();

    let host = host(&folder);
    std::fs::create_dir_all(host.join("days")).unwrap();
    std::fs::write(host.join("days/a-run.age"), sealed).unwrap();
    let coach = Browser::on_folder(&host);
    open_link(&coach, &sent);
    coach.wait_for_text_within("[aria-label=\"Link received\"]", "days/a-run.age", LOADING);
    coach.click("#fetch-sealed");
    coach.wait_for_text_within(".files", "100 Hz", LOADING);
    coach.wait_for_text(".whose", "somebody else's");
    coach.assert_no_errors();
    coach.assert_nothing_elsewhere();
    let _ = std::fs::remove_dir_all(&folder);
}

#[test]
fn hostile_links_are_told_and_harmless() {
    let browser = Browser::on_site();
    let too_long = format!("extract={}", "A".repeat(60_000));
    let view = Link::View(evenkeel_core::handover::View {
        id: "x".to_owned(),
        day: "<script>document.title = 'caught'</script>".to_owned(),
        run: Some(evenkeel_core::handover::RunName {
            name: "<img src=x onerror=\"document.title = 'caught'\">".to_owned(),
            log: "a.csv".to_owned(),
        }),
        cursor_s: Some(1e300),
        range_s: Some([5.0, -1e300]),
        place: "../../etc".to_owned(),
        ..Default::default()
    });
    let pointer = Link::Pointer(evenkeel_core::handover::Pointer {
        file: "days/none.age".to_owned(),
        key: KeyPair::generate().secret,
    });
    for (fragment, told) in [
        ("view=<script>alert(1)</script>", "damaged"),
        ("extract=AAAA", "damaged"),
        ("sealed=", "damaged"),
        (too_long.as_str(), "longer than any link"),
    ] {
        browser.open(&format!("?#{fragment}"), 1440, 900, false);
        browser.wait_for_text_within(".notices", told, LOADING);
        assert_eq!(run(&browser, "return location.hash;"), json!(""));
        browser.wait_for("#demo");
    }
    browser.open(&format!("?#{}", view.fragment().unwrap()), 390, 844, false);
    browser.wait_for_text_within("[aria-label=\"Link received\"]", "<script>", LOADING);
    assert_eq!(run(&browser, "return document.title;"), json!("Evenkeel"));
    // A pointer fetches nothing before it is told to, and then nothing but what lies beside the page.
    browser.open(&format!("?#{}", pointer.fragment().unwrap()), 1440, 900, false);
    browser.wait_for_text_within("[aria-label=\"Link received\"]", "days/none.age", LOADING);
    assert!(!browser.requests().iter().any(|path| path.contains("none.age")));
    browser.click("#fetch-sealed");
    browser.wait_for_text_within("[aria-label=\"Link received\"] .wrong", "is not on this host", LOADING);
    assert!(browser.requests().contains(&"/some/path/days/none.age".to_owned()));
    browser.assert_nothing_elsewhere();
}

#[test]
fn remarks_come_back_as_a_file_and_tables_leave_harmless() {
    let folder = folder("tables");
    let owner = with_a_run(&folder);
    owner.click("#place-day");
    owner.set(".run-name", "=HYPERLINK(\"x\")");
    owner.click("text=Read-out");
    owner.wait_for_text_within("[aria-label=\"Findings\"]", "limits", LOADING);
    owner.click("#place-hand-over");
    owner.wait_for_text_within("[aria-label=\"Tables\"] .leaves", "every number of 1 of 1 runs", LOADING);
    owner.click("#save-table");
    let numbers = String::from_utf8(saved(&folder, "numbers.csv")).unwrap();
    assert!(numbers.starts_with("run,section,number,value,from,to,n,not measured because\r\n"));
    assert!(numbers.contains("\"'=HYPERLINK(\"\"x\"\")\",run,front.ride_height_m,0.0"), "{numbers}");
    owner.set("#table-kind", "Runs and set-ups, CSV");
    owner.wait_for_text("[aria-label=\"Tables\"] .leaves", "the rider's words");
    owner.click("#save-table");
    let runs = String::from_utf8(saved(&folder, "runs.csv")).unwrap();
    assert!(runs.contains("\"'=HYPERLINK") && runs.contains("It dives."), "{runs}");
    owner.set("#table-kind", "This day and earlier ones, Parquet");
    owner.click("#save-table");
    let archive = saved(&folder, ".parquet");
    assert!(archive.starts_with(b"PAR1") && archive.ends_with(b"PAR1"));

    // A coach gets the day as an open file, and sends remarks back as one.
    owner.set("#file-lock", "nothing: anybody can open it");
    owner.click("#list-file");
    owner.wait_for_text_within("[aria-label=\"File\"] .leaves", "run1.csv", LOADING);
    owner.click("#save-file");
    saved(&folder, "day.zip");
    let coach = fresh(&folder);
    coach.upload("#files", &[&folder.join("day.zip")]);
    coach.wait_for_text_within(".whose", "somebody else's", LOADING);
    coach.click("#place-hand-over");
    remark(&coach, "[aria-label=\"Remarks\"]", "From a file.");
    coach.click("[aria-label=\"Send back\"] summary");
    coach.click("#save-remarks");
    saved(&folder, "remarks-day.json");
    owner.upload("#open-file", &[&folder.join("remarks-day.json")]);
    owner.wait_for_text_within("[aria-label=\"Remarks\"] .remark-list", "From a file.", LOADING);
    owner.assert_no_errors();
    coach.assert_no_errors();
}
