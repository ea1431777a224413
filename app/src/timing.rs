//! Moments that a profile of the page shows: when a file was read, when a run was first drawn, when its
//! numbers were there.

/// Marks this moment on the browser's own timeline.
pub fn mark(name: &str) {
    if let Some(performance) = leptos::prelude::window().performance() {
        let _ = performance.mark(name);
    }
}
