//! Fingers or the mouse on the plot: a click, a drag, a pinch, a range.

use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::PointerEvent;

use super::view::View;
use crate::store::{Store, store};

/// A press that moves less than this sets the cursor; one that moves more drags, CSS px.
const CLICK_PX: f64 = 4.0;

/// One that is down.
#[derive(Clone, Copy)]
struct Pressed {
    id: i32,
    /// Where it was pressed and where it is, CSS px from the plot's left edge.
    start_x: f64,
    x: f64,
    /// Whether it sets a range (with Shift) instead of moving the picture.
    range: bool,
    moved: bool,
}

#[derive(Clone, Copy)]
pub struct Pointers {
    pressed: StoredValue<Vec<Pressed>>,
    size: RwSignal<(f64, f64)>,
    view: RwSignal<View>,
    store: Store,
}

impl Pointers {
    pub fn new(size: RwSignal<(f64, f64)>, view: RwSignal<View>) -> Self {
        Self { pressed: StoredValue::new(Vec::new()), size, view, store: store() }
    }

    pub fn down(self, event: &PointerEvent) {
        if event.button() != 0 {
            return;
        }
        if let Some(target) =
            event.current_target().and_then(|target| target.dyn_into::<web_sys::Element>().ok())
        {
            // A drag goes on when the pointer leaves the plot.
            let _ = target.set_pointer_capture(event.pointer_id());
        }
        let x = f64::from(event.offset_x());
        let pressed =
            Pressed { id: event.pointer_id(), start_x: x, x, range: event.shift_key(), moved: false };
        self.pressed.update_value(|all| all.push(pressed));
    }

    pub fn moved(self, event: &PointerEvent, whole: View) {
        let width = self.size.get_untracked().0.max(1.0);
        let x = f64::from(event.offset_x());
        let before = self.pressed.get_value();
        self.pressed.update_value(|pressed| {
            let fingers = pressed.len();
            for pointer in pressed.iter_mut().filter(|pointer| pointer.id == event.pointer_id()) {
                pointer.x = x;
                // A finger of a pinch clicks nothing when the other goes first.
                pointer.moved |= fingers > 1 || (x - pointer.start_x).abs() > CLICK_PX;
            }
        });
        let now = self.pressed.get_value();
        match (&before[..], &now[..]) {
            ([_], [Pressed { start_x, x, range: true, moved: true, .. }]) => {
                let time =
                    |x: f64| self.view.get_untracked().time_s(x / width).clamp(whole.start_s, whole.end_s);
                let (a, b) = (time(*start_x), time(*x));
                self.store.range_s.set(Some([a.min(b), a.max(b)]));
            }
            ([from], [to @ Pressed { range: false, moved: true, .. }]) => {
                self.view.update(|view| *view = view.panned((from.x - to.x) / width * view.span_s(), whole));
            }
            ([a0, b0], [a1, b1]) => {
                let (apart0, apart1) = ((a0.x - b0.x).abs().max(1.0), (a1.x - b1.x).abs().max(1.0));
                let (middle0, middle1) = ((a0.x + b0.x) / 2.0, (a1.x + b1.x) / 2.0);
                // Zoomed first: the whole run has no room to be moved in.
                self.view.update(|view| {
                    let zoomed = view.zoomed(apart0 / apart1, middle0 / width, whole);
                    *view = zoomed.panned((middle0 - middle1) / width * zoomed.span_s(), whole);
                });
            }
            _ => {}
        }
    }

    /// The time that was clicked, if this ends a click.
    pub fn up(self, event: &PointerEvent) -> Option<f64> {
        let before = self.pressed.get_value();
        self.pressed.update_value(|pressed| pressed.retain(|pointer| pointer.id != event.pointer_id()));
        match before[..] {
            [Pressed { id, x, moved: false, .. }] if id == event.pointer_id() => {
                Some(self.view.get_untracked().time_s(x / self.size.get_untracked().0.max(1.0)))
            }
            _ => None,
        }
    }

    /// One that was called off, as when the browser scrolls the page instead.
    pub fn cancelled(self, event: &PointerEvent) {
        self.pressed.update_value(|pressed| pressed.retain(|pointer| pointer.id != event.pointer_id()));
    }
}
