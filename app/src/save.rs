//! Files to the browser's downloads.

use js_sys::Array;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{Blob, BlobPropertyBag, HtmlElement, Url};

/// Hands a text to the browser to be saved.
pub fn save_text(text: &str, kind: &str, name: &str) {
    let options = BlobPropertyBag::new();
    options.set_type(kind);
    if let Ok(blob) = Blob::new_with_str_sequence_and_options(&Array::of1(&text.into()), &options) {
        save(&blob, name);
    }
}

/// Hands a file to the browser to be saved.
pub fn save(file: &Blob, name: &str) {
    let Ok(url) = Url::create_object_url_with_blob(file) else { return };
    if let Ok(link) = document().create_element("a") {
        let _ = link.set_attribute("href", &url);
        let _ = link.set_attribute("download", name);
        link.unchecked_into::<HtmlElement>().click();
    }
    // Saved by the time this is heard.
    set_timeout(move || _ = Url::revoke_object_url(&url), std::time::Duration::from_secs(60));
}

/// A name fit for a file on any system.
pub fn file_name(name: &str) -> String {
    let words = name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    let joined = words.collect::<Vec<_>>().join("-").to_lowercase();
    let short: String = joined.chars().take(40).collect();
    if short.is_empty() { "day".to_owned() } else { short }
}

/// How large a file is, in words.
pub fn size(bytes: f64) -> String {
    match bytes {
        b if b >= 1e6 => format!("{:.1} MB", b / 1e6),
        b if b >= 1e3 => format!("{:.0} kB", b / 1e3),
        b => format!("{b:.0} bytes"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_name_makes_a_file_name() {
        assert_eq!(file_name("Wet / “Sunday”: 2"), "wet-sunday-2");
        assert_eq!((file_name("../.."), file_name("Höhe")), ("day".to_owned(), "höhe".to_owned()));
    }
}
