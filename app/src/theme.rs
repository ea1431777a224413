//! Light for the sun beside the van, dark for the evening.

use leptos::prelude::*;

use crate::store::store;

/// Switches between light and dark; starts with what the system asks for.
#[component]
pub fn ThemeButton() -> impl IntoView {
    let dark = store().dark;
    dark.set(system_is_dark());
    Effect::new(move || {
        if let Some(root) = document().document_element() {
            let theme = if dark.get() { "dark" } else { "light" };
            let _ = root.set_attribute("data-theme", theme);
        }
    });
    view! {
        <button class="theme" on:click=move |_| dark.update(|dark| *dark = !*dark)>
            {move || if dark.get() { "Light" } else { "Dark" }}
        </button>
    }
}

fn system_is_dark() -> bool {
    window().match_media("(prefers-color-scheme: dark)").ok().flatten().is_some_and(|query| query.matches())
}
