//! The helmet video in the page: a clip whose frames say which they are, whose clock runs 60 ppm fast against
//! the log's and started at another time. Whatever moves, video and cursor stay together.

use std::path::PathBuf;
use std::time::Duration;

use evenkeel_core::align::moment;
use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);
/// Length of the clip, s.
const CLIP_S: f64 = 180.0;
/// Length of its frames, s: 29.97 a second, the exact ratio of SMPTE ST 12-1.
const FRAME_S: f64 = 1001.0 / 30_000.0;
/// Log time at which it starts, s: a little before the demo's first run does.
const STARTS_S: f64 = 82.417;
/// By how much its seconds are shorter than the log's.
const FAST: f64 = 60e-6;
/// What typing to the millisecond leaves open at each anchor, and what is left of the drift beyond them, s.
const TYPED_S: f64 = 0.0015;

/// The truth: video time of a log time.
fn video_s(log_s: f64) -> f64 {
    (log_s - STARTS_S) * (1.0 + FAST)
}

fn log_s(video_s: f64) -> f64 {
    video_s / (1.0 + FAST) + STARTS_S
}

fn folder() -> PathBuf {
    let folder = std::env::temp_dir().join(format!("evenkeel-clip-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// The clip, of this many seconds.
fn clip(name: &str, seconds: f64) -> PathBuf {
    let file = folder().join(name);
    evenkeel_tests::clip::write(&file, seconds);
    file
}

/// Reads the number off the picture: twenty blocks along its top edge, the last four a sum of the nibbles.
const READ: &str = r##"
    const canvas = Object.assign(document.createElement("canvas"), { width: 320, height: 180 });
    const context = canvas.getContext("2d", { willReadFrequently: true });
    const number = (video) => {
        context.drawImage(video, 0, 0, 320, 180);
        const row = context.getImageData(0, 8, 320, 1).data;
        const bits = Array.from({ length: 20 }, (_, i) => row[4 * (16 * i + 8)] > 128 ? 1 : 0);
        const [frame, sum] = [bits.slice(0, 16), bits.slice(16)].map((b) => parseInt(b.join(""), 2));
        const nibbles = [0, 4, 8, 12].reduce((all, place) => all + (frame >> place & 15), 0) & 15;
        if (nibbles != sum) throw new Error(`the picture reads ${bits.join("")}`);
        return frame;
    };
    const video = document.querySelector("video");
    const cursor = () => Number(document.querySelector("#plot").getAttribute("aria-valuenow"));
"##;

/// Waits until the page has brought the video to a frame and left it there: nothing sought, the frame it names
/// the one it shows for a fifth of a second.
const STILL: &str = r##"
    const said = () => document.querySelector("#frame").textContent;
    const pause = (ms) => new Promise((done) => setTimeout(done, ms));
    for (let calm = 0, before = ""; calm < 8;) {
        await pause(25);
        const now = `${said()} ${video.currentTime} ${cursor()}`;
        calm = now == before && !video.seeking ? calm + 1 : 0;
        before = now;
    }
    return [number(video), cursor()];
"##;

fn run(browser: &Browser, script: &str, arguments: Vec<Value>) -> Value {
    browser.run(&format!("const given = arguments; return (async () => {{ {READ} {script} }})();"), arguments)
}

/// The frame on screen once it is still, read off the picture, and the cursor, s.
fn still(browser: &Browser) -> (f64, f64) {
    let both: [f64; 2] = serde_json::from_value(run(browser, STILL, Vec::new())).unwrap();
    (both[0], both[1])
}

fn type_into(browser: &Browser, selector: &str, text: &str) {
    browser.clear(selector);
    browser.type_text(selector, text);
}

fn go_to(browser: &Browser, video_time: &str) {
    type_into(browser, "#video-time", video_time);
    browser.press("Enter");
}

/// The frame shown is the one of the cursor, to the doubt of typed milliseconds: far less than a frame.
fn assert_together(browser: &Browser, what: &str) {
    let (frame, cursor_s) = still(browser);
    let into_s = video_s(cursor_s) - frame * FRAME_S;
    println!("{what}: cursor {cursor_s:.4} s is {:.2} frames into frame {frame}", into_s / FRAME_S);
    assert!((-TYPED_S..FRAME_S + TYPED_S).contains(&into_s), "{what}: frame {frame} at {cursor_s} s");
}

#[test]
fn video_and_cursor_stay_together_over_three_minutes_whatever_the_drift() {
    let clip = clip("ride.mp4", CLIP_S);
    let browser = Browser::on_site();
    browser.open("", 1440, 900, false);
    browser.click("#demo");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    browser.upload("#video-file", &[&clip]);
    browser.wait_for("#play");
    assert_suggestions(&browser);
    // The matches that came with the demo are of another video.
    for _ in 0..3 {
        browser.click(".anchors button");
    }
    browser.wait_for_text("#video-at-cursor", "no match yet");
    // Not matched yet, the video moves alone; a frame found on it is matched by a click.
    go_to(&browser, "0:20.000");
    let (frame, _) = still(&browser);
    assert_eq!(frame, (20.0 / FRAME_S).floor());
    type_into(&browser, "#anchor-log", &moment::format(log_s(frame * FRAME_S), 0.001));
    browser.click("#anchor-frame");
    browser.wait_for_text("#mapping", "offset only");
    let (frame, cursor_s) = still(&browser);
    assert!((video_s(cursor_s) - frame * FRAME_S).abs() <= 1.5 * FRAME_S, "one match is good to a frame");

    // Two more, early and late, typed to the millisecond.
    for video in [5.0, 175.0] {
        type_into(&browser, "#anchor-log", &moment::format(log_s(video), 0.001));
        type_into(&browser, "#anchor-video", &moment::format(video, 0.001));
        browser.click("#anchor-add");
    }
    browser.wait_for_text("#mapping", "Drift -");
    let drift: f64 = browser.texts("#mapping")[0].split(' ').nth(1).unwrap().parse().unwrap();
    assert!((drift + 60.0).abs() < 12.0, "{drift} ppm for the clip's 60 ppm fast");
    assert_eq!(browser.texts(".anchors .number").len(), 3);

    // A typed video time moves both.
    for i in 0..8 {
        go_to(&browser, &moment::format(3.1 + 23.877 * f64::from(i), 0.001));
        assert_together(&browser, "typed");
    }
    // So does the cursor: a click in the traces, a sample, a frame.
    for i in 0..7 {
        let x = 0.12 + 0.1 * f64::from(i);
        browser.drag("#plot", (x, 0.5), (x, 0.5));
        assert_together(&browser, "clicked");
    }
    browser.press("ArrowRight");
    assert_together(&browser, "a sample on");
    let (before, _) = still(&browser);
    for (key, by) in [("Shift+ArrowRight", 1.0), ("Shift+ArrowLeft", 0.0), ("Shift+ArrowLeft", -1.0)] {
        browser.press(key);
        let (frame, cursor_s) = still(&browser);
        assert_eq!(frame - before, by, "{key}");
        // The cursor stands where the frame begins.
        assert!((video_s(cursor_s) - frame * FRAME_S).abs() < TYPED_S, "{key}: {cursor_s} s");
    }

    // Playing takes the cursor along: every frame drawn in two seconds of the clip, early and late, fast and slow.
    for (from, speed, seconds) in [("0:10.000", "1", 2.0), ("2:50.000", "4", 0.5)] {
        go_to(&browser, from);
        still(&browser);
        browser.click(&format!(".speeds button:nth-child({speed})"));
        let seen = run(&browser, PLAY, vec![json!(seconds)]);
        let seen: Vec<[f64; 2]> = serde_json::from_value(seen).unwrap();
        assert!(seen.len() >= 8, "{} frames seen", seen.len());
        let off = seen.iter().map(|[frame, cursor_s]| (video_s(*cursor_s) / FRAME_S - frame).abs());
        let worst = off.fold(0.0, f64::max);
        println!("playing from {from} at speed {speed}: {} frames, worst {worst:.2} frames off", seen.len());
        assert!(worst <= 1.0 + TYPED_S / FRAME_S, "{worst} frames");
        assert_together(&browser, "paused");
    }
    browser.assert_no_errors();
    browser.assert_nothing_elsewhere();
}

/// Plays by the space bar's button for so many seconds of video; what each frame drawn reads, and the cursor
/// by then.
const PLAY: &str = r##"
    const [seconds] = given;
    const until = video.currentTime + seconds;
    const seen = [];
    document.querySelector("#play").click();
    await new Promise((done) => {
        const look = () => {
            seen.push([number(video), cursor()]);
            if (video.currentTime < until) video.requestVideoFrameCallback(look); else done();
        };
        video.requestVideoFrameCallback(look);
    });
    document.querySelector("#play").click();
    return seen;
"##;

/// What is suggested for a match: one early, one late, the largest landing among them, each a click away.
fn assert_suggestions(browser: &Browser) {
    browser.run("document.querySelector('.sights').open = true", Vec::new());
    // A first result may be there before the last of the run's clocks is matched.
    browser.wait_for_text(".sights li button", "3:28.0");
    let times = browser.texts(".sights li button");
    let times: Vec<f64> = times.iter().map(|text| moment::parse(text, None).unwrap().seconds).collect();
    // The run lasts from 84.8 to 266 s; the landing is the model's, as its owner jotted it down.
    assert!(times[0] < 121.0 && times[1] > 229.0, "{times:?}");
    let landing = times.iter().position(|time_s| (time_s - 208.044).abs() < 0.05);
    let landing = landing.unwrap_or_else(|| panic!("no landing among {times:?}"));
    let words = &browser.texts(".sights li")[landing];
    assert!(words.contains("touch-down"), "{words}");
    browser.click(&format!(".sights li:nth-child({}) button", landing + 1));
    let cursor_s: f64 = browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap();
    assert!((cursor_s - times[landing]).abs() < 0.006, "{cursor_s}");
}

/// Half a minute of two travel sensors; the moments in it do not matter here.
fn plain_log() -> PathBuf {
    let row = |i: i32| format!("{:.2},{},{}\n", f64::from(i) * 0.01, 50 + i % 30, 60 - i % 20);
    let log =
        (0..3000).fold("time s,front travel mm,rear travel mm\n".to_owned(), |log, i| log + row(i).as_str());
    let file = folder().join("plain.csv");
    std::fs::write(&file, log).unwrap();
    file
}

#[test]
fn a_split_take_plays_on_and_a_file_that_does_not_play_loses_nothing() {
    let (first, second) = (clip("take-1.mp4", 4.0), clip("take-2.mp4", 3.0));
    let broken = folder().join("broken.mp4");
    std::fs::write(&broken, [0x17; 5000]).unwrap();
    let browser = Browser::on_site();
    browser.open("", 390, 844, false);
    browser.upload("#files", &[&plain_log()]);
    browser.wait_for_text_within(".files", "100 Hz", LOADING);
    browser.click("#place-ride");
    browser.wait_for("#video-time");
    // Typed before there was a file: they are the first file's.
    type_into(&browser, "#anchor-log", "10.000");
    type_into(&browser, "#anchor-video", "0:01.000");
    browser.press("Enter");
    browser.wait_for_text("#mapping", "offset only");
    browser.upload("#video-file", &[&first]);
    browser.wait_for("#play");
    browser.upload("#video-file", &[&second]);
    browser.click("#follow-on");
    browser.wait_for_text(".anchors td", "0:13.0");
    // The cursor finds the clip that it is in.
    let select = "return document.querySelector('#clip').value";
    go_to(&browser, "0:01.500");
    assert_eq!((browser.run(select, Vec::new()), still(&browser).0), (json!("1"), 44.0));
    browser.run("document.querySelector('#plot').focus()", Vec::new());
    browser.press("Home");
    browser.set("#clip", "0");
    go_to(&browser, "0:03.700");
    assert_eq!((browser.run(select, Vec::new()), still(&browser).0), (json!("0"), 110.0));
    // The space bar plays; at the end of the take the next one goes on.
    browser.run("document.querySelector('#plot').focus()", Vec::new());
    browser.press("Space");
    browser.wait_for_text("#frame", "of 0:03");
    browser.wait_for_text("#play", "Pause");
    browser.press("Space");
    browser.wait_for_text("#play", "Play");
    let (frame, cursor_s) = still(&browser);
    assert!((cursor_s - 13.0 - frame * FRAME_S).abs() <= FRAME_S, "frame {frame} at {cursor_s} s");

    // What does not play says so; the others and all that was typed are still there.
    browser.upload("#video-file", &[&broken]);
    browser.wait_for_text(".screen .wrong", "this browser cannot play it; typed times still work");
    type_into(&browser, "#anchor-log", "20.000");
    type_into(&browser, "#anchor-video", "0:02.000");
    browser.press("Enter");
    go_to(&browser, "0:03.000");
    let cursor_s: f64 = browser.attribute("#plot", "aria-valuenow").unwrap().parse().unwrap();
    assert!((cursor_s - 21.0).abs() < 1e-9);
    assert_eq!(browser.texts("#clip option"), ["take-1.mp4", "take-2.mp4", "broken.mp4"]);
    browser.assert_nothing_elsewhere();
}
