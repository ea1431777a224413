//! One part of the column beside the traces, which can be folded away.

use leptos::prelude::*;

#[component]
pub fn Panel(title: &'static str, #[prop(default = true)] open: bool, children: Children) -> impl IntoView {
    view! {
        <details class="panel" open=open>
            <summary>{title}</summary>
            {children()}
        </details>
    }
}
