//! Links: everything behind the `#`, with what is in them, how long they are, and a button to copy them.

mod extract_wish;
mod link_out;
mod pointer_wish;
mod view_wish;
mod wish;

use leptos::prelude::*;

use crate::field::Choice;
use crate::store::store;
use extract_wish::ExtractWish;
pub use link_out::LinkOut;
use pointer_wish::PointerWish;
use view_wish::ViewWish;
pub use wish::{Wish, made};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    View,
    Extract,
    Pointer,
}

const KINDS: [(Kind, &str); 3] = [
    (Kind::Extract, "a piece of this run, seen without its log"),
    (Kind::View, "where to look, for somebody who has the log"),
    (Kind::Pointer, "the way to a sealed file beside this app"),
];

#[component]
pub fn LinkCard() -> impl IntoView {
    let store = store();
    let kind = RwSignal::new(Kind::Extract);
    let there = Memo::new(move |_| store.ride.with(Option::is_some));
    let not_yet = || view! { <p class="quiet">"The run in view is still being read."</p> }.into_any();
    view! {
        <section class="card" aria-label="Link">
            <h2>"Send a link"</h2>
            <Choice label="What it carries" id="link-kind" chosen=kind options=KINDS.to_vec()/>
            {move || match kind.get() {
                Kind::Pointer => view! { <PointerWish/> }.into_any(),
                _ if !there.get() => not_yet(),
                Kind::View => view! { <ViewWish/> }.into_any(),
                Kind::Extract => view! { <ExtractWish/> }.into_any(),
            }}
        </section>
    }
}
