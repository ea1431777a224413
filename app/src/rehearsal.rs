//! The way from a file to its traces, gone once on a made log and out of sight.
//!
//! A browser compiles what has never run when it is first called, and compiles well only what has run for a while:
//! without this the first file would take half as long again as the second until it is drawn.

use std::fmt::Write;
use std::time::Duration;

use gloo_file::File;
use js_sys::{Array, Reflect};
use leptos::mount::mount_to;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{CssStyleSheet, Element, HtmlElement, ShadowRootInit, ShadowRootMode};

use crate::day::take_files;
use crate::later::Later;
use crate::places::{Places, follow};
use crate::store::{Place, Store};
use crate::timing::{breathe, mark, rest};
use crate::worker::Request;

const NAME: &str = "rehearsal.csv";
/// Enough for Chromium to find out what is worth compiling well, which 8000 were not.
const ROWS: u32 = 15_000;
const ROWS_A_LAP: u32 = 1000;
const RATE_HZ: f64 = 200.0;
/// So many rows are written in less time than a frame has.
const WRITTEN_AT_ONCE: u32 = 300;
/// So many are painted, each of another stretch.
const FRAMES: u32 = 20;
/// A browser that takes longer is better left in peace.
const PATIENCE_MS: u32 = 6000;
/// How often it is looked whether an answer is there, ms.
const LOOK_MS: u32 = 10;

/// Rehearses as soon as all of the page is there and nobody uses it; gives way to whoever does.
pub fn rehearse(store: Store, later: Later) {
    let begun = StoredValue::new(false);
    Effect::new(move |_| {
        if later.is_there() && !begun.get_value() {
            begun.set_value(true);
            spawn_local(async move {
                idle().await;
                if store.is_untouched() {
                    play(store, later).await;
                }
                mark("evenkeel:rehearsed");
            });
        }
    });
}

async fn play(store: Store, later: Later) {
    let log = log().await;
    if !store.is_untouched() {
        return;
    }
    let Ok((wings, stage)) = out_of_sight() else { return };
    breathe().await;
    // Kept for good: what is still on its way when this ends finds its signals.
    let owner = Owner::new();
    let made = owner.with(|| store.unseen());
    std::mem::forget(owner);
    let shown = mount_to(stage, move || {
        provide_context(made);
        follow(made);
        view! { <Places later/> }
    });
    take_files(made, vec![File::new(NAME, log.as_str())]);
    let is_listed = move || made.day.with_untracked(|day| !day.runs.is_empty());
    let is_analysed = move || untrack(|| made.readout(0).is_some() && made.track.with(Option::is_some));
    if until(store, is_listed).await {
        made.place.set(Place::Ride);
        if until(store, is_analysed).await {
            for frame in 0..FRAMES {
                let from_s = f64::from(frame);
                made.wanted_s.set(Some([from_s, from_s + 10.0]));
                breathe().await;
            }
        }
    }
    made.jobs.with_untracked(|jobs| jobs.iter().for_each(|job| made.cancel(job.call)));
    drop(shown);
    wings.remove();
    made.ride.set(None);
    let _ = made.ask::<()>(Request::Forget { file: NAME.to_owned() }, None).await;
}

/// Waits for something, but no longer than nobody uses the page; says whether it has come.
async fn until(store: Store, there: impl Fn() -> bool) -> bool {
    for _ in 0..PATIENCE_MS / LOOK_MS {
        if !store.is_untouched() {
            return false;
        }
        if there() {
            return true;
        }
        rest(Duration::from_millis(LOOK_MS.into())).await;
    }
    false
}

/// An element that is laid out and not seen, whose names are not those of the page, and where it hangs.
fn out_of_sight() -> Result<(Element, HtmlElement), JsValue> {
    let wings = document().create_element("div")?;
    wings.set_class_name("wings");
    wings.set_attribute("aria-hidden", "true")?;
    wings.set_attribute("inert", "")?;
    let stage: HtmlElement = document().create_element("div")?.unchecked_into();
    stage.set_class_name("stage");
    let shadow = wings.attach_shadow(&ShadowRootInit::new(ShadowRootMode::Closed))?;
    Reflect::set(&shadow, &"adoptedStyleSheets".into(), &Array::of1(&style()?.into()))?;
    shadow.append_child(&stage)?;
    document().body().ok_or(JsValue::NULL)?.append_child(&wings)?;
    Ok((wings, stage))
}

/// The page's own style, which does not reach there by itself.
fn style() -> Result<CssStyleSheet, JsValue> {
    let style = CssStyleSheet::new()?;
    let sheets = document().style_sheets();
    let mut text = String::new();
    for sheet in (0..sheets.length()).filter_map(|i| sheets.item(i)) {
        let rules = sheet.unchecked_into::<CssStyleSheet>().css_rules()?;
        (0..rules.length()).filter_map(|i| rules.item(i)).for_each(|rule| text += &rule.css_text());
    }
    style.replace_sync(&text)?;
    Ok(style)
}

/// Lets the browser do first what it has to.
async fn idle() {
    let asked = js_sys::Promise::new(&mut |resolve, reject| {
        if window().request_idle_callback(&resolve).is_err() {
            let _ = reject.call0(&JsValue::NULL);
        }
    });
    // Not every browser tells when it has nothing to do.
    if JsFuture::from(asked).await.is_err() {
        rest(Duration::from_millis(500)).await;
    }
}

/// A minute and more of everything a bike can log, none of it from a bike: five seconds, over and over.
async fn log() -> String {
    let mut text = "time [s],front travel [mm],rear travel [mm],front brake [bar],rear brake [bar],\
        front wheel speed [m/s],rear wheel speed [m/s]"
        .to_owned();
    for place in ["frame", "bar"] {
        for sensor in ["acc {} [m/s^2]", "gyro {} [rad/s]"] {
            ["x", "y", "z"]
                .iter()
                .for_each(|axis| _ = write!(text, ",{place} {}", sensor.replace("{}", axis)));
        }
    }
    let mut rows = Vec::new();
    for row in 0..ROWS {
        if row % WRITTEN_AT_ONCE == 0 {
            breathe().await;
        }
        if row < ROWS_A_LAP {
            rows.push(written(f64::from(row) / RATE_HZ));
        }
        let values = &rows[(row % ROWS_A_LAP) as usize];
        _ = write!(text, "\n{:.3}{values}", f64::from(row) / RATE_HZ);
    }
    text
}

/// What stands in a row behind its time: hits, a rock of the bike, a rider who brakes now and then.
fn written(t_s: f64) -> String {
    let mut text = String::new();
    let wave = |hz: f64| (std::f64::consts::TAU * hz * t_s).sin();
    let hit = wave(1.3).powi(9) + 0.2 * wave(7.1);
    let brakes = wave(0.2).max(0.0) * 30.0;
    _ = write!(text, ",{:.4},{:.4}", 40.0 + 35.0 * hit, 50.0 + 40.0 * hit.mul_add(0.9, 0.05 * wave(5.0)));
    _ = write!(text, ",{brakes:.4},{:.4},{:.4},{:.4}", 0.7 * brakes, 8.0 + wave(0.1), 8.02 + wave(0.1));
    for place in [1.0, 1.6] {
        for (at, level) in [0.0, 0.0, 9.81].into_iter().enumerate() {
            _ = write!(text, ",{:.4}", level + place * (hit + 0.3 * wave(11.0 + at as f64)));
        }
        (0..3).for_each(|axis| _ = write!(text, ",{:.4}", 0.2 * place * wave(0.7 + 0.3 * f64::from(axis))));
    }
    text
}
