//! Parts of a view that the rest does not wait for.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::timing::breathe;

/// Builds what is in it in a task of its own, so that no frame waits for all of a place.
#[component]
pub fn Deferred(children: ChildrenFn) -> impl IntoView {
    let built = RwSignal::new(false);
    spawn_local(async move {
        breathe().await;
        built.try_set(true);
    });
    move || built.get().then(|| children())
}
