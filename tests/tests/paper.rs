//! What goes out of the page as a picture or on paper: one page a run, and every picture as a file.

use std::time::Duration;

use evenkeel_tests::browser::Browser;
use serde_json::{Value, json};

const LOADING: Duration = Duration::from_secs(60);
/// Width and height, inch: ISO 216 and ANSI/ASME Y14.1.
const A4: [f64; 2] = [210.0 / 25.4, 297.0 / 25.4];
const LETTER: [f64; 2] = [8.5, 11.0];

fn run(browser: &Browser, script: &str) -> Value {
    browser.run(script, Vec::<Value>::new())
}

fn with_demo() -> Browser {
    let browser = Browser::on_site();
    browser.run_before_load(
        "globalThis.files = []; const make = URL.createObjectURL;
         URL.createObjectURL = (blob) => { files.push(blob); return make.call(URL, blob); };
         HTMLAnchorElement.prototype.click = function () { globalThis.saved = this.download; };",
    );
    browser.open("", 1440, 900, false);
    browser.click("#demo");
    browser.wait_for_text_within("[data-number=\"Ride height\"] td", "mm", LOADING);
    browser
}

/// Pages of what is printed now on a paper, as a PDF has them: each page is an object of this type (ISO 32000-1,
/// 7.7.3.3), which Chromium leaves in the clear.
fn pages(browser: &Browser, [width, height]: [f64; 2]) -> usize {
    let printed = browser.devtools(
        "Page.printToPDF",
        json!({ "paperWidth": width, "paperHeight": height, "preferCSSPageSize": false, "printBackground": true }),
    );
    let text = run(browser, &format!("return atob('{}');", printed["data"].as_str().unwrap()));
    let text = text.as_str().unwrap();
    text.matches("/Type /Page\n").count()
}

#[test]
fn a_run_is_one_page_whatever_was_written_about_it() {
    let browser = with_demo();
    for paper in [A4, LETTER] {
        assert_eq!(pages(&browser, paper), 1, "{paper:?}");
    }
    // As many findings as it shows, each with as many letters as it lets in, and as many sections with long names.
    run(
        &browser,
        "addEventListener('beforeprint', () => {
            const fill = (one, letters, times) => {
                one.textContent = 'the rear comes back '.repeat(letters / 20);
                for (let i = 1; i < times; i += 1) one.after(one.cloneNode(true));
            };
            fill(document.querySelector('.printed ol > li'), 740, 3);
            fill(document.querySelector('.printed-times > span'), 40, 5);
        });",
    );
    for paper in [A4, LETTER] {
        assert_eq!(pages(&browser, paper), 1, "{paper:?}, long findings");
    }
    // Longer words than anybody writes, and from another place of the page.
    browser.click("#place-day");
    browser.wait_for(".run-words textarea");
    run(
        &browser,
        "for (const field of document.querySelectorAll('.run-words textarea, .run-name')) {
        field.value = 'harsh in the rocks and kicks at the exit of the berms '.repeat(60);
        field.dispatchEvent(new Event('change', { bubbles: true })); }",
    );
    for paper in [A4, LETTER] {
        assert_eq!(pages(&browser, paper), 1, "{paper:?}, long words");
    }
    browser.assert_no_errors();
}

#[test]
fn the_sheet_has_set_up_findings_numbers_and_pictures() {
    let browser = with_demo();
    browser.click("#place-read-out");
    browser.wait_for(".finding");
    run(&browser, "globalThis.print = () => {};");
    browser.click("#print");
    browser.wait_for(".printed h1");
    let shown = "return document.querySelector('.printed')?.textContent ?? '';";
    let text = run(&browser, shown);
    let text = text.as_str().unwrap();
    for part in ["Run 1", "Rider said", "rebound", "To try", "Ride height", "Harrowdean"] {
        assert!(text.contains(part), "no {part} in {text}");
    }
    let finding = browser.texts(".finding h3");
    assert!(text.contains(&finding[0]), "the first finding is not in {text}");
    assert_eq!(run(&browser, "return document.querySelectorAll('.printed svg').length;"), 6);
    run(&browser, "dispatchEvent(new Event('afterprint'));");
    browser.wait_until_gone(".printed");
}

/// The last file that was made: its kind, its size in pixels, how many of them have the front's colour, and its text
/// where it has one.
const LAST: &str = "
    const file = files.at(-1);
    const image = new Image();
    image.src = URL.createObjectURL(file);
    files.pop();
    await image.decode();
    const canvas = Object.assign(document.createElement('canvas'), { width: image.width, height: image.height });
    const context = canvas.getContext('2d');
    context.drawImage(image, 0, 0);
    const { data } = context.getImageData(0, 0, canvas.width, canvas.height);
    const probe = Object.assign(document.createElement('i'));
    probe.style.color = 'var(--front)';
    document.body.append(probe);
    const front = getComputedStyle(probe).color.match(/\\d+/g).map(Number);
    probe.remove();
    let count = 0;
    for (let i = 0; i < data.length; i += 4) count += front.every((value, k) => Math.abs(data[i + k] - value) < 3);
    return [file.type, image.width, image.height, count, file.type.includes('svg') ? await file.text() : '', saved];";

fn save(browser: &Browser, place: &str, kind: &str) -> (String, [f64; 2], u64, String, String) {
    run(browser, "globalThis.saved = '';");
    browser.click(&format!("{place} .save-picture [aria-label='Save this picture as {kind}']"));
    run(
        browser,
        "return new Promise((done) => { const look = () => saved ? done(true) : setTimeout(look, 20); look(); });",
    );
    let made = run(browser, &format!("return (async () => {{ {LAST} }})();"));
    let text = |at: usize| made[at].as_str().unwrap().to_owned();
    (
        text(0),
        [made[1].as_f64().unwrap(), made[2].as_f64().unwrap()],
        made[3].as_u64().unwrap(),
        text(4),
        text(5),
    )
}

#[test]
fn a_picture_is_saved_as_it_looks() {
    let browser = with_demo();
    browser.click("#rows");
    let (kind, [width, _], front, _, name) = save(&browser, ".chart", "PNG");
    browser.press("Escape");
    assert_eq!((kind.as_str(), name.as_str()), ("image/png", "traces.png"));
    assert!(width > 1500.0 && front > 1000, "{width} px wide, {front} px of the front's colour");
    let (_, _, front, _, _) = save(&browser, ".attitude", "PNG");
    assert!(front > 100, "{front} px of the front wheel");
    browser.click("#place-read-out");
    browser.wait_for(".finding");
    let (kind, [width, height], png_front, _, _) = save(&browser, ".card", "PNG");
    assert_eq!(kind, "image/png");
    assert!(width > height && png_front > 500, "{width} x {height}, {png_front} px of the front's colour");
    let (kind, _, svg_front, text, name) = save(&browser, ".card", "SVG");
    assert_eq!((kind.as_str(), name.as_str()), ("image/svg+xml", "how-long-each-end-stands-how-deep.svg"));
    assert!(svg_front > 100, "{svg_front} px of the front's colour");
    // It stands alone: no style sheet's names, its words as words.
    assert!(!text.contains("class=") && text.contains("travel used"), "{text}");
    browser.assert_no_errors();
}
