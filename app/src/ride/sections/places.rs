//! Places of the track, asked of the worker.

use evenkeel_core::NotMeasured;
use leptos::prelude::*;

use crate::store::Store;
use crate::worker::{Failure, GivenPlace, PlacesFound, Request};

/// Places of the course that are given in the run in view.
///
/// # Errors
/// A sentence for the screen.
pub async fn find_places(store: Store, places: Vec<GivenPlace>) -> Result<PlacesFound, String> {
    let (day, run) = (store.day.get_untracked(), store.run.get_untracked());
    let request = Request::Places { day, run, places };
    match store.ask::<Result<PlacesFound, NotMeasured>>(request, None).await {
        Ok((found, _)) => found.map_err(|reason| reason.0),
        Err(Failure::Cancelled) => Err("this was called off".to_owned()),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}
