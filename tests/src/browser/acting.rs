//! What a person does to the page: click, type, choose files, press keys, move the pointer.

use std::path::Path;

use serde_json::{Value, json};

use super::{Browser, keys};

impl Browser {
    /// Clicks the first matching element, which must be visible and uncovered.
    pub fn click(&self, selector: &str) {
        self.sure(&format!("{selector} cannot be clicked"), self.element(selector).click());
    }

    /// Types into the first matching element, after what it holds.
    pub fn type_text(&self, selector: &str, text: &str) {
        self.sure(&format!("{selector} takes no text"), self.element(selector).send_keys(text));
    }

    /// Types over what a field holds and leaves it: one change, as a person makes it.
    pub fn write_over(&self, selector: &str, text: &str) {
        self.wait_for(selector);
        let take = "const field = document.querySelector(arguments[0]); field.focus(); field.select();";
        self.run(take, vec![selector.into()]);
        self.type_text(selector, text);
        self.press("Tab");
    }

    /// Empties a field.
    pub fn clear(&self, selector: &str) {
        self.sure(&format!("{selector} cannot be emptied"), self.element(selector).clear());
    }

    /// Gives a field or a choice another value, as one change.
    pub fn set(&self, selector: &str, value: &str) {
        self.wait_for(selector);
        self.run(
            "const field = document.querySelector(arguments[0]); field.value = arguments[1];
             field.dispatchEvent(new Event('change', { bubbles: true }));",
            vec![selector.into(), value.into()],
        );
    }

    /// Chooses files in an `<input type=file>`, hidden or not.
    pub fn upload(&self, selector: &str, files: &[&Path]) {
        let paths: Vec<String> = files
            .iter()
            .map(|file| {
                // Drivers take no way around by `..`.
                let whole = file.canonicalize();
                whole.unwrap_or_else(|error| panic!("{}: {error}", file.display())).display().to_string()
            })
            .collect();
        self.sure(&format!("{selector} takes no files"), self.element(selector).send_keys(paths.join("\n")));
    }

    /// Presses a key, as `ArrowLeft`, `Shift+ArrowLeft`, `?`; it goes to the focused element.
    pub fn press(&self, key: &str) {
        let keys = keys::chord(key).unwrap_or_else(|| panic!("there is no key {key}"));
        let down = keys.iter().fold(self.driver().action_chain(), |chain, key| chain.key_down(*key));
        let chain = keys.iter().rev().fold(down, |chain, key| chain.key_up(*key));
        self.sure(&format!("{key} cannot be pressed"), chain.perform());
    }

    /// Moves the pointer onto an element, to a point given in shares of its size: (0.5, 0.5) is the centre.
    pub fn hover(&self, selector: &str, at: (f64, f64)) {
        self.mouse("mouseMoved", self.point(selector, at), json!({}));
    }

    /// Drags from one point of an element to another.
    pub fn drag(&self, selector: &str, from: (f64, f64), to: (f64, f64)) {
        self.drag_while(selector, from, to, 0);
    }

    /// The same with Shift held down.
    pub fn drag_with_shift(&self, selector: &str, from: (f64, f64), to: (f64, f64)) {
        self.drag_while(selector, from, to, 8);
    }

    /// `modifiers` as the DevTools protocol counts them.
    fn drag_while(&self, selector: &str, from: (f64, f64), to: (f64, f64), modifiers: u8) {
        let (from, to) = (self.point(selector, from), self.point(selector, to));
        let held = || json!({ "button": "left", "buttons": 1, "clickCount": 1, "modifiers": modifiers });
        let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
        self.mouse("mouseMoved", from, json!({}));
        self.mouse("mousePressed", from, held());
        self.mouse("mouseMoved", middle, held());
        self.mouse("mouseMoved", to, held());
        self.mouse("mouseReleased", to, held());
    }

    /// Turns the wheel over a point of an element, by CSS pixels; + scrolls down.
    pub fn wheel(&self, selector: &str, at: (f64, f64), pixels: f64) {
        self.mouse("mouseWheel", self.point(selector, at), json!({ "deltaX": 0, "deltaY": pixels }));
    }

    /// A point of an element, in CSS pixels of the viewport.
    fn point(&self, selector: &str, (across, down): (f64, f64)) -> (f64, f64) {
        let element = self.element(selector);
        self.sure(&format!("{selector} cannot be brought into view"), element.scroll_into_view());
        let script =
            "const box = arguments[0].getBoundingClientRect(); return [box.x, box.y, box.width, box.height];";
        let element = element.to_json().unwrap();
        let numbers: Vec<f64> = serde_json::from_value(self.run(script, vec![element])).unwrap();
        (numbers[0] + across * numbers[2], numbers[1] + down * numbers[3])
    }

    fn mouse(&self, kind: &str, (x, y): (f64, f64), more: Value) {
        let mut event = json!({ "type": kind, "x": x, "y": y });
        event.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        self.devtools("Input.dispatchMouseEvent", event);
    }
}
