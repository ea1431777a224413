//! A word with what it means: on hover, and on a tap or a key.

use leptos::prelude::*;

#[component]
pub fn Term(#[prop(into)] name: String, #[prop(into)] meaning: String) -> impl IntoView {
    let open = RwSignal::new(false);
    view! {
        <span
            class="explained"
            on:keydown=move |event| if event.key() == "Escape" { open.set(false) }
            on:focusout=move |_| open.set(false)
        >
            <button
                class="term"
                title=meaning.clone()
                aria-expanded=move || open.get().to_string()
                on:click=move |_| open.update(|open| *open = !*open)
            >
                {name}
            </button>
            <span class="bubble" role="note" hidden=move || !open.get()>{meaning}</span>
        </span>
    }
}
