//! Every place of the page, checked by axe-core (run live in the page): nothing serious or critical, in light
//! and dark, on a laptop and on a phone.

use std::process::Command;
use std::time::Duration;

use evenkeel_tests::browser::Browser;
use serde_json::Value;

const LOADING: Duration = Duration::from_secs(60);

/// The rules as the Python package carries them.
fn axe() -> String {
    let python =
        std::env::var_os("EVENKEEL_PYTHON").expect("EVENKEEL_PYTHON is not set: run `cargo xtask test`");
    let where_it_is = "import axe_core_python, pathlib; print(next(pathlib.Path(axe_core_python.__file__).parent.rglob('axe.min.js')))";
    let found = Command::new(python).args(["-c", where_it_is]).output().unwrap();
    assert!(found.status.success(), "{}", String::from_utf8_lossy(&found.stderr));
    std::fs::read_to_string(String::from_utf8(found.stdout).unwrap().trim()).unwrap()
}

/// In light and in dark, leaving the page as it was.
fn assert_clean(browser: &Browser, place: &str) {
    let run = "return axe.run(document, { resultTypes: ['violations'] }).then((result) => result.violations
        .filter((found) => ['serious', 'critical'].includes(found.impact))
        .map((found) => `${found.id}: ${found.help}\\n` + found.nodes.slice(0, 5).map((node) => '  ' + node.html.slice(0, 160) + ' ' + node.failureSummary).join('\\n')));";
    let theme = "document.querySelector('.theme').click();
        return new Promise((done) => setTimeout(() => done(document.documentElement.dataset.theme)));";
    for _ in 0..2 {
        let theme = browser.run(theme, Vec::new());
        let found: Vec<String> = serde_json::from_value(browser.run(run, Vec::new())).unwrap();
        assert!(found.is_empty(), "{place}, {theme}:\n{}", found.join("\n"));
    }
}

#[test]
fn nothing_serious_on_any_place() {
    let axe = axe();
    for (width, height) in [(1440, 900), (390, 844)] {
        let browser = Browser::on_site();
        browser.open("", width, height, false);
        browser.wait_for("#demo");
        browser.run(&axe, Vec::<Value>::new());
        let at = |place: &str| format!("{place}, {width}x{height}");
        assert_clean(&browser, &at("Day, empty"));
        browser.click("#demo");
        browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
        browser.press("m");
        browser.press("[");
        browser.click("#rows");
        assert_clean(&browser, &at("Ride, rows open"));
        browser.click(".complaint");
        browser.press("Escape");
        browser.press("v");
        assert_clean(&browser, &at("Ride"));
        for (place, there) in [
            ("read-out", ".finding"),
            ("back-to-back", ".section-times"),
            ("day", ".run"),
            ("check", ".channel"),
            ("hand-over", ".link-out"),
        ] {
            browser.click(&format!("#place-{place}"));
            browser.wait_for(there);
            browser.run(
                "document.querySelectorAll('details').forEach((one) => (one.open = true));",
                Vec::<Value>::new(),
            );
            assert_clean(&browser, &at(place));
        }
    }
}
