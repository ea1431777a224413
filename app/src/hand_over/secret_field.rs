//! A passphrase or a secret key that is typed.

use leptos::prelude::*;

/// Its field, with what Enter does. It stands in no form: a browser would offer to remember what is typed, and take it
/// to its other machines.
#[component]
pub fn SecretField(
    label: &'static str,
    #[prop(optional)] id: Option<&'static str>,
    secret: RwSignal<String>,
    #[prop(into)] done: Callback<()>,
) -> impl IntoView {
    view! {
        <label class="field wide">
            <span>{label}</span>
            <input
                id=id
                type="password"
                autocomplete="off"
                prop:value=move || secret.get()
                on:input:target=move |event| secret.set(event.target().value())
                on:keydown=move |event| if event.key() == "Enter" { done.run(()) }
            />
        </label>
    }
}
