//! The video that plays in the page: what it shows, and how it is brought to a frame.

use std::collections::HashMap;
use std::time::Duration;

use evenkeel_core::Film;
use evenkeel_core::align::Frames;
use gloo_file::{File, ObjectUrl};
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;
use wasm_bindgen_futures::JsFuture;
use web_sys::{Element, HtmlVideoElement, KeyboardEvent};

/// A seek that hits the wrong frame is corrected so often.
const TRIES: u8 = 4;
/// Back from a frame's beginning by so much is the frame before, at any camera's rate, s.
const JUST_BEFORE_S: f64 = 0.002;
/// Where two neighbouring frames are looked at when the first one shown has none before it, s.
const LEARN_AT_S: f64 = 0.5;
/// A seek to where the video already stands shows no new frame; it has ended after this.
const NO_FRAME: Duration = Duration::from_millis(150);

/// What the video is on its way to.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Goal {
    /// The frame that shows at a video time. If it leads, the cursor follows.
    Show { video_s: f64, leads: bool, tries: u8 },
    /// The frame after one, or before it.
    Step { from_s: f64, forward: bool, tries: u8 },
    /// How long a frame is, from one frame and the one before it; then what was asked for.
    Learn { second_s: Option<f64>, tries: u8, video_s: f64, leads: bool },
}

/// The player of the clip in view; a handle that copies. It knows the video's time only, no log's.
#[derive(Clone, Copy)]
pub struct Player {
    /// Index of the clip in view, of the run in view.
    pub clip: RwSignal<usize>,
    /// When the frame on screen begins, s.
    pub shown_s: RwSignal<Option<f64>>,
    /// Whether the browser says which frame it shows; else times are true to one frame.
    pub exact: RwSignal<bool>,
    /// Where playing or stepping took the video, s: the cursor goes along.
    pub led_s: RwSignal<Option<f64>>,
    pub playing: RwSignal<bool>,
    /// 1 is as filmed.
    pub speed: RwSignal<f64>,
    /// The video has pictures.
    pub ready: RwSignal<bool>,
    /// Why it has none.
    pub trouble: RwSignal<Option<String>>,
    pub length_s: RwSignal<f64>,
    /// Cursor and video move apart while a match is looked for.
    pub apart: RwSignal<bool>,
    /// The clip played to its end.
    pub ended: RwSignal<bool>,
    /// Plays as soon as it is where it should be.
    pub plays_on: RwSignal<bool>,
    pub frames: RwSignal<Frames>,
    goal: StoredValue<Option<Goal>>,
    /// Asked for while on the way to the goal; only the last counts.
    next: StoredValue<Option<Goal>>,
    /// Counts seeks, so that a late look finds out that it is late.
    seeks: StoredValue<u32>,
    element: StoredValue<Option<HtmlVideoElement>, LocalStorage>,
    /// Files that were chosen since the page was opened.
    films: RwSignal<HashMap<(String, u64), ObjectUrl>, LocalStorage>,
}

impl Player {
    pub fn new() -> Self {
        Self {
            clip: RwSignal::default(),
            shown_s: RwSignal::default(),
            exact: RwSignal::new(true),
            led_s: RwSignal::default(),
            playing: RwSignal::default(),
            speed: RwSignal::new(1.0),
            ready: RwSignal::default(),
            trouble: RwSignal::default(),
            length_s: RwSignal::default(),
            apart: RwSignal::default(),
            ended: RwSignal::default(),
            plays_on: RwSignal::default(),
            frames: RwSignal::default(),
            goal: StoredValue::new(None),
            next: StoredValue::new(None),
            seeks: StoredValue::new(0),
            element: StoredValue::new_local(None),
            films: RwSignal::new_local(HashMap::new()),
        }
    }

    /// Keeps a file for as long as the page is open; it is played from where it lies.
    pub fn keep(self, film: &Film, file: File) {
        self.films.update(|films| {
            films.insert((film.name.clone(), film.bytes), ObjectUrl::from(file));
        });
    }

    /// The address of a file that was chosen since the page was opened.
    pub fn address(self, film: &Film) -> Option<String> {
        self.films.with(|films| films.get(&(film.name.clone(), film.bytes)).map(|url| url.to_string()))
    }

    /// Takes on another video, or none.
    pub fn attach(self, element: Option<HtmlVideoElement>) {
        self.element.set_value(element);
        self.goal.set_value(None);
        self.next.set_value(None);
        self.frames.set(Frames::default());
        self.shown_s.set(None);
        self.led_s.set(None);
        self.ready.set(false);
        self.playing.set(false);
        self.ended.set(false);
        self.trouble.set(None);
    }

    /// Shows the frame of a video time; if that leads, the cursor goes along.
    pub fn show(self, video_s: f64, leads: bool) {
        let last_s = self.length_s.get_untracked() - self.frame_s() / 2.0;
        self.head_for(Goal::Show { video_s: video_s.clamp(0.0, last_s.max(0.0)), leads, tries: TRIES });
    }

    /// One frame further or back; false if there is no video to step.
    pub fn step(self, forward: bool) -> bool {
        let Some(from_s) = self.shown_s.get_untracked().filter(|_| self.ready.get_untracked()) else {
            return false;
        };
        self.pause();
        self.head_for(Goal::Step { from_s, forward, tries: TRIES });
        true
    }

    /// Plays or pauses.
    pub fn toggle(self) {
        if self.playing.get_untracked() { self.pause() } else { self.play() }
    }

    pub fn play(self) {
        self.ended.set(false);
        self.element.with_value(|element| {
            let Some(element) = element else { return };
            element.set_playback_rate(self.speed.get_untracked());
            if let Ok(playing) = element.play() {
                // A pause that comes first ends it, which is no fault.
                spawn_local(async move { drop(JsFuture::from(playing).await) });
            }
        });
    }

    fn pause(self) {
        self.element.with_value(|element| element.as_ref().map(|element| element.pause()));
    }

    pub fn set_speed(self, speed: f64) {
        self.speed.set(speed);
        self.element.with_value(|element| element.as_ref().map(|element| element.set_playback_rate(speed)));
    }

    /// Length of a frame, s.
    pub fn frame_s(self) -> f64 {
        self.frames.with_untracked(Frames::length_s).unwrap_or(Frames::USUAL_S)
    }

    /// Acts on a key that is the video's; false leaves it to others. Space presses a button that has the focus.
    pub fn key(self, event: &KeyboardEvent) -> bool {
        let target = event.target().and_then(|target| target.dyn_into::<Element>().ok());
        let on_button = target
            .is_some_and(|target| ["BUTTON", "SUMMARY", "A", "VIDEO"].contains(&target.tag_name().as_str()));
        match event.key().as_str() {
            " " if self.ready.get_untracked() && !on_button => {
                self.toggle();
                true
            }
            "ArrowLeft" if event.shift_key() => self.step(false),
            "ArrowRight" if event.shift_key() => self.step(true),
            _ => false,
        }
    }

    /// The browser shows a frame that begins at this time.
    pub fn shows(self, frame_s: f64) {
        let before_s = self.shown_s.get_untracked();
        self.shown_s.set(Some(frame_s));
        // It may be one from before the seek, or the one that was sought: the end of the seek tells.
        if self.element.with_value(|element| element.as_ref().is_some_and(|element| element.seeking())) {
            return;
        }
        self.frames.update(|frames| frames.saw(frame_s));
        if self.goal.get_value().is_some() {
            self.arrived(frame_s);
        } else if before_s.is_some_and(|before_s| before_s != frame_s) {
            // Nobody sought it: it plays, or played until now.
            self.led_s.set(Some(frame_s));
        }
    }

    /// A seek has ended. Where no frame is reported from now on, it is the one that shows already.
    pub fn sought(self) {
        if !self.exact.get_untracked() {
            let now_s = self.element.with_value(|element| element.as_ref().map(|e| e.current_time()));
            return now_s.map(|now_s| self.shows(now_s)).unwrap_or_default();
        }
        let seek = self.seeks.get_value();
        set_timeout(
            move || {
                if self.seeks.get_value() == seek
                    && self.goal.get_value().is_some()
                    && let Some(shown_s) = self.shown_s.get_untracked()
                {
                    self.arrived(shown_s);
                }
            },
            NO_FRAME,
        );
    }

    fn head_for(self, goal: Goal) {
        if !self.ready.get_untracked() {
            return;
        }
        if self.goal.get_value().is_some() {
            return self.next.set_value(Some(goal));
        }
        let shown_s = self.shown_s.get_untracked();
        match (goal, shown_s) {
            (Goal::Show { video_s, leads, .. }, Some(shown_s))
                if self.frames.with_untracked(|f| f.length_s().is_some() && f.shows(shown_s, video_s)) =>
            {
                self.finish(leads.then_some(shown_s));
            }
            _ => {
                self.goal.set_value(Some(goal));
                self.seek(match goal {
                    Goal::Show { video_s, .. } | Goal::Learn { video_s, .. } => {
                        self.frames.with_untracked(|frames| frames.aim_s(video_s, shown_s))
                    }
                    Goal::Step { from_s, forward, .. } => self.beside_s(from_s, forward),
                });
            }
        }
    }

    /// The middle of the next frame, or of the one before.
    fn beside_s(self, frame_s: f64, forward: bool) -> f64 {
        self.frames.with_untracked(|frames| frames.step_s(frame_s, if forward { 1.0 } else { -1.0 }))
    }

    fn seek(self, to_s: f64) {
        self.seeks.update_value(|seeks| *seeks = seeks.wrapping_add(1));
        self.element
            .with_value(|element| element.as_ref().map(|element| element.set_current_time(to_s.max(0.0))));
    }

    /// A frame came up on the way to the goal: is it the right one?
    fn arrived(self, frame_s: f64) {
        let Some(goal) = self.goal.get_value() else { return };
        let on = |goal: Goal, to_s: f64| {
            self.goal.set_value(Some(goal));
            self.seek(to_s);
        };
        let known = self.frames.with_untracked(|frames| frames.length_s().is_some());
        // A browser that does not say which frame it shows, or a video that runs on, cannot be corrected.
        let loose = !self.exact.get_untracked() || self.playing.get_untracked();
        match goal {
            Goal::Show { video_s, leads, .. } if !known && !loose => {
                let learn = |second_s| Goal::Learn { second_s, tries: TRIES, video_s, leads };
                if frame_s > JUST_BEFORE_S {
                    on(learn(Some(frame_s)), frame_s - JUST_BEFORE_S);
                } else {
                    on(learn(None), LEARN_AT_S.min(self.length_s.get_untracked() / 2.0));
                }
            }
            Goal::Show { video_s, leads, tries } => {
                let right = self.frames.with_untracked(|frames| frames.shows(frame_s, video_s));
                if loose || right || tries == 0 {
                    self.finish(leads.then_some(frame_s));
                } else {
                    let aim_s = self.frames.with_untracked(|frames| frames.aim_s(video_s, Some(frame_s)));
                    on(Goal::Show { video_s, leads, tries: tries - 1 }, aim_s);
                }
            }
            Goal::Learn { second_s: None, tries, video_s, leads } if frame_s > JUST_BEFORE_S && tries > 0 => {
                on(
                    Goal::Learn { second_s: Some(frame_s), tries: tries - 1, video_s, leads },
                    frame_s - JUST_BEFORE_S,
                );
            }
            Goal::Learn { second_s, video_s, leads, .. } => {
                let second_s = second_s.unwrap_or(frame_s);
                self.frames.update(|frames| {
                    frames.neighbours(frame_s, second_s);
                    // One frame only: it lasts as long as is usual.
                    if frames.length_s().is_none() {
                        frames.neighbours(frame_s, frame_s + Frames::USUAL_S);
                    }
                });
                let aim_s = self.frames.with_untracked(|frames| frames.aim_s(video_s, Some(frame_s)));
                on(Goal::Show { video_s, leads, tries: TRIES }, aim_s);
            }
            Goal::Step { from_s, forward, tries } => {
                let moved = if forward { frame_s > from_s } else { frame_s < from_s };
                if loose || moved || tries == 0 {
                    self.finish(Some(frame_s));
                } else {
                    let aim_s = self.beside_s(from_s, forward)
                        + f64::from(TRIES + 1 - tries)
                            * (self.frame_s() / 2.0).copysign(if forward { 1.0 } else { -1.0 });
                    on(Goal::Step { from_s, forward, tries: tries - 1 }, aim_s);
                }
            }
        }
    }

    fn finish(self, led_s: Option<f64>) {
        self.goal.set_value(None);
        if let Some(led_s) = led_s {
            self.led_s.set(Some(led_s));
        }
        match self.next.try_update_value(Option::take).flatten() {
            // Keys that repeat faster than the video seeks step on from where it is by now.
            Some(Goal::Step { forward, .. }) => {
                self.step(forward);
            }
            Some(goal) => self.head_for(goal),
            None if self.plays_on.get_untracked() => {
                self.plays_on.set(false);
                self.play();
            }
            None => {}
        }
    }
}
