//! The Ride by keyboard alone: no pointer is moved in here, the focus is always seen, and leads out again.

use std::time::Duration;

use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);

/// What holds the focus: its id, else its name, else its text.
fn focused(browser: &Browser) -> String {
    let script = "const e = document.activeElement;
        return e === document.body ? '' : e.id || e.getAttribute('aria-label') || e.textContent.trim();";
    browser.run(script, Vec::new()).as_str().unwrap_or_default().to_owned()
}

/// Walks by Tab until this holds the focus, which must be outlined wherever it stops.
fn tab_to(browser: &Browser, name: &str) {
    for _ in 0..150 {
        browser.press("Tab");
        let script = "const e = document.activeElement; const s = getComputedStyle(e);
            const seen = e === document.body || (s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2);
            return [seen, e.id === arguments[0]];";
        let found = browser.run(script, vec![name.into()]);
        assert_eq!(found[0], json!(true), "{} shows no focus", focused(browser));
        if found[1] == json!(true) {
            return;
        }
    }
    panic!("Tab does not reach {name}");
}

fn type_keys(browser: &Browser, text: &str) {
    for character in text.chars() {
        browser.press(&character.to_string());
    }
}

fn cursor(browser: &Browser) -> f64 {
    browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap()
}

fn rows(browser: &Browser) -> Vec<String> {
    let titles = browser.texts(".row-label h3").into_iter();
    titles.map(|title| title.rsplit_once(' ').map_or(title.clone(), |(name, _)| name.to_owned())).collect()
}

fn shown(browser: &Browser, selector: &str) -> f64 {
    let text = browser.texts(selector).swap_remove(0);
    text.trim_end_matches(|c: char| !c.is_ascii_digit()).parse().unwrap_or_else(|_| panic!("{text}"))
}

fn height(browser: &Browser, row: usize) -> f64 {
    let script =
        "return document.querySelectorAll('.row-label')[arguments[0]].getBoundingClientRect().height;";
    browser.run(script, vec![Value::from(row)]).as_f64().unwrap()
}

#[test]
fn everything_in_the_ride_is_done_by_keyboard() {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.wait_for("#demo");
    tab_to(&browser, "demo");
    browser.press("Enter");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);

    // The cursor, sample by sample and to the ends.
    browser.press("Home");
    let start = cursor(&browser);
    browser.press("ArrowRight");
    browser.press("ArrowRight");
    assert!((cursor(&browser) - start - 2.0 / 250.0).abs() < 0.007, "{}", cursor(&browser) - start);
    browser.press("End");
    let end = cursor(&browser);
    assert!(end - start > 100.0);
    browser.press("Home");

    // A range between two cursors, shown alone, and back.
    for _ in 0..5 {
        browser.press("Shift+ArrowRight");
    }
    let from = cursor(&browser);
    browser.press("[");
    for _ in 0..60 {
        browser.press("Shift+ArrowRight");
    }
    browser.press("]");
    assert!((shown(&browser, "#range-length") - (cursor(&browser) - from)).abs() < 1e-3);
    browser.press("z");
    browser.press("Home");
    assert!(cursor(&browser) < from);
    browser.press("Backspace");

    // Values over the range: between its lowest and its highest lies its mean.
    browser.press("v");
    let value = |what: &str| format!("[data-value=\"axle travel front\"] .spanned .{what}");
    browser.wait_for_text(&value("max"), ".");
    let [min, mean, max] = ["min", "mean", "max"].map(|what| shown(&browser, &value(what)));
    assert!(min <= mean && mean <= max, "{min} {mean} {max}");
    browser.press("v");
    browser.press("Escape");
    browser.wait_until_gone("#range-length");

    // Two marks, the first named; from one to the other.
    browser.press("m");
    let first = cursor(&browser);
    browser.press("End");
    browser.press("m");
    assert_eq!(browser.texts(".marks li").len(), 2);
    browser.press("p");
    assert!((cursor(&browser) - first).abs() < 1e-6);
    browser.press("n");
    assert!((cursor(&browser) - end).abs() < 1e-6);

    // Rows: one hidden, one moved, one grown, by the menu alone.
    let usual = rows(&browser);
    tab_to(&browser, "rows");
    browser.press("Enter");
    tab_to(&browser, "row-pitch-shown");
    browser.press("Space");
    browser.press("Tab");
    browser.press("Tab");
    browser.press("Tab");
    browser.press("Tab");
    assert_eq!(focused(&browser), "row-pitch-taller");
    let hidden: Vec<_> = usual.iter().filter(|row| *row != "Pitch").cloned().collect();
    assert_eq!(rows(&browser), hidden);
    tab_to(&browser, "row-speed-up");
    browser.press("Enter");
    browser.press("Enter");
    let place = |rows: &[String], name: &str| rows.iter().position(|row| row == name).unwrap();
    assert_eq!(place(&rows(&browser), "Speed") + 2, place(&hidden, "Speed"), "{:?}", rows(&browser));
    tab_to(&browser, "row-speed-taller");
    browser.press("Enter");
    browser.press("Enter");
    let speed = place(&rows(&browser), "Speed");
    let ratio = height(&browser, speed) / height(&browser, 0);
    assert!((ratio - 2.0).abs() < 0.05, "{ratio}");

    // What the rider said is offered first; its rows come with a reason.
    browser.press("Escape");
    assert_eq!(focused(&browser), "rows");
    browser.press("Enter");
    browser.press("Tab");
    browser.press("Enter");
    browser.wait_for_text(".complaint-note", "hangs low");
    browser.wait_for_text(".complaint-note", "does not come back");
    assert_eq!(rows(&browser), ["Axle travel", "Ride height", "Axle speed", "Pitch"]);
    // Back to what was arranged, then to what is usual.
    browser.press("Enter");
    assert_eq!(place(&rows(&browser), "Speed"), speed);
    tab_to(&browser, "rows-usual");
    browser.press("Enter");
    assert_eq!(rows(&browser), usual);
    browser.press("Escape");

    // A typed video time; letters typed in a field are no keys.
    tab_to(&browser, "video-time");
    type_keys(&browser, "mnz");
    for _ in 0..3 {
        browser.press("Backspace");
    }
    assert_eq!(browser.texts(".marks li").len(), 2);
    type_keys(&browser, "2:00.000");
    browser.press("Enter");
    browser.wait_for_text("#cursor-video", "2:00.000");

    // The list of keys opens, closes, and gives the focus back.
    browser.press("Tab");
    let before = focused(&browser);
    browser.press("?");
    browser.wait_for_text("dialog[open]", "zoom to the range");
    browser.press("Escape");
    browser.wait_until_gone("dialog[open]");
    assert_eq!(focused(&browser), before);

    // No trap: from the top of the page Tab leads to the theme button again.
    tab_to(&browser, "place-day");
    browser.assert_no_errors();
}

#[test]
fn every_channel_gets_its_own_row_and_rows_that_do_not_fit_scroll() {
    let browser = Browser::on_site();
    browser.open("", 1440, 480, false);
    browser.click("#demo");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    let usual = rows(&browser);
    browser.click("#rows");
    browser.click("#rows-apart");
    browser.press("Escape");
    // The demo's two files log fifteen channels that a row can show.
    assert_eq!(rows(&browser).len(), 15, "{:?}", rows(&browser));
    for row in 0..15 {
        assert!(height(&browser, row) >= 39.9, "row {row}: {}", height(&browser, row));
    }
    let axis = "const box = document.querySelector('.plot .times').getBoundingClientRect(); return box.bottom <= innerHeight + 1;";
    assert_eq!(browser.run(axis, Vec::new()), json!(true), "the time axis is out of sight");
    browser.run("document.querySelector('.pane').scrollTop = 9999;", Vec::new());
    assert_eq!(browser.run(axis, Vec::new()), json!(true), "the time axis is out of sight");
    browser.click("#rows");
    browser.click("#rows-apart");
    assert_eq!(rows(&browser), usual);
    browser.assert_no_errors();
}
