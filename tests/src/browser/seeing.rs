//! Looking at the page, and waiting for what it will show.

use std::path::Path;
use std::time::{Duration, Instant};

use serde_json::Value;
use thirtyfour::error::WebDriverResult;
use thirtyfour::{By, WebElement};

use super::Browser;

/// How long the page may take to show what is waited for.
const PATIENCE: Duration = Duration::from_secs(15);

impl Browser {
    /// Waits until an element is there. A selector is CSS, or `text=...` for the button, link, tab or
    /// label that bears this text.
    pub fn wait_for(&self, selector: &str) {
        self.element(selector);
    }

    /// Waits until an element that matches shows this text.
    pub fn wait_for_text(&self, selector: &str, text: &str) {
        self.wait_for_text_within(selector, text, PATIENCE);
    }

    /// [`wait_for_text`](Self::wait_for_text) with a patience of its own.
    pub fn wait_for_text_within(&self, selector: &str, text: &str, patience: Duration) {
        let mut seen = Vec::new();
        self.wait(patience, || {
            seen = self.texts(selector);
            seen.iter().any(|shown| shown.contains(text)).then_some(())
        })
        .unwrap_or_else(|| self.stop(&format!("{selector} never showed {text:?} but {seen:?}")));
    }

    /// Waits until a script returns true.
    pub fn wait_until(&self, script: &str, patience: Duration) {
        let holds = || (self.run(script, Vec::new()) == Value::Bool(true)).then_some(());
        self.wait(patience, holds).unwrap_or_else(|| self.stop(&format!("it never held: {script}")));
    }

    /// Waits until no element matches.
    pub fn wait_until_gone(&self, selector: &str) {
        let left = || self.runtime.block_on(self.driver().find_all(by(selector)));
        self.wait(PATIENCE, || left().is_ok_and(|elements| elements.is_empty()).then_some(()))
            .unwrap_or_else(|| self.stop(&format!("{selector} did not go away")));
    }

    /// The text that every matching element shows now, in the page's order.
    pub fn texts(&self, selector: &str) -> Vec<String> {
        let texts = async {
            let mut texts = Vec::new();
            for element in self.driver().find_all(by(selector)).await? {
                texts.push(element.text().await?);
            }
            WebDriverResult::Ok(texts)
        };
        // An element that went while it was read was not there.
        self.runtime.block_on(texts).unwrap_or_default()
    }

    /// An attribute of the first matching element.
    pub fn attribute(&self, selector: &str, name: &str) -> Option<String> {
        self.sure(&format!("{selector} cannot be read"), self.element(selector).attr(name))
    }

    /// What the first matching field or choice holds now.
    pub fn value(&self, selector: &str) -> String {
        self.wait_for(selector);
        let held = self.run("return document.querySelector(arguments[0]).value;", vec![selector.into()]);
        held.as_str().unwrap_or_default().to_owned()
    }

    /// Runs JavaScript in the page and gives what it returns, or what its promise comes to; `arguments`
    /// holds what is passed.
    pub fn run(&self, script: &str, arguments: Vec<Value>) -> Value {
        let answer = self.sure("the script failed", self.driver().execute(script, arguments));
        answer.json().clone()
    }

    /// [`run`](Self::run) for a promise that takes up to two minutes.
    pub fn run_long(&self, script: &str, arguments: Vec<Value>) -> Value {
        let patient = |patience| {
            self.sure("the script gets no time", self.driver().set_script_timeout(patience));
        };
        patient(Duration::from_secs(118));
        let answer = self.run(script, arguments);
        patient(Duration::from_secs(30));
        answer
    }

    /// Saves what the viewport shows as a PNG.
    pub fn screenshot(&self, file: &Path) {
        self.sure("no picture can be taken", self.driver().screenshot(file));
    }

    /// Saves the page from top to bottom as a PNG, as far as it scrolls.
    pub fn screenshot_whole_page(&self, file: &Path) {
        let size: [u32; 3] = serde_json::from_value(self.run(
            "const page = document.documentElement; return [innerWidth, innerHeight, page.scrollHeight];",
            Vec::new(),
        ))
        .unwrap();
        self.resize(size[0], size[1].max(size[2]));
        self.screenshot(file);
        self.resize(size[0], size[1]);
    }

    pub(super) fn element(&self, selector: &str) -> WebElement {
        self.wait(PATIENCE, || self.runtime.block_on(self.driver().find(by(selector))).ok())
            .unwrap_or_else(|| self.stop(&format!("{selector} is not on the page")))
    }

    fn wait<T>(&self, patience: Duration, mut look: impl FnMut() -> Option<T>) -> Option<T> {
        let start = Instant::now();
        loop {
            if let Some(seen) = look() {
                return Some(seen);
            }
            if start.elapsed() > patience {
                return None;
            }
            std::thread::sleep(Duration::from_millis(25));
        }
    }
}

fn by(selector: &str) -> By {
    let Some(text) = selector.strip_prefix("text=") else { return By::Css(selector) };
    assert!(!text.contains('"'), "text= takes no quotation marks");
    By::XPath(format!(
        "//*[self::button or self::a or self::label or self::summary or @role='tab' or @role='button']\
         [contains(normalize-space(.), \"{text}\")]"
    ))
}
