//! The track and the day's sections in a real browser: seen, made, carried to another run, corrected, undone.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use evenkeel_core::findings::Limit;
use evenkeel_core::{Day, align, analyse_now, import};
use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);
const DEMO: [&str; 8] = [
    "Start straight",
    "Rooty traverse",
    "Rock garden",
    "Three berms",
    "Two jumps",
    "Braking-bump chute",
    "Tight left",
    "Finish straight",
];

fn demo_file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean").join(name).canonicalize().unwrap()
}

/// Text files of these names, in a folder of the test's own.
fn files(folder: &str, contents: &[(&str, String)]) -> Vec<PathBuf> {
    let folder = std::env::temp_dir().join(format!("evenkeel-{folder}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let write = |(name, text): &(&str, String)| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path
    };
    contents.iter().map(write).collect()
}

/// The demo day, its first run analysed and its track found.
fn demo(width: u32, height: u32) -> Browser {
    demo_in(Browser::on_site(), width, height)
}

fn demo_in(browser: Browser, width: u32, height: u32) -> Browser {
    browser.open("", width, height, false);
    browser.click("#demo");
    // A first result may be there before the last of the run's clocks is matched; it bends otherwise.
    browser.wait_for_text_within("#section-method", "the run in which they were made", LOADING);
    browser
}

/// The demo's second run comes into view, and its sections when its clocks are matched: the times are core's.
fn second_run(browser: &Browser) {
    let mut day: Day = serde_json::from_slice(&std::fs::read(demo_file("day.json")).unwrap()).unwrap();
    let read = |file: &str| import::read(file, &std::fs::read(demo_file(file)).unwrap()).unwrap().parts;
    let sources: Vec<_> = day.runs[1].logs.iter().flat_map(|log| read(&log.file)).map(Arc::new).collect();
    let file = day.runs[1].logs[1].file.clone();
    day.runs[1].logs[1].clock = align::match_clock(&day, &day.runs[1], &sources, &file).unwrap().clock;
    let track = analyse_now(&day, &day.runs[1], &sources).readout.track.unwrap();
    browser.set("#run", "1");
    for section in &track.sections {
        let time = align::moment::format(*section.time_s.get().unwrap(), 0.01);
        browser.wait_for_text_within(&format!("[data-section=\"{}\"] td.time", section.name), &time, LOADING);
    }
}

/// What the numbers of the run in view mean is said anew by another limit.
fn judge_anew(browser: &Browser) {
    browser.click("#place-read-out");
    browser.click(".limits summary");
    browser.set(&format!("input[aria-label=\"{}\"]", Limit::FrontSagMost.name()), "5");
    browser.wait_for_text_within(".findings", "front: a little more air pressure", LOADING);
}

fn attribute(browser: &Browser, selector: &str, name: &str) -> f64 {
    browser.attribute(selector, name).unwrap_or_default().parse().unwrap_or(f64::NAN)
}

fn cursor_s(browser: &Browser) -> f64 {
    attribute(browser, "#plot", "aria-valuenow")
}

fn along_m(browser: &Browser) -> f64 {
    attribute(browser, "#track", "aria-valuenow")
}

/// The cells of a section's row: from, to, found to, time.
fn row(browser: &Browser, section: &str) -> Vec<String> {
    browser.texts(&format!("[data-section=\"{section}\"] td"))
}

/// m:ss.cc as seconds.
fn seconds(text: &str) -> f64 {
    let (minutes, seconds) = text.split_once(':').unwrap_or_else(|| panic!("{text:?} is no time"));
    minutes.parse::<f64>().unwrap() * 60.0 + seconds.parse::<f64>().unwrap()
}

fn names(browser: &Browser) -> Vec<String> {
    browser.texts(".section-table tbody th button")
}

/// Types a new section, by metres along the track.
fn type_metres(browser: &Browser, name: &str, [from, to]: [&str; 2]) {
    browser.type_text("#new-section", name);
    for (end, metres) in [("from", from), ("to", to)] {
        browser.set(&format!("#section-{end}"), "metres");
        browser.type_text(&format!("#section-{end}-typed"), metres);
    }
}

/// Clicks an element in the middle of the window, where no report of progress lies over it.
fn click(browser: &Browser, selector: &str) {
    // Not before the run's places are those of its clocks.
    browser.wait_for(&format!("{selector}:not(:disabled)"));
    browser.run(
        "document.querySelector(arguments[0]).scrollIntoView({ block: 'center', behavior: 'instant' })",
        vec![selector.into()],
    );
    browser.click(selector);
}

/// Clicks the middle of an element where it is, whatever lies over it.
fn click_at(browser: &Browser, selector: &str) {
    browser.drag(selector, (0.5, 0.5), (0.5, 0.5));
}

#[test]
fn the_demo_day_has_eight_sections_on_its_track() {
    let browser = demo(1440, 900);
    assert_eq!(names(&browser), DEMO);
    assert_eq!(browser.texts(".section-bands button"), DEMO);
    // Their times are what the run takes from the first to the last.
    let times_s: f64 = DEMO.iter().map(|name| seconds(&row(&browser, name)[3])).sum();
    assert!((170.0..180.0).contains(&times_s), "{times_s} s");
    browser.wait_for_text("#track-source", "From GPS, north up");
    assert_eq!(browser.texts(".track-picture .north").len(), 1);
    // Every section's name stands beside the track, or no name does.
    let drawn = browser.texts(".track-picture text:not(.end-name)");
    assert!(DEMO.iter().all(|name| drawn.iter().any(|text| text == name)), "{drawn:?}");

    // A click on the track moves the cursor there: to the finish, and to the start.
    click_at(&browser, ".track-picture .finish-mark");
    // The bike rolls out behind the last section, which ends at 1895 m.
    assert!((1890.0..1960.0).contains(&along_m(&browser)), "{} m", along_m(&browser));
    let finish_s = cursor_s(&browser);
    click_at(&browser, ".track-picture .start-mark");
    assert!(along_m(&browser) < 25.0, "{} m", along_m(&browser));
    assert!(finish_s - cursor_s(&browser) > 150.0);

    // By keyboard: a metre, ten, a hundred; and not a sample more by the Ride's own keys.
    browser.run("document.querySelector('#track').focus()", Vec::new());
    browser.press("PageUp");
    let from_m = along_m(&browser);
    for (key, step_m) in [("ArrowRight", 1.0), ("Shift+ArrowRight", 10.0), ("ArrowLeft", -1.0)] {
        let before_m = along_m(&browser);
        browser.press(key);
        let moved_m = along_m(&browser) - before_m;
        assert!((moved_m - step_m).abs() < 0.11, "{key} went {moved_m} m");
    }
    assert!((along_m(&browser) - from_m - 10.0).abs() < 0.11);
    browser.press("End");
    assert!((along_m(&browser) - attribute(&browser, "#track", "aria-valuemax")).abs() < 0.11);
    // The dot is where the slider says: at the end of the way.
    let gap: f64 = serde_json::from_value(browser.run(
        "const [a, b] = ['.place', '.finish-mark'].map((s) => document.querySelector('.track-picture ' + s).getBoundingClientRect());
         return Math.hypot(a.x + a.width / 2 - b.x - b.width / 2, a.y + a.height / 2 - b.y - b.height / 2);",
        Vec::new(),
    ))
    .unwrap();
    assert!(gap < 3.0, "the dot is {gap} px off");

    // Another channel has its own scale, and its numbers as a table.
    let speeds = browser.texts(".colour-scale");
    let lean = browser.run(
        "return [...document.querySelectorAll('#track-colour option')].find((o) => o.textContent == 'Lean').value",
        Vec::new(),
    );
    browser.set("#track-colour", lean.as_str().unwrap());
    browser.wait_for_text(".colour-scale", "°");
    assert_ne!(browser.texts(".colour-scale"), speeds);
    click(&browser, ".as-table summary");
    browser.wait_for_text(".as-table thead", "Lean");
    assert_eq!(browser.texts(".as-table tbody tr").len(), 8);
    browser.assert_no_errors();
}

#[test]
fn a_section_chosen_anywhere_is_in_view_everywhere() {
    let browser = demo(1440, 900);
    let shown_by_strip = || browser.texts(".section-bands button[aria-current]");
    let visible = || browser.texts(".section-bands button:not([hidden])");
    click(&browser, "[data-section=\"Rock garden\"] button");
    assert_eq!(shown_by_strip(), ["Rock garden"]);
    assert_eq!(visible(), ["Rock garden"]);
    browser.wait_for_text("[data-number=\"Time\"] td", &row(&browser, "Rock garden")[3]);
    // From the numbers.
    browser.set("#number-section", "3");
    assert_eq!(
        (shown_by_strip(), visible()),
        (vec!["Three berms".to_owned()], vec!["Three berms".to_owned()])
    );
    assert_eq!(browser.texts(".section-table .chosen th button"), ["Three berms"]);
    // The same section in the next run.
    second_run(&browser);
    browser.wait_for_text("#section-method", "how the track bends");
    browser.wait_for_text("[data-section=\"Three berms\"] td", "±");
    assert_eq!(visible(), ["Three berms"]);
    // Back to the whole run.
    browser.set("#number-section", "whole");
    assert_eq!(visible(), DEMO);
    browser.assert_no_errors();
}

#[test]
fn no_section_is_made_while_clocks_are_being_matched() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.run(
        "window.heldBack = [];
         new MutationObserver(() => {
           const form = document.querySelector('.sections > fieldset');
           if (form && heldBack.at(-1) !== form.disabled) heldBack.push(form.disabled);
         }).observe(document, { subtree: true, childList: true, attributes: true });",
        Vec::new(),
    );
    browser.click("#demo");
    browser.wait_for("#make-section:not(:disabled)");
    browser.wait_for_text_within("#section-method", "the run in which they were made", LOADING);
    assert_eq!(browser.run("return heldBack", Vec::new()), json!([true, false]));
    browser.assert_no_errors();
}

#[test]
fn a_section_made_in_one_run_is_found_in_the_next_and_can_be_corrected() {
    let browser = demo(1440, 900);
    // From the stretch in view: that of the rock garden.
    click(&browser, "[data-section=\"Rock garden\"] button");
    browser.type_text("#new-section", "The same again");
    click(&browser, "#make-section");
    browser.wait_for_text(".section-table", "The same again");
    browser.wait_for_text("[data-section=\"The same again\"] td.time", ":");
    let (original, copy) = (row(&browser, "Rock garden"), row(&browser, "The same again"));
    for (a, b) in original[..2].iter().zip(&copy) {
        assert!((a.parse::<f64>().unwrap() - b.parse::<f64>().unwrap()).abs() <= 1.0, "{a} m, {b} m");
    }
    assert!((seconds(&original[3]) - seconds(&copy[3])).abs() < 0.02);
    // By metres; a name that is taken is refused, and nothing typed is lost.
    type_metres(&browser, "The same again", ["500", "600"]);
    click(&browser, "#make-section");
    browser.wait_for_text(".make-section .wrong", "already");
    browser.type_text("#new-section", ", shorter");
    click(&browser, "#make-section");
    browser.wait_for_text("[data-section=\"The same again, shorter\"] td", "600");
    // In the next run both are there with their times.
    second_run(&browser);
    browser.wait_for_text("#section-method", "how the track bends");
    browser.wait_for_text("[data-section=\"The same again, shorter\"] td.time", ":");
    let there = row(&browser, "The same again");
    assert!(there[2].starts_with('±'), "{there:?}");
    assert!((seconds(&there[3]) - seconds(&row(&browser, "Rock garden")[3])).abs() < 0.05);

    // This run passes its start two metres on: what is said by hand holds, and makes the section shorter.
    click(&browser, "[data-section=\"The same again, shorter\"] button");
    browser.run(
        "const track = document.querySelector('#track'), press = (key, shiftKey) => track.dispatchEvent(new KeyboardEvent('keydown', { key, shiftKey, bubbles: true }));
         press('Home', false); for (let k = 0; k < 50; k++) press('ArrowRight', true); press('ArrowRight', false); press('ArrowRight', false);",
        Vec::new(),
    );
    assert!((along_m(&browser) - 502.0).abs() < 1.0, "{} m", along_m(&browser));
    let time_s = || seconds(&row(&browser, "The same again, shorter")[3]);
    let before_s = time_s();
    click(&browser, "#found-start");
    browser.wait_for_text(".found-by-hand", "500 m");
    let start = Instant::now();
    while time_s() == before_s && start.elapsed() < Duration::from_secs(15) {
        std::thread::sleep(Duration::from_millis(25));
    }
    // Two metres at 8 to 12 m/s.
    assert!((0.05..0.5).contains(&(before_s - time_s())), "{before_s} s became {} s", time_s());
    browser.wait_for_text("#undo-section", "found by hand");
    click(&browser, "#undo-section");
    browser.wait_until_gone(".found-by-hand");
    browser.wait_for_text("[data-section=\"The same again, shorter\"] td.time", &format!("{before_s:.2}"));

    // An edge moved to the cursor; undone; deleted; undone.
    click(&browser, "#move-start");
    browser.wait_for_text("[data-section=\"The same again, shorter\"] td", "502");
    click(&browser, "#undo-section");
    browser.wait_for_text("[data-section=\"The same again, shorter\"] td", "500");
    click(&browser, "#delete-section");
    browser.wait_until_gone("[data-section=\"The same again, shorter\"]");
    browser.wait_for_text("#undo-section", "shorter deleted");
    click(&browser, "#undo-section");
    browser.wait_for("[data-section=\"The same again, shorter\"]");
    assert_eq!(names(&browser).len(), DEMO.len() + 2);
    browser.assert_no_errors();
}

/// Counts workers that began and that were ended, gives those that are there 300 MB more than they have when it is asked
/// to, and keeps all but the first from the network.
const LARGE_WORKER: &str = r#"
  const alone = `self.fetch = self.importScripts = () => { throw new Error("there is no network") };\n`;
  const grow = `{
    const { instantiate } = WebAssembly;
    WebAssembly.instantiate = async (...given) => {
      const made = await instantiate.apply(WebAssembly, given);
      const { memory } = (made.instance ?? made).exports;
      new BroadcastChannel("grow").onmessage = () => memory.grow(4700);
      return made;
    };
  }`;
  window.workers = window.ended = 0;
  const { terminate } = Worker.prototype;
  Worker.prototype.terminate = function () { window.ended += 1; terminate.apply(this); };
  window.Blob = new Proxy(Blob, {
    construct(Real, [parts = [], options]) {
      const starts = options?.type === "text/javascript";
      return new Real(starts ? [window.workers ? alone : grow, ...parts] : parts, options);
    },
  });
  window.Worker = new Proxy(Worker, {
    construct(Real, given) {
      window.workers += 1;
      return new Real(...given);
    },
  });
"#;

#[test]
fn a_worker_that_has_grown_large_makes_room_and_nothing_it_knew_is_lost() {
    let browser = Browser::on_site();
    browser.run_before_load(LARGE_WORKER);
    let browser = demo_in(browser, 1440, 900);
    // Every run is read out, and every file kept.
    browser.wait_for_text_within(".kept-state", "kept", LOADING);
    browser.run("new BroadcastChannel('grow').postMessage('now');", Vec::new());
    // The next answer tells the page how large it is.
    browser.set("#run", "1");
    browser.set("#run", "0");
    browser.wait_until("return workers === 2 && ended === 1", LOADING);
    // The way of the run in view: a section is found on it.
    type_metres(&browser, "In the middle", ["500", "600"]);
    click(&browser, "#make-section");
    browser.wait_for_text("[data-section=\"In the middle\"] td.time", ":");
    click(&browser, "#undo-section");
    browser.wait_until_gone("[data-section=\"In the middle\"]");
    // Its numbers.
    judge_anew(&browser);
    // The samples of the other, which are read again.
    browser.click("#place-ride");
    second_run(&browser);
    assert_eq!(browser.run("return [workers, ended]", Vec::new()), json!([2, 1]));
    browser.assert_no_errors();
}

#[test]
fn a_worker_that_stops_is_started_again_and_reads_everything_anew() {
    let browser = Browser::on_site();
    browser.run_before_load(
        r#"window.Blob = new Proxy(Blob, {
            construct(Real, [parts = [], options]) {
                const stop = `new BroadcastChannel("stop").onmessage = () => { throw new Error("out of memory"); };`;
                return new Real(options?.type === "text/javascript" ? [stop, ...parts] : parts, options);
            },
        });"#,
    );
    let browser = demo_in(browser, 1440, 900);
    browser.wait_for_text_within(".kept-state", "kept", LOADING);
    browser.run("new BroadcastChannel('stop').postMessage('now');", Vec::new());
    browser.wait_for_text(".notices", "out of memory. It is started again");
    // Before it is there, and of what it does not know any more.
    judge_anew(&browser);
    browser.click("#place-ride");
    second_run(&browser);
}

/// The receiver's fixes of the demo's first run: time on its own clock, s, and "latitude, longitude".
fn fixes() -> Vec<(f64, String)> {
    let text = std::fs::read_to_string(demo_file("run-1-motion.csv")).unwrap();
    let fix = |line: &str| {
        let cells: Vec<String> = line.split(';').map(|cell| cell.replace(',', ".")).collect();
        let [.., latitude, longitude] = &cells[..] else { return None };
        let place = format!("{latitude}, {longitude}");
        (!latitude.is_empty()).then(|| Some((cells[0].parse().ok()?, place)))?
    };
    text.lines().skip(1).filter_map(fix).collect()
}

#[test]
fn sections_lie_between_gps_gates_and_between_all_marks() {
    let browser = demo(1440, 900);
    let fixes = fixes();
    let [from, to] = [2, 3].map(|fifth| &fixes[fixes.len() * fifth / 5]);
    browser.type_text("#new-section", "Between gates");
    browser.set("#section-from", "gate");
    browser.set("#section-to", "gate");
    browser.type_text("#section-from-typed", &from.1);
    browser.type_text("#section-to-typed", "nowhere");
    click(&browser, "#make-section");
    browser.wait_for_text(".make-section .wrong", "to: \"nowhere\" is not a place");
    browser.clear("#section-to-typed");
    browser.type_text("#section-to-typed", &to.1);
    click(&browser, "#make-section");
    browser.wait_for_text("[data-section=\"Between gates\"] td.time", ":");
    // The receiver says when it was at each; it is late by the same at both.
    let passed_s = seconds(&row(&browser, "Between gates")[3]);
    assert!((passed_s - (to.0 - from.0)).abs() < 0.3, "{passed_s} s, {} s", to.0 - from.0);

    for share in [0.3, 0.5, 0.7] {
        browser.drag("#plot", (share, 0.5), (share, 0.5));
        browser.press("m");
    }
    let marks = browser.texts(".flags .flag").len();
    click(&browser, "#make-between-marks");
    browser.wait_for_text("#undo-section", "sections made");
    assert_eq!(names(&browser).len(), DEMO.len() + 1 + marks - 1);
    browser.assert_no_errors();
}

#[test]
fn a_split_list_asks_before_it_replaces_and_a_bad_one_says_its_line() {
    let bad = "name,ends after\nUpper,500\nLower,five hundred\n".to_owned();
    let paths =
        files("splits", &[("halves.csv", "Upper half,900\nLower half,1800\n".to_owned()), ("bad.csv", bad)]);
    let browser = demo(390, 844);
    browser.upload("#splits", &[&paths[1]]);
    browser.wait_for_text(".split-list .wrong", "bad.csv:3:1");
    browser.wait_for_text(".split-list .wrong", "write metres (1234.5) or m:ss.sss");
    assert_eq!(names(&browser), DEMO);

    browser.upload("#splits", &[&paths[0]]);
    browser.wait_for_text(".question", "halves.csv makes 2 sections; the day has 8");
    assert_eq!(names(&browser), DEMO);
    click(&browser, "#splits-add");
    browser.wait_for_text("[data-section=\"Lower half\"] td.time", ":");
    assert_eq!(names(&browser).len(), 10);
    click(&browser, "#undo-section");
    browser.upload("#splits", &[&paths[0]]);
    click(&browser, "#splits-replace");
    browser.wait_for_text("[data-section=\"Lower half\"] td.time", ":");
    assert_eq!(names(&browser), ["Upper half", "Lower half"]);
    // The day's own list, whose times are of the first run.
    browser.upload("#splits", &[&demo_file("splits.csv")]);
    click(&browser, "#splits-replace");
    browser.wait_for_text("[data-section=\"Finish straight\"] td.time", ":");
    assert_eq!(names(&browser), DEMO);
    browser.assert_no_errors();
}

/// The demo's first run as its loggers would have written it without a GPS receiver.
fn without_gps() -> Vec<PathBuf> {
    let motion = std::fs::read_to_string(demo_file("run-1-motion.csv")).unwrap();
    let kept: String =
        motion.lines().map(|line| line.split(';').take(10).collect::<Vec<_>>().join(";") + "\n").collect();
    assert!(
        kept.lines().next().is_some_and(|header| !header.contains("Lat") && header.contains("Bar acc Z"))
    );
    let suspension = std::fs::read_to_string(demo_file("run-1-suspension.csv")).unwrap();
    files("no-gps", &[("run-1-suspension.csv", suspension), ("run-1-motion.csv", kept)])
}

#[test]
fn a_track_without_gps_is_reckoned_and_says_so_and_first_sections_make_their_course() {
    let paths = without_gps();
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&paths[0], &paths[1]]);
    browser.wait_for_text_within(".files", "run-1-motion.csv", LOADING);
    browser.click("text=Open in Ride");
    browser.wait_for_text_within("#track-source", "Dead reckoned from speed and turning", LOADING);
    assert!(browser.texts(".track-picture .north").is_empty());
    // The start is on the left.
    let right: Value = browser.run(
        "const x = (s) => document.querySelector('.track-picture ' + s).getBoundingClientRect().x; return x('.finish-mark') - x('.start-mark');",
        Vec::new(),
    );
    assert!(right.as_f64().unwrap() > 100.0, "{right}");

    // A day without sections: a gate needs a GPS, times and metres do not.
    browser.wait_for_text(".sections", "None yet");
    browser.set("#section-from", "gate");
    browser.type_text("#section-from-typed", "0.001, 0.001");
    click(&browser, "#make-section");
    browser.wait_for_text(".make-section .wrong", "GPS");
    browser.set("#section-from", "metres");
    browser.clear("#section-from-typed");
    browser.type_text("#section-from-typed", "100");
    browser.set("#section-to", "metres");
    browser.type_text("#section-to-typed", "400");
    click(&browser, "#make-section");
    browser.wait_for_text("[data-section=\"Section 1\"] td.time", ":");
    browser.wait_for_text("#section-method", "the run in which they were made");
    assert_eq!(row(&browser, "Section 1")[2], "exact");
    browser.wait_for_text_within("#number-section", "Section 1", LOADING);
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}
