//! What is fetched right after the page has begun: every place but the first, and the printed sheet.

use std::pin::pin;
use std::task::{Context, Poll, Waker};

use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

use crate::back_to_back::BackToBackPlace;
use crate::check::Check;
use crate::hand_over::HandOverPlace;
use crate::printed::Sheet;
use crate::readout::ReadoutPlace;
use crate::ride::Ride;

/// A part of the page that comes later.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Check,
    Ride,
    Readout,
    BackToBack,
    HandOver,
    Sheet,
}

/// How far the later parts are.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fetched {
    Coming,
    There,
    /// Not, but they can be asked for again.
    Failed,
}

/// The parts that come later; a handle that copies.
#[derive(Clone, Copy)]
pub struct Later(RwSignal<Fetched>);

impl Later {
    /// Begins to fetch them.
    pub fn new() -> Self {
        let later = Self(RwSignal::new(Fetched::Coming));
        later.fetch();
        later
    }

    fn fetch(self) {
        self.0.set(Fetched::Coming);
        spawn_local(async move {
            let fetched = fetch().await;
            self.0.set(if fetched.is_ok() { Fetched::There } else { Fetched::Failed });
        });
    }

    /// Whether they are there.
    pub fn is_there(self) -> bool {
        self.0.get() == Fetched::There
    }

    /// A part, or what stands in its place until it is there.
    pub fn show(self, part: Part) -> AnyView {
        match self.0.get() {
            Fetched::There => at_once(built(part)).and_then(Result::ok).into_any(),
            Fetched::Coming => view! { <p class="quiet later">"Fetching this part of the page…"</p> }.into_any(),
            Fetched::Failed => view! {
                <p class="later">
                    "This part of the page could not be fetched: is there a network? What is typed and loaded stays. "
                    <button on:click=move |_| self.fetch()>"Try again"</button>
                </p>
            }
            .into_any(),
        }
    }
}

#[wasm_split(later, preload(fetch), fallible)]
fn built(part: Part) -> Result<AnyView, SplitLoaderError> {
    Ok(match part {
        Part::Check => view! { <Check/> }.into_any(),
        Part::Ride => view! { <Ride/> }.into_any(),
        Part::Readout => view! { <ReadoutPlace/> }.into_any(),
        Part::BackToBack => view! { <BackToBackPlace/> }.into_any(),
        Part::HandOver => view! { <HandOverPlace/> }.into_any(),
        Part::Sheet => view! { <Sheet/> }.into_any(),
    })
}

/// The output of what needs not wait.
fn at_once<T>(ready: impl Future<Output = T>) -> Option<T> {
    match pin!(ready).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(output) => Some(output),
        Poll::Pending => None,
    }
}
