//! The page's own time: room for the browser between two pieces of work, and moments that a profile shows.

use std::time::Duration;

use futures_channel::oneshot;
use leptos::prelude::set_timeout;

/// Lets the browser draw and hear what is waiting.
pub async fn breathe() {
    rest(Duration::ZERO).await;
}

/// Does nothing for a while.
pub async fn rest(time: Duration) {
    let (done, later) = oneshot::channel();
    set_timeout(move || done.send(()).unwrap_or_default(), time);
    later.await.unwrap_or_default();
}

/// Marks this moment on the browser's own timeline: when a file was read, a run first drawn, its numbers there.
pub fn mark(name: &str) {
    if let Some(performance) = leptos::prelude::window().performance() {
        let _ = performance.mark(name);
    }
}
