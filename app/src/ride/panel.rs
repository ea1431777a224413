//! One part of the column beside the traces, which can be folded away.

use leptos::prelude::*;

use crate::deferred::Deferred;

#[component]
pub fn Panel(title: &'static str, #[prop(default = true)] open: bool, children: ChildrenFn) -> impl IntoView {
    view! {
        <details class="panel" open=open>
            <summary>{title}</summary>
            <Deferred>{children()}</Deferred>
        </details>
    }
}
