//! The main job in a real browser: load, check, match the video, move the cursor, read the numbers, and
//! compare them with what `readout` says about the same files.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use evenkeel_core::ride::{Ride, Trace};
use evenkeel_core::{Day, End, EndReadout, Measured, SectionReadout, Unit, align, analyse_now, import};
use evenkeel_tests::browser::Browser;

const LOADING: Duration = Duration::from_secs(60);

fn demo_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-data/harrowdean")
}

/// The demo's first run as the app should have it: the day file, its logs, their clocks matched.
fn first_demo_run() -> (Day, Ride) {
    let read = |name: &str| std::fs::read(demo_folder().join(name)).unwrap();
    let mut day: Day = serde_json::from_slice(&read("day.json")).unwrap();
    let sources: Vec<_> = day.runs[0]
        .logs
        .iter()
        .flat_map(|log| import::read(&log.file, &read(&log.file)).unwrap().parts)
        .map(Arc::new)
        .collect();
    for log in 1..day.runs[0].logs.len() {
        let file = day.runs[0].logs[log].file.clone();
        day.runs[0].logs[log].clock = align::match_clock(&day, &day.runs[0], &sources, &file).unwrap().clock;
    }
    let ride = analyse_now(&day, &day.runs[0], &sources);
    (day, ride)
}

/// The number at the start of what an element shows.
fn shown(browser: &Browser, selector: &str) -> f64 {
    let text = browser.texts(selector).into_iter().next().unwrap_or_else(|| panic!("nothing at {selector}"));
    let number: String = text.chars().take_while(|c| !c.is_whitespace() && *c != '°').collect();
    number.parse().unwrap_or_else(|_| panic!("{selector} shows {text:?}, not a number"))
}

/// The numbers of a section as `readout` has them, on screen to the last digit shown.
fn assert_numbers(browser: &Browser, section: &SectionReadout) {
    let same = |row: &str, measured: &[&Measured], scale: f64, step: f64| {
        let cells = browser.texts(&number(row));
        assert_eq!(cells.len(), measured.len(), "{row}");
        for (cell, measured) in cells.iter().zip(measured) {
            let Ok(si) = measured.get() else {
                assert_eq!(cell, "not measured", "{row}");
                continue;
            };
            let shown: f64 = cell.split([' ', '\u{a0}', '°']).next().unwrap().parse().unwrap();
            assert!(
                (shown - si * scale).abs() <= 0.501 * step,
                "{row}: {cell} on screen, {} in readout",
                si * scale
            );
        }
    };
    let ends = |row: &str, of: fn(&EndReadout) -> &Measured, scale: f64, step: f64| {
        same(row, &[of(&section.front), of(&section.rear)], scale, step);
    };
    ends("Ride height", |end| &end.travel.ride_height_m, 1e3, 0.1);
    ends("of travel", |end| &end.travel.ride_height_share, 1e2, 1.0);
    ends("Recovery, median", |end| &end.recovery.all.recovery_p50_s, 1e3, 1.0);
    ends("Not recovered", |end| &end.recovery.all.not_recovered_share, 1e2, 1.0);
    ends("Rebound rate", |end| &end.rebound.rebound_rate_per_s, 1.0, 0.1);
    ends("Sink in a train of hits", |end| &end.packing.sink_m, 1e3, 0.1);
    ends("Harshness", |end| &end.harshness_per_s, 1.0, 0.1);
    let brakes = &section.brakes;
    same("Area", &[&brakes.front.area_pa_s, &brakes.rear.area_pa_s], 1e-5, 0.1);
    same("Drag", &[&brakes.front.drag_s, &brakes.rear.drag_s], 1.0, 0.1);
    same("Overlap", &[&brakes.overlap_s], 1.0, 0.1);
    same("Dive for pressure", &[&section.dive.gain_m_per_pa], 1e8, 0.01);
    let level = &section.level;
    same("Evenness", &[&level.evenness.evenness_share], 1.0, 0.01);
    same("Same bump, rear over front", &[&level.hit_pairs.hit_ratio], 1.0, 0.01);
    same("Kick, median", &[&level.kick_p50_radps], 1f64.to_degrees(), 0.1);
    same("Shake, median", &[&section.lateral.shake_rms_mps2], 1.0, 0.01);
    same("Hands on the front, RMS", &[&section.rider.hand_load_rms_mps2], 1.0, 0.01);
    same("Hands, RMS", &[&section.vibration.hand_arm_rms_mps2], 1.0, 0.01);
    same("Vibration dose (VDV)", &[&section.vibration.whole_run_vdv_mps175], 1.0, 0.1);
}

/// The cells of a row of numbers.
fn number(row: &str) -> String {
    format!("[data-number=\"{row}\"] td")
}

fn value(row: &str) -> String {
    format!("[data-value=\"{row}\"] output")
}

fn type_into(browser: &Browser, selector: &str, text: &str) {
    browser.clear(selector);
    browser.type_text(selector, text);
}

fn match_moments(browser: &Browser, log: &str, video: &str) {
    type_into(browser, "#anchor-log", log);
    type_into(browser, "#anchor-video", video);
    browser.click("#anchor-add");
}

fn go_to(browser: &Browser, video_time: &str) {
    type_into(browser, "#video-time", video_time);
    browser.press("Enter");
}

#[test]
fn the_demo_is_one_click_away_and_shows_what_readout_says() {
    let (_, ride) = first_demo_run();
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.click("#demo");
    // A first result may be there before the last of the run's clocks is matched.
    let ride_height_m = ride.readout.sections[0].front.travel.ride_height_m.get().unwrap();
    browser.wait_for_text_within(&number("Ride height"), &format!("{:.1}", ride_height_m * 1e3), LOADING);

    assert_numbers(&browser, &ride.readout.sections[0]);
    for section in &ride.readout.track.as_ref().unwrap().sections {
        let expected = align::moment::format(*section.time_s.get().unwrap(), 0.01);
        browser.wait_for_text(&format!("[data-section=\"{}\"] td.time", section.name), &expected);
    }
    // The same of a section, which has corners to go to.
    let sections = ride.readout.sections.iter().enumerate().skip(1);
    let corners = |section: &SectionReadout| section.attitude.corners.get().map_or(0, Vec::len);
    let (index, section) = sections.max_by_key(|(_, section)| corners(section)).unwrap();
    browser.set("#number-section", &(index - 1).to_string());
    browser.wait_for_text(&number("Time"), &align::moment::format(section.time_s, 0.01));
    assert_numbers(&browser, section);
    browser.click(".corners tbody tr:first-child button");
    let apex_s = section.attitude.corners.get().unwrap()[0].apex_s;
    assert!((shown_cursor(&browser) - apex_s).abs() < 0.01, "{} is not {apex_s}", shown_cursor(&browser));

    // The cursor goes to a typed video time by the day's own anchors; the traces there are readout's.
    go_to(&browser, "2:00.000");
    let log_s = shown_cursor(&browser);
    let traces = ride.traces.as_ref().unwrap();
    let nearest = ((log_s - traces.grid().start_s) * traces.grid().rate_hz).round() as usize;
    let expected = |trace: Trace, unit: Unit| unit.from_si(f64::from(traces.get(trace).unwrap()[nearest]));
    for (row, trace, unit) in [
        ("axle travel front", Trace::travel(End::Front), Unit::Millimetre),
        ("axle travel rear", Trace::travel(End::Rear), Unit::Millimetre),
        ("pitch ground", Trace::ChordPitch, Unit::Degree),
        ("pitch horizon", Trace::Pitch, Unit::Degree),
        ("lean lean", Trace::Roll, Unit::Degree),
        ("speed bike", Trace::Speed, Unit::KilometrePerHour),
    ] {
        let (on_screen, computed) = (shown(&browser, &value(row)), expected(trace, unit));
        // One decimal is shown, and the browser's build may round a last bit the other way.
        assert!((on_screen - computed).abs() <= 0.0501, "{row}: {on_screen}, {computed}");
    }

    // A sample to the right and back.
    browser.click("#plot");
    let before = shown_cursor(&browser);
    browser.press("ArrowRight");
    let after = shown_cursor(&browser);
    assert!((after - before - 1.0 / traces.grid().rate_hz).abs() < 1e-6, "{before} to {after}");
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}

fn shown_cursor(browser: &Browser) -> f64 {
    browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap()
}

/// A log of a minute and a half: semicolons, decimal commas, metadata lines, a cut-off last line.
fn ugly_log() -> String {
    let mut text =
        "Logger export\n# recorded on the hill\n\nZeit [s];Gabel [mm];Federweg hinten [mm];Bemerkung\n"
            .to_owned();
    for i in 0..18_000 {
        let t = f64::from(i) * 0.005;
        let front = 50.0 + 20.0 * (t * 9.0).sin();
        let rear = 55.0 + 25.0 * (t * 9.0 - 1.0).sin();
        let row = format!("{t:.3};{front:.2};{rear:.2};ok\n").replace('.', ",");
        text += &row;
    }
    text + "90,000;5"
}

fn files(name: &str, contents: &[(&str, &[u8])]) -> Vec<PathBuf> {
    let folder = std::env::temp_dir().join(format!("evenkeel-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let write = |(name, bytes): &(&str, &[u8])| {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    contents.iter().map(write).collect()
}

#[test]
fn an_ugly_log_loads_and_typed_video_times_move_the_cursor() {
    let log = ugly_log();
    let paths = files("ugly", &[("ugly.csv", log.as_bytes())]);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&paths[0]]);
    browser.wait_for_text_within(".files", "200 Hz", LOADING);
    browser.wait_for_text(".warnings", "ends in the middle");
    browser.click("text=Open in Ride");
    browser.wait_for("#plot");

    // Without a match a typed time says what is missing, and stays.
    go_to(&browser, "1:23.400");
    browser.wait_for_text(".go .wrong", "match");
    match_moments(&browser, "12.000", "0:41.250");
    browser.wait_for_text("#mapping", "offset only");
    go_to(&browser, "1:23.400");
    assert!((shown_cursor(&browser) - 54.150).abs() < 1e-6);
    let front = shown(&browser, &value("axle travel front"));
    assert!((front - (50.0 + 20.0 * (54.150_f64 * 9.0).sin())).abs() < 0.06, "{front} mm");

    // And back: the cursor says the video's time.
    browser.wait_for_text("#video-at-cursor", "1:23.400");

    // A second match: drift with its uncertainty, residuals.
    match_moments(&browser, "82.000", "1:51.261");
    browser.wait_for_text("#mapping", "ppm");
    assert_eq!(browser.texts(".anchors tbody tr").len(), 2);
    assert!(browser.texts(".anchors .number").iter().all(|text| text.ends_with("ms")));
    // A mistyped third is refused in words, and none is lost.
    match_moments(&browser, "50.000", "1:49.250");
    browser.wait_for_text("#mapping", "mistyped");
    assert_eq!(browser.texts(".anchors tbody tr").len(), 3);
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}

#[test]
fn what_cannot_be_read_says_where_and_keeps_what_is_loaded() {
    let log = ugly_log();
    let photo = [&[0xFF, 0xD8, 0xFF, 0xE0][..], &[0x13; 4000]].concat();
    let paths = files("refused", &[("good.csv", log.as_bytes()), ("photo.csv", &photo), ("empty.csv", b"")]);
    let browser = Browser::on_site();
    browser.open("", 390, 844, true);
    for path in &paths {
        browser.upload("#files", &[path]);
    }
    browser.wait_for_text_within(".notices", "photo.csv", LOADING);
    browser.wait_for_text(".notices", "JPEG");
    browser.wait_for_text(".notices", "empty.csv");
    browser.wait_for_text(".notices", "still here");
    browser.wait_for_text(".files", "200 Hz");
    browser.assert_no_errors();
}

#[test]
fn a_file_without_time_asks_for_its_rate() {
    let log = (0..3000).fold("front travel mm,rear travel mm\n".to_owned(), |log, i| {
        log + format!("{},{}\n", 50 + i % 30, 60 - i % 20).as_str()
    });
    let paths = files("timeless", &[("timeless.csv", log.as_bytes())]);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&paths[0]]);
    browser.wait_for_text_within(".without-time", "rows", LOADING);
    type_into(&browser, ".without-time input", "150");
    browser.click("text=Read it");
    browser.wait_for_text(".files", "20.0 s");
    browser.wait_until_gone(".without-time");
    browser.assert_no_errors();
}

#[test]
fn roles_and_units_are_shown_and_can_be_corrected() {
    let row = |i: i32| format!("{:.3},{:.3},20\n", f64::from(i) * 0.005, 0.5 + f64::from(i % 200) * 0.01);
    let log = (0..4000).fold("t [s],left pot [V],damper [mm]\n".to_owned(), |log, i| log + row(i).as_str());
    let paths = files("roles", &[("pots.csv", log.as_bytes())]);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&paths[0]]);
    browser.wait_for_text_within(".files", "200 Hz", LOADING);
    browser.click("#place-check");
    browser.wait_for_text(".channel", "left pot");

    // Volts taken for front travel need two measured points; then they are millimetres.
    browser.set(".channel:nth-child(1) select.role", "front_travel");
    browser.set(".channel:nth-child(1) select.unit-choice", "V");
    browser.wait_for_text(".channel:nth-child(1) .doubts", "two measured points");
    browser.run("document.querySelectorAll('.channel:nth-child(1) .tick input')[1].click()", Vec::new());
    browser.wait_for_text(".channel:nth-child(1)", "Logged 1");
    for (field, text) in [("Logged 1", "0,5"), ("Is 1", "0"), ("Logged 2", "2.5"), ("Is 2", "200")] {
        browser.run(
            "const label = [...document.querySelectorAll('.channel:nth-child(1) .field')].find((f) => f.firstElementChild.textContent == arguments[0]);
             const field = label.querySelector('input'); field.value = arguments[1]; field.dispatchEvent(new Event('change', { bubbles: true }));",
            vec![field.into(), text.into()],
        );
    }
    browser.wait_for_text(".channel:nth-child(1) .range", "199.0 mm");
    // The other pot never moves, which no damper does.
    browser.wait_for_text(".channel:nth-child(2) .doubts", "linkage table");
    browser.assert_no_errors();
}

#[test]
fn a_track_file_is_called_what_it_is() {
    let point = |i: i32| {
        format!(
            "<trkpt lat=\"{:.6}\" lon=\"8.5\"><ele>900</ele><time>2026-05-02T09:00:{i:02}Z</time></trkpt>",
            46.0 + f64::from(i) * 1e-4
        )
    };
    let points: String = (0..30).map(point).collect();
    let track = format!(
        "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>{points}</trkseg></trk></gpx>"
    );
    let paths = files("track", &[("way.gpx", track.as_bytes())]);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.upload("#files", &[&paths[0]]);
    browser.wait_for_text_within(".files", "way.gpx", LOADING);
    browser.click("#place-check");
    browser.wait_for_text(".source-forms", "GPX 1.1 track");
    assert_eq!(browser.texts(".layout").len(), 0);
    browser.assert_no_errors();
}
