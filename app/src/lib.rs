//! The page, and the worker that computes for it: two programs, so that the page waits for no analysis.

mod back_to_back;
mod beside;
mod canvas;
mod check;
mod complaints;
mod day;
mod deferred;
mod demo;
mod dropped;
mod field;
mod hand_over;
mod kept;
mod later;
mod numbers;
mod offline;
mod page;
mod places;
mod printed;
mod readout;
mod readouts;
mod rehearsal;
mod ride;
mod ride_view;
mod save;
mod save_picture;
mod store;
mod theme;
mod timing;
mod track_view;
mod words;
mod worker;

/// Puts the page into the document.
pub fn show() {
    console_error_panic_hook::set_once();
    leptos::mount::mount_to_body(page::Page);
}

/// Answers the page's calls, in its worker.
pub fn answer() {
    console_error_panic_hook::set_once();
    worker::answer();
}
