//! The stacked traces: one picture for all rows, scales and one cursor line over it, values beside it.

use std::sync::Arc;

use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use web_sys::{PointerEvent, ResizeObserver, WheelEvent};

use super::labels::{RowLabel, ViewButtons};
use super::painting::Painter;
use super::rows::{Strip, rows};
use super::scales::draw_values;
use super::view::View;
use crate::store::{RideView, store};

/// A press that moves less than this sets the cursor; one that moves more drags, CSS px.
const CLICK_PX: f64 = 4.0;

#[component]
pub fn Chart(view: RwSignal<View>) -> impl IntoView {
    let store = store();
    let ride = Memo::new(move |_| store.ride.get());
    let drawn = Memo::new_with_compare(
        move |_| {
            let ride = ride.get()?;
            let bike = store.day.with_untracked(|day| day.bike.clone());
            let shown =
                rows().into_iter().filter(|row| row.lines.iter().any(|line| ride.get(line.trace).is_some()));
            let drawn = shown.map(|row| Strip {
                range: row.range(&bike, |trace| ride.extremes(trace)),
                row,
                weight: 1.0,
            });
            Some(Arc::new(drawn.collect::<Vec<_>>()))
        },
        |_, _| true,
    );
    let plot = NodeRef::<html::Div>::new();
    let [traces, values, times] = [(); 3].map(|()| NodeRef::<html::Canvas>::new());
    let size = RwSignal::new((0.0, 0.0));
    watch_size(plot, size);

    // A view that was set to what it is draws nothing anew.
    let seen = Memo::new(move |_| view.get());
    // What changes with every step of a pan is drawn here, what does not below.
    let painter = StoredValue::new_local(Painter::default());
    Effect::new(move || {
        let (size, view, dark) = (size.get(), seen.get(), store.dark.get());
        if let (Some(ride), Some(drawn)) = (ride.get(), drawn.get())
            && let (Some(traces), Some(times)) = (traces.get(), times.get())
        {
            painter.update_value(|painter| painter.paint([&traces, &times], &ride, &drawn, view, size, dark));
        }
    });
    Effect::new(move || {
        let (size, _) = (size.get(), store.dark.get());
        if let (Some(drawn), Some(canvas)) = (drawn.get(), values.get()) {
            draw_values(&canvas, &drawn, size);
        }
    });

    let whole = move || ride.with(|ride| whole_of(ride.as_deref()));
    let pointers = Pointers::new(size, view);
    let cursor = Memo::new(move |_| seen.get().place(store.cursor_s.get()));
    let range = move || {
        let view = seen.get();
        let [start, end] = store.range_s.get()?.map(|t_s| view.place(t_s).clamp(0.0, 1.0));
        Some((start * 100.0, (end - start) * 100.0))
    };
    let labels = move || {
        drawn.get().map(|drawn| {
            (0..drawn.len()).map(|i| view! { <RowLabel drawn=Arc::clone(&drawn) row=i ride/> }).collect_view()
        })
    };
    view! {
        <section class="chart" aria-label="Traces">
            <div class="labels">{labels}<ViewButtons view ride/></div>
            <div
                class="plot"
                id="plot"
                node_ref=plot
                tabindex="0"
                role="slider"
                aria-label="Cursor"
                aria-valuenow=move || store.cursor_s.get()
                aria-valuetext=move || format!("{:.3} s", store.cursor_s.get())
                on:pointerdown=move |e| pointers.down(&e)
                on:pointermove=move |e| pointers.moved(&e, whole())
                on:pointerup=move |e| {
                    if let Some(t_s) = pointers.up(&e) {
                        store.cursor_s.set(t_s.clamp(whole().start_s, whole().end_s));
                    }
                }
                on:pointercancel=move |e| {
                    pointers.up(&e);
                }
                on:wheel=move |e: WheelEvent| {
                    e.prevent_default();
                    let (width, _) = size.get_untracked();
                    let along = if e.shift_key() { e.delta_y() } else { e.delta_x() };
                    view.update(|view| {
                        *view = if along.abs() > e.delta_y().abs() || e.shift_key() {
                            view.panned(along / width * view.span_s(), whole())
                        } else {
                            view.zoomed((e.delta_y() * 0.002).exp(), f64::from(e.offset_x()) / width, whole())
                        };
                    });
                }
            >
                <canvas class="traces" node_ref=traces aria-hidden="true"></canvas>
                <canvas class="values" node_ref=values aria-hidden="true"></canvas>
                <canvas class="times" node_ref=times aria-hidden="true"></canvas>
                {move || range().map(|(left, width)| view! {
                    <div class="range" style:left=format!("{left}%") style:width=format!("{width}%")></div>
                })}
                <div
                    class="cursor"
                    hidden=move || !(0.0..=1.0).contains(&cursor.get())
                    style:transform=move || format!("translateX({:.2}px)", cursor.get() * size.get().0)
                ></div>
            </div>
        </section>
    }
}

pub fn whole_of(ride: Option<&RideView>) -> View {
    ride.map_or(View { start_s: 0.0, end_s: 1.0 }, |ride| View { start_s: ride.start_s, end_s: ride.end_s() })
}

/// Follows the plot's place in the layout.
fn watch_size(plot: NodeRef<html::Div>, size: RwSignal<(f64, f64)>) {
    Effect::new(move || {
        let Some(plot) = plot.get() else { return };
        let measured = plot.clone();
        let measure = move || {
            size.set((f64::from(measured.client_width()), f64::from(measured.client_height())));
        };
        measure();
        let on_resize = Closure::<dyn FnMut()>::new(measure);
        if let Ok(observer) = ResizeObserver::new(on_resize.as_ref().unchecked_ref()) {
            observer.observe(&plot);
            let kept = StoredValue::new_local((observer, on_resize));
            on_cleanup(move || kept.with_value(|(observer, _)| observer.disconnect()));
        }
    });
}

/// Fingers or the mouse on the plot: a click, a drag, a pinch.
#[derive(Clone, Copy)]
struct Pointers {
    /// Id, where it was pressed, where it is.
    pressed: StoredValue<Vec<(i32, f64, f64)>>,
    size: RwSignal<(f64, f64)>,
    view: RwSignal<View>,
}

impl Pointers {
    fn new(size: RwSignal<(f64, f64)>, view: RwSignal<View>) -> Self {
        Self { pressed: StoredValue::new(Vec::new()), size, view }
    }

    fn down(self, event: &PointerEvent) {
        if let Some(target) =
            event.current_target().and_then(|target| target.dyn_into::<web_sys::Element>().ok())
        {
            // A drag goes on when the pointer leaves the plot.
            let _ = target.set_pointer_capture(event.pointer_id());
        }
        let x = f64::from(event.offset_x());
        self.pressed.update_value(|pressed| pressed.push((event.pointer_id(), x, x)));
    }

    fn moved(self, event: &PointerEvent, whole: View) {
        let (width, _) = self.size.get_untracked();
        let x = f64::from(event.offset_x());
        let before = self.pressed.get_value();
        self.pressed.update_value(|pressed| {
            for pointer in pressed.iter_mut().filter(|pointer| pointer.0 == event.pointer_id()) {
                pointer.2 = x;
            }
        });
        let now = self.pressed.get_value();
        match (&before[..], &now[..]) {
            ([(_, start, from)], [(_, _, to)])
                if (to - start).abs() > CLICK_PX || (from - start).abs() > CLICK_PX =>
            {
                self.view.update(|view| *view = view.panned((from - to) / width * view.span_s(), whole));
            }
            ([a0, b0], [a1, b1]) => {
                let (apart0, apart1) = ((a0.2 - b0.2).abs().max(1.0), (a1.2 - b1.2).abs().max(1.0));
                let (middle0, middle1) = ((a0.2 + b0.2) / 2.0, (a1.2 + b1.2) / 2.0);
                self.view.update(|view| {
                    *view = view.panned((middle0 - middle1) / width * view.span_s(), whole).zoomed(
                        apart0 / apart1,
                        middle1 / width,
                        whole,
                    );
                });
            }
            _ => {}
        }
    }

    /// The time that was clicked, if this ends a click.
    fn up(self, event: &PointerEvent) -> Option<f64> {
        let before = self.pressed.get_value();
        self.pressed.update_value(|pressed| pressed.retain(|pointer| pointer.0 != event.pointer_id()));
        match before[..] {
            [(_, start, end)] if (end - start).abs() <= CLICK_PX => {
                let (width, _) = self.size.get_untracked();
                Some(self.view.get_untracked().time_s(end / width))
            }
            _ => None,
        }
    }
}
