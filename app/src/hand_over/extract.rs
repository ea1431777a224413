//! A piece of a run that came in a link: a day of its own, read-only, drawn as any run.

use std::sync::Arc;

use evenkeel_core::handover::{Extract, ExtractChannel};
use evenkeel_core::ride::Trace;
use evenkeel_core::track::{Section, Stretch};
use evenkeel_core::{Day, Log, Measured, NotMeasured, RunSheet};
use gloo_file::File;
use leptos::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::Blob;

use super::arrive::{forget, look, named, sent_to, tell_remarks};
use super::shared::{Shared, is_blank};
use crate::kept::{go_to, is_kept, is_open, keep_beside, keep_file, known, rename, settled};
use crate::ride::joined_rows;
use crate::store::{Place, RideView, Store, store};
use crate::track_view::TrackView;
use crate::words::{fixed, symbol};
use crate::worker::{Failure, LinkRead, PlacedSection, Request, Series, TrackAnswer};

/// How the key of a day begins that is an extract.
pub const OF_LINK: &str = "link-";
/// The file in which the link itself is kept.
const KEPT_AS: &str = "link.evenkeel-extract";

/// Whether a kept file is an extract's link.
pub fn is_extract(file: &File) -> bool {
    file.name() == KEPT_AS
}

/// Opens an extract that came in: of one's own day its remarks, else the piece itself.
pub async fn open(store: Store, fragment: &str, extract: Extract, series: Series, buffers: Vec<Vec<f32>>) {
    let shared = store.shared.get_untracked();
    if !shared.copy && !extract.id.is_empty() && shared.id == extract.id {
        forget();
        let mut new = 0;
        store.shared.update(|shared| new = shared.remarks.merge(&extract.remarks));
        tell_remarks(store, new, extract.remarks.iter().len());
        let run = store.day.with_untracked(|day| extract.run.index_in(day)).unwrap_or_default();
        let end_s = series.start_s + series.len as f64 / series.rate_hz;
        return look(store, run, Some([series.start_s, end_s]), extract.cursor_s);
    }
    if let Some((key, false)) = known(store, &extract.id).await
        && sent_to(store, &key).await
    {
        return;
    }
    forget();
    let key = key_of(fragment);
    if is_open(store, &key) {
        // It is being shown as what was open last.
        return store.place.set(Place::Ride);
    }
    if is_kept(store, &key).await {
        settled(store).await;
        return go_to(Some(&key));
    }
    let file = Blob::new_with_str_sequence(&js_sys::Array::of1(&fragment.into()))
        .map_err(|error| format!("{error:?}"))
        .and_then(|text| named(&text, KEPT_AS));
    let file = match file {
        Ok(file) => file,
        Err(problem) => return store.tell(problem),
    };
    let shared = Shared { id: extract.id.clone(), copy: true, remarks: extract.remarks.clone() };
    if is_blank(store) {
        rename(store, key);
        store.shared.set(shared);
        store.day.set(day_of(&extract));
        keep_file(store, file, None);
        show(store, extract, series, buffers);
    } else {
        match keep_beside(store, Some(key), &shared.with(day_of(&extract)), Some(&file)).await {
            Ok(key) => {
                settled(store).await;
                go_to(Some(&key));
            }
            Err(problem) => store.tell(format!(
                "The link was not opened, since the day that is open would have to go: {problem}. Open it in another window."
            )),
        }
    }
}

/// Known by its link: the same one opened twice is one day.
fn key_of(fragment: &str) -> String {
    // FNV-1a, 64 bits.
    let hash = fragment.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("{OF_LINK}{hash:016x}")
}

/// Shows an extract that is kept.
pub async fn show_extract(store: Store, file: File) {
    let blob: &Blob = file.as_ref();
    let text = JsFuture::from(blob.text()).await.ok().and_then(|text| text.as_string()).unwrap_or_default();
    match store.ask::<LinkRead>(Request::ReadLink { fragment: text }, None).await {
        Ok((LinkRead::Extract { extract, series }, buffers)) => show(store, extract, series, buffers),
        Ok(_) | Err(Failure::Cancelled) => {}
        Err(Failure::Problem(problem)) => store.tell(problem),
    }
}

fn day_of(extract: &Extract) -> Day {
    let log = Log { file: extract.run.log.clone(), ..Log::default() };
    let run = RunSheet {
        name: extract.run.name.clone(),
        words: extract.words.clone(),
        marks: extract.marks.clone(),
        logs: vec![log],
        ..RunSheet::default()
    };
    Day { name: extract.day.clone(), runs: vec![run], ..Day::default() }
}

fn show(store: Store, extract: Extract, series: Series, buffers: Vec<Vec<f32>>) {
    let start_s = series.start_s;
    let ride = RideView::shown(0, extract.run.name.clone(), series, buffers, None).without_log();
    let section = |stretch: &evenkeel_core::handover::Stretch| {
        let [start_s, end_s] = stretch.range_s;
        let placed =
            Stretch { start_s, end_s, uncertainty_m: None, time_s: Measured::value(end_s - start_s) };
        PlacedSection {
            section: Section { name: stretch.name.clone(), ..Section::default() },
            stretch: Ok(placed),
        }
    };
    let no_way = || NotMeasured::because("an extract does not say where the bike went");
    let track = TrackAnswer {
        source: Err(no_way()),
        length_m: Err(no_way()),
        method: None,
        sections: extract.sections.iter().map(section).collect(),
        start_s,
    };
    let cursor_s = extract.cursor_s.filter(|t_s| (ride.start_s..=ride.end_s()).contains(t_s));
    store.run.set(0);
    store.cursor_s.set(cursor_s.unwrap_or(ride.start_s));
    store.track.set(Some(Arc::new(TrackView::new(0, track, Vec::new()))));
    store.ride.set(Some(Arc::new(ride)));
    store.hand_over.extract.set(Some(Arc::new(extract)));
    store.place.set(Place::Ride);
}

/// What the extract that is open holds, and how finely.
#[component]
pub fn ExtractFacts() -> impl IntoView {
    let store = store();
    move || {
        let extract = store.hand_over.extract.get()?;
        let rows = extract.channels.iter().map(row).collect_view();
        let long = store
            .ride
            .with(|ride| ride.as_ref().map(|ride| format!(": {:.1} s", ride.end_s() - ride.start_s)));
        let long = long.unwrap_or_default();
        let words = (!extract.words.is_empty()).then(|| {
            view! { <p>"The rider said: “"<span class="said">{extract.words.clone()}</span>"”"</p> }
        });
        Some(view! {
            <section class="card arrived" aria-label="Extract">
                <h2>{format!("A piece of “{}”, {}{long}", extract.day, extract.run.name)}</h2>
                {words}
                <table>
                    <thead><tr><th scope="col">"Channel"</th><th scope="col">"from"</th><th scope="col">"rate"</th><th scope="col">"rounded to"</th></tr></thead>
                    <tbody>{rows}</tbody>
                </table>
                <p class="quiet">"Nothing between two samples was sent, and each sample is off by half of what it is rounded to at most. The bike's measures did not come with it: the bike beside the traces is drawn as a usual one."</p>
                <p class="buttons"><button class="main" on:click=move |_| store.place.set(Place::Ride)>"Look at it in Ride"</button></p>
            </section>
        })
    }
}

fn row(channel: &ExtractChannel) -> impl IntoView + use<> {
    let (name, unit) = name_of(channel.trace);
    let step = unit.from_si(channel.quantum) - unit.from_si(0.0);
    let digits = (-step.abs().log10().floor()).clamp(0.0, 6.0) as usize;
    view! {
        <tr>
            <th scope="row">{name}</th>
            <td>{evenkeel_core::align::moment::format(channel.start_s, 0.1)}</td>
            <td>{format!("{} Hz", fixed(channel.rate_hz, if channel.rate_hz.fract() == 0.0 { 0 } else { 1 }))}</td>
            <td>{format!("{} {}", fixed(step, digits), symbol(unit))}</td>
        </tr>
    }
}

/// A trace as its row in Ride names it, and the unit there.
pub fn name_of(trace: Trace) -> (String, evenkeel_core::Unit) {
    let rows = joined_rows(|other| other == trace);
    rows.first().map_or_else(
        || (format!("{trace:?}"), evenkeel_core::Unit::Raw),
        |row| {
            let line =
                row.lines.iter().find(|line| line.trace == trace).map(|line| line.name).unwrap_or_default();
            (format!("{} {line}", row.title).trim().to_owned(), row.unit)
        },
    )
}
