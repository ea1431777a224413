//! Which files the video of a run is in.

use evenkeel_core::Film;
use evenkeel_core::align::{Anchor, Moment, fit};
use gloo_file::File;
use leptos::html;
use leptos::prelude::*;
use leptos::task::spawn_local;
use web_sys::{DragEvent, HtmlInputElement};

use super::edit_clip;
use crate::day::list_files;
use crate::dropped::files_of;
use crate::store::{Store, store};

/// Clips that a camera split follow each other to this, s (common practice).
const FOLLOWS_WITHIN_S: f64 = 0.1;

/// Takes what was dropped on the panel.
pub fn dropped(store: Store, event: DragEvent) {
    spawn_local(async move {
        match files_of(&event).await {
            Ok(files) => take(store, files),
            Err(problem) => store.tell(problem),
        }
    });
}

/// Gives files to the run in view, or to the clips that they were chosen for before; none is copied or sent.
fn take(store: Store, files: Vec<File>) {
    let run = store.run.get_untracked();
    for file in files {
        let kind = file.raw_mime_type();
        if !kind.is_empty() && !kind.starts_with("video/") {
            store.tell(format!("{} is not a video ({kind}); nothing was changed.", file.name()));
            continue;
        }
        let changed_ms = AsRef::<web_sys::File>::as_ref(&file).last_modified() as i64;
        let film = Film { name: file.name(), bytes: file.size(), changed_ms, length_s: None };
        let (mut clip, mut dates) = (None, None);
        store.day.update(|day| {
            let Some(sheet) = day.runs.get_mut(run) else { return };
            let place = sheet.video.take(film.clone());
            clip = Some(place);
            dates =
                sheet.video.clip_mut(place).and_then(|clip| clip.file.as_ref()).map(|file| file.changed_ms);
        });
        if dates.is_some_and(|date| date != changed_ms) {
            store.tell(format!(
                "{} has another date than the file that was matched here before. If it was cut or converted since, \
                 check its matches.",
                film.name
            ));
        }
        store.player.keep(&film, file);
        if let Some(clip) = clip {
            store.player.clip.set(clip);
        }
    }
}

/// The clips of the run, and how to choose more.
#[component]
pub fn Clips() -> impl IntoView {
    let store = store();
    let player = store.player;
    let files = Memo::new(move |_| {
        let run = store.run.get();
        let clips =
            |video: &evenkeel_core::Video| video.clips().map(|clip| clip.file.clone()).collect::<Vec<_>>();
        store.day.with(|day| day.runs.get(run).map(|run| clips(&run.video))).unwrap_or_default()
    });
    let this = move || files.with(|files| files.get(player.clip.get()).cloned().flatten());
    let input = NodeRef::<html::Input>::new();
    let chosen = move |input: HtmlInputElement| {
        if let Some(list) = input.files() {
            take(store, list_files(&list));
        }
        input.set_value("");
    };
    let options = move || {
        let name = |(i, file): (usize, Option<Film>)| {
            let name = file.map_or("typed times".to_owned(), |file| file.name);
            view! { <option value=i selected=move || player.clip.get() == i>{name}</option> }
        };
        files.get().into_iter().enumerate().map(name).collect_view()
    };
    let remove = move |_| {
        let (run, clip) = (store.run.get_untracked(), player.clip.get_untracked());
        store.day.update(|day| {
            if let Some(run) = day.runs.get_mut(run) {
                run.video.remove(clip);
            }
        });
        player.clip.set(0);
    };
    let missing = move || this().filter(|file| player.address(file).is_none());
    view! {
        {move || missing().map(|file| view! {
            <p class="ask-again">
                {format!("{} ({}) plays from its own place and is not kept: choose it again to see it. Its times work without.", file.name, size_words(file.bytes))}
            </p>
        })}
        <div class="clips">
            <Show when=move || files.with(|files| files.len() > 1)>
                <label class="field">
                    <span>"Clip"</span>
                    <select id="clip" on:change:target=move |e| if let Ok(clip) = e.target().value().parse() { player.clip.set(clip) }>{options}</select>
                </label>
            </Show>
            <button id="choose-video" on:click=move |_| { if let Some(input) = input.get() { input.click() } }>
                {move || if this().is_none() { "Choose a video" } else if missing().is_some() { "Choose it again" } else { "Add a clip" }}
            </button>
            <Show when=move || this().is_some()>
                <button on:click=remove>{move || if player.clip.get() == 0 { "Remove the file" } else { "Remove this clip" }}</button>
            </Show>
            <FollowOn/>
            <input id="video-file" type="file" accept="video/*,.mkv,.mts,.insv" multiple hidden node_ref=input on:change:target=move |e| chosen(e.target())/>
        </div>
        <Show when=move || this().is_none()>
            <p class="quiet">"Or drop it here; it stays on this computer. Without a file, typed times do."</p>
        </Show>
    }
}

/// Offers to match a clip to the end of the one before.
#[component]
fn FollowOn() -> impl IntoView {
    let store = store();
    let player = store.player;
    let anchor = Memo::new(move |_| {
        let (run, clip) = (store.run.get(), player.clip.get());
        store.day.with(|day| {
            let video = &day.runs.get(run)?.video;
            let (before, this) = (video.clips().nth(clip.checked_sub(1)?)?, video.clips().nth(clip)?);
            let length_s = before.file.as_ref()?.length_s?;
            let mapping = fit(&before.anchors).ok().filter(|_| this.anchors.is_empty())?;
            let log = Moment { seconds: mapping.log_from_video(length_s), resolution_s: FOLLOWS_WITHIN_S };
            Some(Anchor { log, video: Moment { seconds: 0.0, resolution_s: FOLLOWS_WITHIN_S } })
        })
    });
    move || {
        anchor.get().map(|anchor| {
            view! {
                <button id="follow-on" on:click=move |_| edit_clip(store, |clip| clip.anchors.push(anchor))>
                    "It starts where the clip before ends"
                </button>
            }
        })
    }
}

fn size_words(bytes: u64) -> String {
    match bytes as f64 {
        b if b >= 1e9 => format!("{:.1} GB", b / 1e9),
        b => format!("{:.1} MB", b / 1e6),
    }
}
