//! The picture and what moves it.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use evenkeel_core::align::moment;
use js_sys::{Function, Reflect};
use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use web_sys::HtmlVideoElement;

use super::edit_clip;
use super::player::Player;
use crate::store::store;

/// Speeds to play at, and what their buttons say.
const SPEEDS: [(f64, &str, &str); 4] = [
    (1.0, "1×", "Full speed"),
    (0.5, "½", "Half speed"),
    (0.25, "¼", "A quarter of the speed"),
    (0.125, "⅛", "An eighth of the speed"),
];
/// Error codes of a media element (HTML standard, `MediaError`): reading the file failed.
const NETWORK: u16 = 2;

/// The video at an address of this page.
#[component]
pub fn Screen(address: String, name: String) -> impl IntoView {
    let player = store().player;
    let node = NodeRef::<html::Video>::new();
    Effect::new(move || {
        if let Some(video) = node.get() {
            player.attach(Some(video.clone()));
            follow_frames(player, &video);
        }
    });
    on_cleanup(move || player.attach(None));
    let loaded = move || {
        let Some(video) = node.get_untracked() else { return };
        // Sound without pictures: the browser reads the file but not its video.
        if video.video_width() == 0 {
            return player.trouble.set(Some(CANNOT_PLAY.to_owned()));
        }
        let length_s = video.duration();
        player.length_s.set(if length_s.is_finite() { length_s } else { 0.0 });
        edit_clip(store(), |clip| {
            if let Some(file) = &mut clip.file {
                file.length_s = length_s.is_finite().then_some(length_s);
            }
        });
        player.ready.set(true);
    };
    let failed = move |_| {
        let code = node.get_untracked().and_then(|video| video.error()).map(|error| error.code());
        player.ready.set(false);
        player.trouble.set(Some(match code {
            Some(NETWORK) => {
                "The file cannot be read any more: choose it again. Typed times still work.".to_owned()
            }
            _ => CANNOT_PLAY.to_owned(),
        }));
    };
    let ticked = move || {
        if !player.exact.get_untracked()
            && let Some(video) = node.get_untracked()
        {
            player.shows(video.current_time());
        }
    };
    view! {
        <div class="screen">
            <video
                node_ref=node
                src=address
                preload="auto"
                playsinline
                aria-label=format!("Video {name}")
                hidden=move || player.trouble.get().is_some()
                on:loadeddata=move |_| loaded()
                on:error=failed
                on:seeked=move |_| player.sought()
                on:timeupdate=move |_| ticked()
                on:play=move |_| player.playing.set(true)
                on:pause=move |_| player.playing.set(false)
                on:ended=move |_| player.ended.set(true)
                on:click=move |_| player.toggle()
            ></video>
            {move || player.trouble.get().map(|trouble| view! { <p class="wrong" role="alert">{format!("{name}: {trouble}")}</p> })}
            <Show when=move || player.ready.get()>
                <Controls/>
            </Show>
        </div>
    }
}

const CANNOT_PLAY: &str = "this browser cannot play it; typed times still work. Many cameras write HEVC (H.265), which not \
                           every browser plays; a copy in H.264 plays in all.";

#[component]
fn Controls() -> impl IntoView {
    let player = store().player;
    let speeds = SPEEDS.map(|(speed, text, name)| {
        view! {
            <button
                aria-label=name
                title=name
                aria-pressed=move || (player.speed.get() == speed).to_string()
                on:click=move |_| player.set_speed(speed)
            >
                {text}
            </button>
        }
    });
    view! {
        <input
            class="place"
            type="range"
            aria-label="Place in the video"
            min="0"
            step="any"
            max=move || player.length_s.get()
            prop:value=move || player.shown_s.get().unwrap_or_default()
            aria-valuetext=move || moment::format(player.shown_s.get().unwrap_or_default(), 0.001)
            on:input:target=move |event| {
                if let Ok(video_s) = event.target().value().parse() {
                    player.show(video_s, true);
                }
            }
        />
        <div class="transport">
            <button id="frame-back" aria-label="One frame back" title="One frame back (Shift + ←)" on:click=move |_| { player.step(false); }>"◂|"</button>
            <button id="play" class="main" title="Space" on:click=move |_| player.toggle()>
                {move || if player.playing.get() { "Pause" } else { "Play" }}
            </button>
            <button id="frame-on" aria-label="One frame on" title="One frame on (Shift + →)" on:click=move |_| { player.step(true); }>"|▸"</button>
            <span class="speeds" role="group" aria-label="Speed">{speeds}</span>
        </div>
        <p class="facts" id="frame">{move || frame_words(player)}</p>
    }
}

fn frame_words(player: Player) -> String {
    let shown = player.shown_s.get().map_or("-:--".to_owned(), |shown_s| moment::format(shown_s, 0.001));
    let length = moment::format(player.length_s.get(), 1.0);
    let rate = match player.frames.with(|frames| (frames.rate(), frames.length_s())) {
        _ if !player.exact.get() => "±1 frame: this browser does not say which it shows".to_owned(),
        (Some(rate), _) => format!("{:.2} frames/s", rate.hz()),
        (None, Some(length_s)) => format!("about {:.0} frames/s", 1.0 / length_s),
        (None, None) => String::new(),
    };
    format!("Frame at {shown} of {length} · {rate}")
}

/// Called with the time and what is known of the frame.
type OnFrame = Closure<dyn FnMut(f64, JsValue)>;

/// Tells the player each frame that the browser draws, where the browser says so.
fn follow_frames(player: Player, video: &HtmlVideoElement) {
    let function = |name: &str| Reflect::get(video, &name.into()).ok()?.dyn_into::<Function>().ok();
    let (Some(request), Some(cancel)) =
        (function("requestVideoFrameCallback"), function("cancelVideoFrameCallback"))
    else {
        return player.exact.set(false);
    };
    player.exact.set(true);
    let handle = Rc::new(Cell::new(JsValue::UNDEFINED));
    let again: Rc<RefCell<Option<OnFrame>>> = Rc::default();
    let ask = {
        let (video, handle, again) = (video.clone(), Rc::clone(&handle), Rc::downgrade(&again));
        move || {
            let Some(again) = again.upgrade() else { return };
            if let Some(again) = &*again.borrow() {
                handle.set(request.call1(&video, again.as_ref()).unwrap_or_default());
            }
        }
    };
    let next = ask.clone();
    *again.borrow_mut() = Some(Closure::new(move |_now: f64, frame: JsValue| {
        next();
        let begins_s = Reflect::get(&frame, &"mediaTime".into()).ok().and_then(|time| time.as_f64());
        if let Some(begins_s) = begins_s {
            player.shows(begins_s);
        }
    }));
    ask();
    let kept = StoredValue::new_local((video.clone(), cancel, handle, again));
    on_cleanup(move || {
        kept.with_value(|(video, cancel, handle, _)| drop(cancel.call1(video, &handle.take())));
    });
}
