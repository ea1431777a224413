//! What the traces show, in a real browser: every single sample at every zoom, the cursor's values as logged,
//! gaps as gaps. The log is made here, so that every sample of it is known.

use std::path::PathBuf;
use std::time::Duration;

use evenkeel_core::Bike;
use evenkeel_tests::browser::Browser;

const LOADING: Duration = Duration::from_secs(60);
const RATE_HZ: f64 = 500.0;
const LEN: usize = 60_000;
/// One sample each that stands out, and what it says, mm.
const FRONT_SPIKE: (usize, f64) = (30_617, 150.0);
const REAR_SPIKE: (usize, f64) = (43_210, 170.0);
/// Front brake pressure is missing here, but for one sample in the middle.
const GAP: std::ops::Range<usize> = 20_000..21_000;
const ALONE: usize = 20_500;
/// The front brake's pressure, bar, and what it is for one sample, which sets the range of its row.
const PRESSURE: f64 = 8.0;
const HIGHEST: f64 = 10.0;

fn front_mm(i: usize) -> f64 {
    if i == FRONT_SPIKE.0 { FRONT_SPIKE.1 } else { 50.0 + (i % 97) as f64 * 0.1 }
}

fn rear_mm(i: usize) -> f64 {
    if i == REAR_SPIKE.0 { REAR_SPIKE.1 } else { 90.0 + (i % 13) as f64 * 0.1 }
}

fn log(name: &str) -> PathBuf {
    let mut text = "time [s],front travel [mm],rear travel [mm],front brake [bar]\n".to_owned();
    for i in 0..LEN {
        let brake = match i {
            0 => HIGHEST.to_string(),
            _ if GAP.contains(&i) && i != ALONE => String::new(),
            _ => PRESSURE.to_string(),
        };
        text += &format!("{:.3},{:.1},{:.1},{brake}\n", i as f64 / RATE_HZ, front_mm(i), rear_mm(i));
    }
    let path = std::env::temp_dir().join(format!("evenkeel-{name}-{}.csv", std::process::id()));
    std::fs::write(&path, text).unwrap();
    path
}

fn in_ride(name: &str, dark: bool) -> Browser {
    let browser = Browser::on_site();
    browser.open("", 1440, 900, dark);
    browser.upload("#files", &[&log(name)]);
    browser.wait_for_text_within(".files", "500 Hz", LOADING);
    browser.click("text=Open in Ride");
    browser.wait_for_text_within(".numbers", "Ride height", LOADING);
    browser
}

/// The stretch in view, s, as the wheel should have left it.
struct Seen {
    start_s: f64,
    end_s: f64,
    width: f64,
}

impl Seen {
    fn whole(browser: &Browser) -> Self {
        let width = browser.run("return document.querySelector('#plot').clientWidth", Vec::new());
        Self { start_s: 0.0, end_s: (LEN - 1) as f64 / RATE_HZ, width: width.as_f64().unwrap() }
    }

    fn x(&self, sample: usize) -> f64 {
        (sample as f64 / RATE_HZ - self.start_s) / (self.end_s - self.start_s) * self.width
    }

    fn samples_per_pixel(&self) -> f64 {
        (self.end_s - self.start_s) * RATE_HZ / self.width
    }

    /// Turns the wheel over a sample.
    fn zoom(&mut self, browser: &Browser, sample: usize, pixels: f64) {
        let place = self.x(sample).round() / self.width;
        browser.wheel("#plot", (place, 0.5), pixels);
        let t_s = self.start_s + place * (self.end_s - self.start_s);
        let whole_s = (LEN - 1) as f64 / RATE_HZ;
        let span_s = ((self.end_s - self.start_s) * (pixels * 0.002).exp()).clamp(0.05, whole_s);
        self.start_s = (t_s - place * span_s).clamp(0.0, whole_s - span_s);
        self.end_s = self.start_s + span_s;
    }
}

/// Columns of pixels that have a line's ink within two pixels of a value's height in the row that shows it.
/// `share` is where the value lies between the bottom and the top of the row's range.
fn inked(browser: &Browser, row: &str, line: &str, share: f64) -> Vec<f64> {
    let script = r"
        const [row, line, share] = arguments;
        const canvas = document.querySelector('#plot .traces');
        const label = [...document.querySelectorAll('.row-label')].find((label) => label.textContent.startsWith(row));
        const [box, own] = [canvas, label].map((element) => element.getBoundingClientRect());
        const bottom = own.bottom - box.top - 5, height = own.height - 10;
        const y = Math.round(bottom - share * height);
        const style = getComputedStyle(document.documentElement);
        const rgb = (name) => style.getPropertyValue(name).trim().match(/[0-9a-f]{2}/g).map((hex) => parseInt(hex, 16));
        const inks = ['--ground', '--grid', '--rule', '--front', '--rear', '--frame', '--bar'].map((name) => [name, rgb(name)]);
        const pixels = canvas.getContext('2d').getImageData(0, y - 2, canvas.width, 5).data;
        const found = [];
        for (let x = 0; x < canvas.width; x++) {
            for (let row = 0; row < 5; row++) {
                const at = 4 * (row * canvas.width + x);
                const far = ([, ink]) => ink.reduce((sum, part, i) => sum + Math.abs(part - pixels[at + i]), 0);
                if (inks.reduce((best, ink) => far(ink) < far(best) ? ink : best)[0] == line) { found.push(x); break; }
            }
        }
        return found;";
    let found = browser.run(script, vec![row.into(), line.into(), share.into()]);
    serde_json::from_value(found).unwrap()
}

#[test]
fn a_single_sample_is_seen_at_every_zoom_and_the_cursor_says_what_was_logged() {
    let browser = in_ride("spikes", false);
    let bike = Bike::default();
    let range_mm = bike.front_travel_m.max(bike.rear_travel_m) * 1e3;
    for (line, (spike, mm)) in [("--front", FRONT_SPIKE), ("--rear", REAR_SPIKE)] {
        browser.press("0");
        let mut seen = Seen::whole(&browser);
        let mut zooms = 0;
        loop {
            let x = seen.x(spike);
            let tip = inked(&browser, "Axle travel", line, mm / range_mm);
            let said = format!("{line} at {:.3} samples a pixel: ink at {tip:?}", seen.samples_per_pixel());
            assert!(tip.iter().any(|found| (found + 0.5 - x).abs() <= 2.0), "{x} {said}");
            // And nowhere else: the tip is as wide as a sample, or as a line.
            let reach = 2.5 + 1.0 / seen.samples_per_pixel();
            assert!(tip.iter().all(|found| (found + 0.5 - x).abs() <= reach), "{x} {said}");
            if seen.end_s - seen.start_s < 0.051 {
                break;
            }
            seen.zoom(&browser, spike, -400.0);
            zooms += 1;
        }
        assert!(zooms >= 9, "{zooms}");

        // On the way out: what the cursor says, wherever it is set.
        for step in 0..zooms {
            let across = (0.07 + 0.083 * f64::from(step)) % 1.0;
            browser.run(CLICK, vec![across.into()]);
            let t_s: f64 = browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap();
            assert!(
                (t_s - seen.start_s - across * (seen.end_s - seen.start_s)).abs()
                    < 2e-3 + 1.0 / RATE_HZ + seen.samples_per_pixel() / RATE_HZ
            );
            let sample = (t_s * RATE_HZ).round() as usize;
            assert_eq!(shown(&browser, "axle travel front"), format!("{:.1}", front_mm(sample)), "{t_s} s");
            assert_eq!(shown(&browser, "axle travel rear"), format!("{:.1}", rear_mm(sample)), "{t_s} s");
            seen.zoom(&browser, spike, 400.0);
        }
    }
    browser.assert_no_errors();
}

/// Presses and releases the pointer at a share of the plot's width.
const CLICK: &str = r"
    const plot = document.querySelector('#plot'), box = plot.getBoundingClientRect();
    const at = { pointerId: 1, isPrimary: true, button: 0, clientX: box.x + Math.round(arguments[0] * box.width), clientY: box.y + 99, bubbles: true };
    plot.setPointerCapture = () => {};
    for (const kind of ['pointerdown', 'pointerup']) plot.dispatchEvent(new PointerEvent(kind, at));";

fn shown(browser: &Browser, value: &str) -> String {
    browser.texts(&format!("[data-value=\"{value}\"] output"))[0].clone()
}

#[test]
fn a_gap_stays_a_gap_and_a_sample_alone_in_it_is_seen() {
    let browser = in_ride("gap", true);
    let mut seen = Seen::whole(&browser);
    for _ in 0..5 {
        let ink = inked(&browser, "Brakes", "--front", PRESSURE / HIGHEST);
        let [start, alone, end] = [GAP.start, ALONE, GAP.end].map(|sample| seen.x(sample));
        let said = format!("gap from {start} to {end}, a sample at {alone}: {ink:?}");
        // The line is there on both sides, wherever it is in view.
        let outside = |x: f64| x < start - 2.0 || x > end + 2.0;
        let columns = (0..seen.width as usize).map(|x| x as f64 + 0.5);
        assert_eq!(
            columns.filter(|x| outside(*x)).count(),
            ink.iter().filter(|x| outside(**x + 0.5)).count(),
            "{said}"
        );
        // A dot is some pixels wide.
        let inside = ink.iter().map(|x| x + 0.5).filter(|x| (start + 1.0..end - 1.0).contains(x));
        let inside: Vec<f64> = inside.collect();
        assert!(inside.iter().all(|x| (x - alone).abs() < 4.0), "{said}");
        if (0.0..seen.width).contains(&alone) && end - start > 12.0 {
            assert!(!inside.is_empty(), "{said}");
        }
        seen.zoom(&browser, ALONE, -500.0);
    }
    browser.assert_no_errors();
}

#[test]
fn a_drag_with_shift_sets_a_range() {
    let browser = in_ride("range", false);
    let seen = Seen::whole(&browser);
    browser.drag_with_shift("#plot", (0.75, 0.5), (0.25, 0.5));
    // From either side, and the view stays where it is.
    let length_s = 0.5 * (seen.end_s - seen.start_s);
    browser.wait_for_text("#range-length", " s");
    let shown: f64 = browser.texts("#range-length")[0].trim_end_matches(" s").parse().unwrap();
    assert!((shown - length_s).abs() < 2.5 * seen.samples_per_pixel() / RATE_HZ, "{shown} s, {length_s} s");
    browser.assert_no_errors();
}

/// Lets a file fall onto the page, as from another window.
fn drop_file(browser: &Browser, name: &str, text: &str) {
    browser.run(
        "const data = new DataTransfer();
         data.items.add(new File([arguments[1]], arguments[0], { type: 'text/csv' }));
         for (const kind of ['dragover', 'drop'])
             document.querySelector('main').dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));",
        vec![name.into(), text.into()],
    );
}

#[test]
fn a_log_dropped_on_the_ride_is_read_and_a_bad_one_loses_nothing() {
    let browser = in_ride("dropped-on", false);
    drop_file(&browser, "empty.csv", "");
    browser.wait_for_text_within(".notice", "empty.csv", LOADING);
    assert_eq!(browser.texts("#run option").len(), 1);
    let text = std::fs::read_to_string(log("to-drop")).unwrap();
    drop_file(&browser, "second.csv", &text);
    browser.wait_for_text_within("#run", "second", LOADING);
    assert_eq!(browser.texts("#run option").len(), 2);
    browser.wait_for_text_within(".numbers", "Ride height", LOADING);
}
