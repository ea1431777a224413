//! The page, and the worker that computes for it: one program, started in either place.

mod canvas;
mod check;
mod day;
mod demo;
mod dropped;
mod field;
mod page;
mod ride;
mod store;
mod theme;
mod words;
mod worker;

fn main() {
    console_error_panic_hook::set_once();
    if web_sys::window().is_some() {
        leptos::mount::mount_to_body(page::Page);
    } else {
        worker::answer();
    }
}
