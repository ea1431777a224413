//! One part of the column beside the traces, which can be folded away.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::timing::breathe;

#[component]
pub fn Panel(title: &'static str, #[prop(default = true)] open: bool, children: ChildrenFn) -> impl IntoView {
    // Each in a task of its own, so that the traces come first and no frame waits for all.
    let built = RwSignal::new(false);
    spawn_local(async move {
        breathe().await;
        built.try_set(true);
    });
    view! {
        <details class="panel" open=open>
            <summary>{title}</summary>
            {move || built.get().then(|| children())}
        </details>
    }
}
