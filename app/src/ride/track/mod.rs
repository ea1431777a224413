//! Where the run went: the plan of the track, coloured by a channel, with sections and the cursor.

mod as_table;
mod channel;
mod colours;
mod frame;
mod ground;
mod names;
mod picture;
mod scale;

use std::sync::Arc;

use evenkeel_core::ride::Trace;
use evenkeel_core::track::PathSource;
use leptos::prelude::*;

use super::view::View;
use crate::save_picture::SavePicture;
use crate::store::store;
use as_table::AsTable;
use channel::{Channel, channels, values};
use ground::{Ground, Values};
use picture::Picture;
use scale::ColourScale;

#[component]
pub fn TrackPanel(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let chosen = RwSignal::new(Trace::Speed);
    let offered = Memo::new(move |_| {
        store.ride.with(|ride| ride.as_ref().map(|ride| channels(ride)).unwrap_or_default())
    });
    let channel = Memo::new(move |_| {
        let chosen = chosen.get();
        offered.with(|all| all.iter().find(|channel| channel.trace == chosen).or(all.first()).cloned())
    });
    let values = Memo::new_with_compare(
        move |_| {
            let (channel, track, ride) = (channel.get()?, store.track.get()?, store.ride.get()?);
            values(&ride, &track, &channel).map(Arc::new)
        },
        |_, _| true,
    );
    let ground = Memo::new(move |_| {
        let (track, values) = (store.track.get()?, values.get());
        Ground::of(&track, values.as_deref()).map(Arc::new)
    });
    // The picture stays, with its focus, when the track is found anew.
    let source =
        Memo::new(move |_| store.track.with(|track| track.as_ref().map(|track| track.source.clone())));
    let picture = move || match source.get() {
        None => view! { <p class="quiet">"Analysing…"</p> }.into_any(),
        Some(Err(why)) => {
            view! { <p class="quiet" id="track-source">{format!("No track can be drawn: {}.", why.0)}</p> }
                .into_any()
        }
        Some(Ok(source)) => view! {
            <Picture ground view/>
            <p class="quiet note" id="track-source">{source_words(source)}</p>
            <SavePicture name="track"/>
        }
        .into_any(),
    };
    view! {
        <section class="track pictured" aria-label="Track">
            <ChannelChoice offered channel chosen/>
            {picture}
            <Meaning channel values/>
        </section>
    }
}

fn source_words(source: PathSource) -> &'static str {
    match source {
        PathSource::Gps => "From GPS, north up. Click sets the cursor; arrows go by 1 m, with Shift by 10 m.",
        PathSource::DeadReckoned => {
            "Dead reckoned from speed and turning, without GPS: start on the left, no north, and errors grow on the way. \
             Click sets the cursor; arrows go by 1 m, with Shift by 10 m."
        }
    }
}

#[component]
fn ChannelChoice(
    offered: Memo<Vec<Channel>>,
    channel: Memo<Option<Channel>>,
    chosen: RwSignal<Trace>,
) -> impl IntoView {
    let options = move || {
        let option = |(index, offered): (usize, Channel)| {
            let own = offered.trace;
            let selected = move || channel.with(|channel| channel.as_ref().is_some_and(|c| c.trace == own));
            view! { <option value=index selected=selected>{offered.name}</option> }
        };
        offered.get().into_iter().enumerate().map(option).collect_view()
    };
    view! {
        <label class="colour-choice" hidden=move || offered.with(Vec::is_empty)>
            <span>"Colour by"</span>
            <select id="track-colour" on:change:target=move |event| {
                let index = event.target().value().parse::<usize>().ok();
                if let Some(channel) = index.and_then(|i| offered.with_untracked(|all| all.get(i).cloned())) {
                    chosen.set(channel.trace);
                }
            }>{options}</select>
        </label>
    }
}

/// The scale of the colours, and the same in numbers.
#[component]
fn Meaning(channel: Memo<Option<Channel>>, values: Memo<Option<Arc<Values>>>) -> impl IntoView {
    let store = store();
    let open = RwSignal::new(false);
    let scale = move || Some(view! { <ColourScale channel=channel.get()? values=values.get()?/> });
    let table = move || {
        let (channel, values, track) = (channel.get()?, values.get()?, store.track.get()?);
        open.get().then(|| view! { <AsTable track channel values/> })
    };
    view! {
        {scale}
        <details class="as-table" on:toggle=move |_| open.update(|open| *open = !*open)>
            <summary>"In numbers"</summary>
            {table}
        </details>
    }
}
