//! What a link is to carry, and the link made of it.

use std::time::Duration;

use evenkeel_core::Day;
use evenkeel_core::handover::{Extract, MAX_FRAGMENT, Pointer, Remarks, View};
use evenkeel_core::ride::Trace;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::ride::rested;
use crate::store::Store;
use crate::worker::{Failure, Made, Request};

/// What is typed in one go is waited for.
const REST: Duration = Duration::from_millis(250);
/// What most mail passes on, characters, less some for the address.
const FITS_MAIL: usize = 7800;

/// A link that is wanted.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    View(Box<View>),
    Extract(Box<ExtractOf>),
}

/// A piece of a run that is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct ExtractOf {
    pub day: Day,
    pub run: usize,
    pub traces: Vec<Trace>,
    pub range_s: [f64; 2],
    /// The highest that fits a mail if none is said.
    pub rate_hz: Option<f64>,
    /// All but its channels.
    pub extract: Extract,
}

impl Wish {
    fn request(self) -> Request {
        match self {
            Self::View(view) => Request::MakeView { view: *view },
            Self::Extract(of) => {
                let ExtractOf { day, run, traces, range_s, rate_hz, extract } = *of;
                let characters = FITS_MAIL.min(MAX_FRAGMENT);
                Request::MakeExtract { day, run, traces, range_s, rate_hz, characters, extract }
            }
        }
    }
}

/// A link in the making.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Making {
    /// Nothing is wanted yet.
    #[default]
    Nothing,
    Working,
    Done(Made),
    Not(String),
}

/// The link that is wanted, made anew with every change.
pub fn made(store: Store, wish: Memo<Option<Wish>>) -> RwSignal<Making> {
    let made = RwSignal::new(Making::Nothing);
    let round = StoredValue::new(0_u32);
    let wanted = rested(move || wish.get(), REST);
    Effect::new(move |_| {
        let wish = wanted.get();
        let this = round.try_update_value(|round| {
            *round += 1;
            *round
        });
        let Some(wish) = wish else { return made.set(Making::Nothing) };
        made.set(Making::Working);
        spawn_local(async move {
            let answer = store.ask::<Made>(wish.request(), None).await;
            if round.try_get_value() == this {
                made.set(match answer {
                    Ok((link, _)) => Making::Done(link),
                    Err(Failure::Cancelled) => Making::Nothing,
                    Err(Failure::Problem(problem)) => Making::Not(problem),
                });
            }
        });
    });
    made
}

/// A link to a sealed file.
///
/// # Errors
/// What is wrong with its path or key.
pub async fn point(store: Store, pointer: Pointer) -> Result<Made, String> {
    match store.ask::<Made>(Request::MakePointer { pointer }, None).await {
        Ok((link, _)) => Ok(link),
        Err(Failure::Cancelled) => Err(String::new()),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}

/// The remarks on a run and on the whole day.
pub fn remarks_on(store: Store, run: usize) -> Remarks {
    store.day.with(|day| store.shared.with(|shared| shared.remarks.on(day, &[run])))
}
