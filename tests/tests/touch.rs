//! Fingers on a phone-sized screen: tap, pan, pinch, and the page still scrolls.

use std::time::Duration;

use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);

/// Fingers that move from one set of points to another, CSS px, and are lifted.
fn touch(browser: &Browser, from: &[(f64, f64)], to: &[(f64, f64)]) {
    let points = |share: f64| -> Vec<Value> {
        let at = |from: f64, to: f64| from + (to - from) * share;
        let fingers = from.iter().zip(to).enumerate();
        fingers.map(|(id, (a, b))| json!({ "x": at(a.0, b.0), "y": at(a.1, b.1), "id": id })).collect()
    };
    let send = |kind: &str, points: Vec<Value>| {
        browser.devtools("Input.dispatchTouchEvent", json!({ "type": kind, "touchPoints": points }));
    };
    send("touchStart", points(0.0));
    if from != to {
        for step in 1..=8 {
            send("touchMove", points(f64::from(step) / 8.0));
        }
    }
    send("touchEnd", Vec::new());
}

/// Left, top, width and height of the plot as far as it can be seen.
fn plot(browser: &Browser) -> [f64; 4] {
    let script = "const b = document.querySelector('#plot').getBoundingClientRect();
        const top = Math.max(b.top, 0); return [b.left, top, b.width, Math.min(b.bottom, innerHeight) - top];";
    serde_json::from_value(browser.run(script, Vec::new())).unwrap()
}

fn cursor(browser: &Browser) -> f64 {
    browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap()
}

/// Time at a place across the plot, found by a tap there.
fn tapped(browser: &Browser, across: f64) -> f64 {
    let [left, top, width, height] = plot(browser);
    let at = (left + across * width, top + height / 2.0);
    touch(browser, &[at], &[at]);
    cursor(browser)
}

#[test]
fn tap_pan_and_pinch_do_what_fingers_mean() {
    let browser = Browser::on_site();
    browser.devtools("Emulation.setTouchEmulationEnabled", json!({ "enabled": true, "maxTouchPoints": 2 }));
    browser.open("", 390, 844, false);
    browser.wait_for("#demo");
    browser.run("document.querySelector('#demo').click()", Vec::new());
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);

    let (left, right) = (tapped(&browser, 0.1), tapped(&browser, 0.9));
    let whole_span = (right - left) / 0.8;
    assert!(whole_span > 100.0, "{whole_span}");

    // Two fingers that part show a third of the time, about what lay between them.
    let [x, y, width, height] = plot(&browser);
    let at = |across: f64, down: f64| (x + across * width, y + down * height);
    let middle = tapped(&browser, 0.5);
    touch(&browser, &[at(0.4, 0.5), at(0.6, 0.52)], &[at(0.2, 0.5), at(0.8, 0.52)]);
    let (left, right) = (tapped(&browser, 0.1), tapped(&browser, 0.9));
    let span = (right - left) / 0.8;
    assert!((span * 3.0 / whole_span - 1.0).abs() < 0.05, "{span} of {whole_span}");
    assert!((tapped(&browser, 0.5) - middle).abs() < 0.02 * span);

    // One finger moves the picture along with it, and no cursor.
    let before = cursor(&browser);
    touch(&browser, &[at(0.7, 0.5)], &[at(0.3, 0.5)]);
    assert_eq!(cursor(&browser), before);
    assert!((tapped(&browser, 0.1) - left - 0.4 * span).abs() < 0.02 * span);

    // A finger that goes up scrolls the page, on the traces too.
    let scrolled = || browser.run("return scrollY;", Vec::new()).as_f64().unwrap();
    let (was, place) = (scrolled(), tapped(&browser, 0.1));
    touch(&browser, &[at(0.5, 0.8)], &[at(0.5, 0.3)]);
    assert!(scrolled() > was + 50.0, "{} after {was}", scrolled());
    assert!((tapped(&browser, 0.1) - place).abs() < 0.02 * span);
    browser.assert_no_errors();
}
