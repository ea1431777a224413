//! Any picture as a file: as points, or as a drawing where it is one.

use js_sys::Promise;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, Element};

use crate::save;
use crate::store::store;

#[wasm_bindgen]
extern "C" {
    /// `picture.js`: the picture that a control stands beside, as a file of a kind. It is what has `data-picture`
    /// in the nearest element around the control that is `pictured`.
    #[wasm_bindgen(js_namespace = picture, catch)]
    fn of(control: &Element, kind: &str) -> Result<Promise, JsValue>;
}

/// Saves the picture it stands beside.
#[component]
pub fn SavePicture(
    /// What it shows: its first words are the file's name.
    name: &'static str,
    /// Whether it is one drawing, which can be saved as such.
    #[prop(default = true)]
    drawing: bool,
) -> impl IntoView {
    let store = store();
    let save = |kind: &'static str| {
        move |event: leptos::ev::MouseEvent| {
            let control = event_target::<Element>(&event);
            spawn_local(async move {
                let made = match of(&control, kind) {
                    Ok(made) => JsFuture::from(made).await,
                    Err(error) => Err(error),
                };
                match made.map(JsCast::dyn_into::<Blob>) {
                    Ok(Ok(file)) => save::save(&file, &format!("{}.{kind}", file_name(name))),
                    _ => store.tell("This browser made no file of the picture; a screenshot does the same."),
                }
            });
        }
    };
    let button = |kind: &'static str, words: &'static str| {
        let label = format!("Save this picture as {words}");
        view! { <button class="small" aria-label=label.clone() title=label on:click=save(kind)>{words}</button> }
    };
    view! {
        <span class="save-picture">
            "Save "
            {button("png", "PNG")}
            {drawing.then(|| button("svg", "SVG"))}
        </span>
    }
}

fn file_name(name: &str) -> String {
    save::file_name(name.split(['.', ':', ',']).next().unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_caption_names_its_file() {
        assert_eq!(file_name("How deep, while rolling."), "how-deep");
        assert_eq!(file_name("back-to-back"), "back-to-back");
    }
}
