//! Looks at the page while it is being made: does what it is told, in order, and takes pictures.

use std::path::Path;
use std::time::Duration;

use evenkeel_tests::browser::Browser;

const USAGE: &str = "\
look URL [OUT.png] [OPTION]... [STEP]...

URL is whole, or a path of the site in EVENKEEL_SITE. OUT.png is taken after the last step.
A SELECTOR is CSS, or `text=...` for the button, link, tab or label with that text.
X and Y are shares of the element's size: 0.5 0.5 is its centre.

options  --width PX  --height PX  --dark
steps    --click SELECTOR            --hover SELECTOR X Y
         --type SELECTOR TEXT        --drag SELECTOR X Y X2 Y2
         --upload SELECTOR FILE      --wheel SELECTOR X Y PIXELS
         --key KEY                   --wait MS
         --wait-for SELECTOR         --wait-text SELECTOR TEXT
         --text SELECTOR             --js SCRIPT
         --size PX PX                --shot FILE
         --full FILE (the whole page, not only the viewport)
";

/// What is done once the page is there.
type Step = Box<dyn Fn(&Browser)>;

struct Plan {
    url: String,
    picture: Option<String>,
    width: u32,
    height: u32,
    dark: bool,
    steps: Vec<Step>,
}

fn main() {
    let plan = match plan(std::env::args().skip(1)) {
        Ok(plan) => plan,
        Err(trouble) => {
            eprintln!("{trouble}\n\n{USAGE}");
            std::process::exit(2);
        }
    };
    let browser = if plan.url.contains("://") { Browser::start() } else { Browser::on_site() };
    browser.open(&plan.url, plan.width, plan.height, plan.dark);
    for step in &plan.steps {
        step(&browser);
    }
    if let Some(picture) = &plan.picture {
        browser.screenshot(Path::new(picture));
    }
    for message in browser.console() {
        println!("{} {}", message.level, message.text);
    }
    for request in browser.requests_elsewhere() {
        println!("ELSEWHERE {request}");
    }
}

fn plan(mut words: impl Iterator<Item = String>) -> Result<Plan, String> {
    let url = words.next().ok_or("where to look?")?;
    let mut plan = Plan { url, picture: None, width: 1440, height: 900, dark: false, steps: Vec::new() };
    while let Some(word) = words.next() {
        let mut next = || words.next().ok_or(format!("{word} needs more words"));
        let step: Step = match word.as_str() {
            "--width" => {
                plan.width = number(&next()?)?;
                continue;
            }
            "--height" => {
                plan.height = number(&next()?)?;
                continue;
            }
            "--dark" => {
                plan.dark = true;
                continue;
            }
            "--click" => with(next()?, |browser, selector| browser.click(selector)),
            "--wait-for" => with(next()?, |browser, selector| browser.wait_for(selector)),
            "--key" => with(next()?, |browser, key| browser.press(key)),
            "--shot" => with(next()?, |browser, file| browser.screenshot(Path::new(file))),
            "--full" => with(next()?, |browser, file| browser.screenshot_whole_page(Path::new(file))),
            "--text" => with(next()?, |browser, selector| println!("{:#?}", browser.texts(selector))),
            "--js" => with(next()?, |browser, script| println!("{}", browser.run(script, Vec::new()))),
            "--type" => {
                let (selector, text) = (next()?, next()?);
                Box::new(move |browser| browser.type_text(&selector, &text))
            }
            "--wait-text" => {
                let (selector, text) = (next()?, next()?);
                Box::new(move |browser| browser.wait_for_text(&selector, &text))
            }
            "--upload" => {
                let (selector, file) = (next()?, next()?);
                Box::new(move |browser| browser.upload(&selector, &[Path::new(&file)]))
            }
            "--wait" => {
                let pause = Duration::from_millis(number(&next()?)?);
                Box::new(move |_| std::thread::sleep(pause))
            }
            "--size" => {
                let (width, height) = (number(&next()?)?, number(&next()?)?);
                Box::new(move |browser| browser.resize(width, height))
            }
            "--hover" => {
                let (selector, at) = (next()?, (number(&next()?)?, number(&next()?)?));
                Box::new(move |browser| browser.hover(&selector, at))
            }
            "--drag" => {
                let (selector, from) = (next()?, (number(&next()?)?, number(&next()?)?));
                let to = (number(&next()?)?, number(&next()?)?);
                Box::new(move |browser| browser.drag(&selector, from, to))
            }
            "--wheel" => {
                let (selector, at) = (next()?, (number(&next()?)?, number(&next()?)?));
                let pixels = number(&next()?)?;
                Box::new(move |browser| browser.wheel(&selector, at, pixels))
            }
            _ if !word.starts_with("--") && plan.picture.is_none() => {
                plan.picture = Some(word);
                continue;
            }
            _ => return Err(format!("what is {word}?")),
        };
        plan.steps.push(step);
    }
    Ok(plan)
}

fn with(word: String, act: fn(&Browser, &str)) -> Step {
    Box::new(move |browser| act(browser, &word))
}

fn number<T: std::str::FromStr>(word: &str) -> Result<T, String> {
    word.parse().map_err(|_| format!("{word} is not a number that fits here"))
}
