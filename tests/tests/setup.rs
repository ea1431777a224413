//! The set-up sheet, what changed, the runs left and the question before the run, as they are typed in a browser.

use std::path::PathBuf;
use std::time::Duration;

use evenkeel_tests::browser::Browser;
use serde_json::json;

const LOADING: Duration = Duration::from_secs(60);

/// Half a minute of two ends and a speed.
fn log() -> String {
    (0..3000).fold("time [s],fork travel [mm],rear travel [mm],speed [m/s]\n".to_owned(), |text, i| {
        let t = f64::from(i) * 0.01;
        let [front, rear] = [50.0 + 20.0 * (9.0 * t).sin(), 55.0 + 25.0 * (9.0 * t).sin()];
        text + format!("{t:.2},{front:.2},{rear:.2},8\n").as_str()
    })
}

fn files(names: &[&str]) -> Vec<PathBuf> {
    let folder = std::env::temp_dir().join(format!("evenkeel-setup-{}-{}", names[0], std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let write = |name: &&str| {
        let path = folder.join(name);
        std::fs::write(&path, log()).unwrap();
        path
    };
    names.iter().map(write).collect()
}

fn text(browser: &Browser, selector: &str) -> String {
    browser.texts(selector).join("\n").replace('\u{a0}', " ")
}

#[test]
fn a_sheet_is_typed_and_the_next_runs_are_planned() {
    let logs = files(&["run1.csv", "run2.csv"]);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&logs[0]]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);

    // The first run's sheet: units as typed, a slip of the unit doubted, words kept, a line of one's own.
    browser.click("#run-0-sheet summary");
    browser.write_over("#run-0-front-spring", "60");
    browser.wait_for_text("#run-0-front-spring-doubt", "is it 60");
    browser.set("#run-0-front-spring-unit", "psi");
    assert_eq!(text(&browser, "#run-0-front-spring-doubt"), "");
    assert_eq!(browser.value("#run-0-front-spring"), "60");
    browser.write_over("#run-0-rear-spring", "350 lbf/in");
    assert_eq!(browser.value("#run-0-rear-spring-unit"), "lbf/in");
    browser.write_over("#run-0-front-rebound", "8");
    browser.write_over("#run-0-rear-rebound", "8");
    browser.write_over("#run-0-rear-fast-rebound", "wide open");
    browser.wait_for_text("#run-0-rear-fast-rebound-doubt", "kept as words");
    browser.click("#run-0-add-line");
    browser.write_over("#run-0-line-0-name", "preload");
    browser.write_over("#run-0-line-0-value", "2 turns");
    browser.wait_for_text("#run-0-sheet summary", "rear: spring 350");

    // The next run is a copy; one value changed says what that does.
    browser.write_over("#runs-left", "3");
    browser.click("#plan-next");
    browser.wait_for_text(".coming .changed", "Set up as run1");
    assert_eq!(browser.value("#coming-0-front-spring"), "60");
    assert_eq!(browser.value("#coming-0-rear-fast-rebound"), "wide open");
    browser.write_over("#coming-0-front-rebound", "10");
    browser.wait_for_text(".coming .changed", "front rebound 8 → 10");
    assert!(
        text(&browser, ".coming .changed li").ends_with("clicks from closed (faster: comes back out sooner)")
    );
    assert_eq!(text(&browser, "#coming-0-front-rebound-doubt"), "was 8");
    assert!(browser.texts(".two-at-once").is_empty());

    // A second one is warned of, and taken back.
    browser.write_over("#coming-0-front-spring", "64");
    browser.wait_for_text(
        ".two-at-once",
        "Two things change at once since run1: front spring and front rebound",
    );
    browser.click("#undo-sheet");
    browser.wait_until_gone(".two-at-once");
    assert_eq!(browser.value("#coming-0-front-spring"), "60");

    // The question is named before the run, and going back is one click.
    browser.set("#coming-0-metric", "front.not_recovered_share");
    browser.wait_for_text("#coming-0-question summary", "less is better");
    browser.write_over("#coming-0-worth", "8");
    browser.wait_for_text("#coming-0-question summary", "by 8");
    browser.wait_for_text("#coming-0-question .when", "Named before the run");
    browser.click("#plan-way-back");
    browser.wait_for_text(".coming:nth-of-type(2) .changed", "front rebound 10 → 8");
    browser.wait_for_text("#coming-1-question summary", "hits not recovered, front");
    assert_eq!(browser.attribute("#plan-way-back", "aria-disabled").as_deref(), Some("true"));

    // All is there after other places were looked at.
    let seen = |browser: &Browser| {
        [".run .changed", ".coming .changed", "summary", ".when"].map(|selector| text(browser, selector))
    };
    let before = seen(&browser);
    browser.click("#place-check");
    browser.wait_for(".channel");
    browser.click("#place-day");
    browser.wait_for("#coming-1-front-rebound");
    // Sheets of ridden runs are folded again.
    assert_eq!(seen(&browser), before);
    assert_eq!(browser.value("#runs-left"), "3");
    assert_eq!(browser.value("#run-0-line-0-value"), "2 turns");

    // The next log takes the first planned sheet; its question stays one that was named before.
    browser.upload("#files", &[&logs[1]]);
    browser.wait_for("#run-1-sheet");
    browser.wait_for_text(".run:nth-child(2) .changed", "front rebound 8 → 10");
    assert_eq!(browser.value("#runs-left"), "2");
    assert_eq!(browser.texts(".coming").len(), 1);
    let question = |part: &str| format!("#run-1-question {part}");
    browser.click(&question("summary"));
    browser.wait_for_text(&question(".when"), "Named before the run");
    // What is picked with the log there is marked as such.
    browser.write_over("#run-1-worth", "2");
    browser.wait_for_text(&question(".when"), "after the run's log was read");
    browser.click("#undo-sheet");
    browser.wait_for_text(&question(".when"), "Named before the run");
    browser.assert_no_errors();
}

fn focused(browser: &Browser) -> String {
    browser.run("return document.activeElement.id", Vec::new()).as_str().unwrap_or_default().to_owned()
}

/// Walks by Tab until this holds the focus, which must be outlined.
fn tab_to(browser: &Browser, id: &str) {
    for _ in 0..150 {
        browser.press("Tab");
        if focused(browser) == id {
            let script = "const s = getComputedStyle(document.activeElement); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2;";
            assert_eq!(browser.run(script, Vec::new()), json!(true), "{id} shows no focus");
            return;
        }
    }
    panic!("Tab does not reach {id}");
}

/// On a phone's width, by keys alone: copy, change a click, go back.
#[test]
fn the_next_run_is_planned_by_keyboard() {
    let logs = files(&["run7.csv"]);
    let browser = Browser::on_site();
    browser.open("", 390, 844, true);
    browser.upload("#files", &[&logs[0]]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    tab_to(&browser, "plan-next");
    browser.press("Enter");
    tab_to(&browser, "coming-0-rear-rebound");
    browser.press("6");
    // Nothing is known of the bike in the run before.
    browser.press("Tab");
    browser.wait_for_text(".coming .changed", "is not written");
    browser.run("document.activeElement.blur(); window.scrollTo(0, 0);", Vec::new());
    tab_to(&browser, "plan-next");
    browser.press("Enter");
    tab_to(&browser, "coming-1-rear-rebound");
    browser.press("ArrowDown");
    browser.wait_for_text(".coming .changed", "rear rebound 6 → 5");
    browser.press("ArrowUp");
    browser.press("ArrowUp");
    browser.wait_for_text(".coming .changed", "rear rebound 6 → 7");
    for _ in 0..150 {
        browser.press("Shift+Tab");
        if focused(&browser) == "plan-way-back" {
            break;
        }
    }
    browser.press("Enter");
    browser.wait_for_text(".coming:nth-of-type(3) .changed", "rear rebound 7 → 6");
    let wide = browser.run("return document.documentElement.scrollWidth", Vec::new());
    assert!(wide.as_f64().unwrap() <= 390.0, "{wide}");
    browser.assert_no_errors();
}
