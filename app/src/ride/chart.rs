//! The stacked traces: one canvas for all rows, one cursor line over it, values beside it.

use std::sync::Arc;

use evenkeel_core::align::moment;
use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use web_sys::{CanvasRenderingContext2d, PointerEvent, ResizeObserver, WheelEvent};

use super::labels::{RowLabel, ViewButtons};
use super::rows::{Strip, rows};
use super::view::View;
use crate::canvas::{sharp, stroke_trace, theme};
use crate::store::{RideView, store};
use crate::words::fixed;

/// Height of the time axis below the rows, CSS px.
const AXIS_PX: f64 = 22.0;
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
            let drawn =
                shown.map(|row| Strip { range: row.range(&bike, |trace| ride.get(trace)), row, weight: 1.0 });
            Some(Arc::new(drawn.collect::<Vec<_>>()))
        },
        |_, _| true,
    );
    let canvas = NodeRef::<html::Canvas>::new();
    let size = RwSignal::new((0.0, 0.0));
    watch_size(canvas, size);

    Effect::new(move || {
        let (width, height) = size.get();
        let (view, _) = (view.get(), store.dark.get());
        if let (Some(canvas), Some(ride), Some(drawn)) = (canvas.get(), ride.get(), drawn.get())
            && let Some(context) = sharp(&canvas, width, height)
        {
            draw(&context, &ride, &drawn, view, width, height);
        }
    });

    let whole = move || ride.with(|ride| whole_of(ride.as_deref()));
    let pointers = Pointers::new(size, view);
    let place = move || view.get().place(store.cursor_s.get());
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
                <canvas node_ref=canvas aria-hidden="true"></canvas>
                <div
                    class="cursor"
                    hidden=move || !(0.0..=1.0).contains(&place())
                    style:left=move || format!("{}%", place() * 100.0)
                ></div>
            </div>
        </section>
    }
}

pub fn whole_of(ride: Option<&RideView>) -> View {
    ride.map_or(View { start_s: 0.0, end_s: 1.0 }, |ride| View { start_s: ride.start_s, end_s: ride.end_s() })
}

/// Follows the canvas's place in the layout.
fn watch_size(canvas: NodeRef<html::Canvas>, size: RwSignal<(f64, f64)>) {
    Effect::new(move || {
        let Some(plot) = canvas.get().and_then(|canvas| canvas.parent_element()) else { return };
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

fn draw(
    context: &CanvasRenderingContext2d,
    ride: &RideView,
    drawn: &[Strip],
    view: View,
    width: f64,
    height: f64,
) {
    let px = (height - AXIS_PX) / drawn.iter().map(|strip| strip.weight).sum::<f64>();
    let mut bottom = 0.0;
    context.set_font("11px system-ui, sans-serif");
    draw_times(context, view, width, height);
    for Strip { row, range: [low, high], weight } in drawn {
        let (row_px, top, pad) = (weight * px, bottom, 5.0);
        bottom += row_px;
        let y = |value: f64| top + row_px - pad - (value - low) / (high - low) * (row_px - 2.0 * pad);
        context.set_stroke_style_str(&theme("--rule"));
        context.set_line_width(1.0);
        horizontal(context, (top + row_px).round() - 0.5, width);
        let first = (view.start_s - ride.start_s) * ride.rate_hz;
        let per_pixel = view.span_s() * ride.rate_hz / width;
        let (step, ticks) = ticks(*low, *high, (row_px / 34.0).clamp(2.0, 6.0) as usize);
        let digits = (-step.log10().floor()).max(0.0) as usize;
        context.set_stroke_style_str(&theme("--grid"));
        for &tick in &ticks {
            horizontal(context, y(tick).round() + 0.5, width);
        }
        for line in &row.lines {
            if let Some(samples) = ride.get(line.trace) {
                stroke_trace(context, samples, first, per_pixel, width, line.ink, |v| {
                    y(row.unit.from_si(f64::from(v)))
                });
            }
        }
        context.set_fill_style_str(&theme("--quiet"));
        for &tick in &ticks {
            // Above its line, but inside its row.
            let _ = context.fill_text(&fixed(tick, digits), 4.0, (y(tick) - 3.0).max(top + 11.0));
        }
    }
}

fn horizontal(context: &CanvasRenderingContext2d, y: f64, width: f64) {
    context.begin_path();
    context.move_to(0.0, y);
    context.line_to(width, y);
    context.stroke();
}

fn draw_times(context: &CanvasRenderingContext2d, view: View, width: f64, height: f64) {
    let times = time_ticks(view, (width / 110.0).max(2.0) as usize);
    // Labels as fine as the steps between them.
    let step_s = times.windows(2).map(|pair| pair[1] - pair[0]).next().unwrap_or(view.span_s());
    let resolution_s = if step_s >= 1.0 { 1.0 } else { step_s };
    for t in times {
        let x = (view.place(t) * width).round() + 0.5;
        context.set_stroke_style_str(&theme("--grid"));
        context.begin_path();
        context.move_to(x, 0.0);
        context.line_to(x, height - AXIS_PX + 4.0);
        context.stroke();
        context.set_fill_style_str(&theme("--quiet"));
        let label = moment::format(t, resolution_s);
        if x + 50.0 < width - 52.0 {
            let _ = context.fill_text(&label, x + 3.0, height - 7.0);
        }
    }
    let _ = context.fill_text("log time", (width - 48.0).max(0.0), height - 7.0);
}

/// A round step (1, 2 or 5 times a power of ten, at most `count` in the range) and its multiples inside.
fn ticks(low: f64, high: f64, count: usize) -> (f64, Vec<f64>) {
    let rough = (high - low) / count.max(1) as f64;
    if rough <= 0.0 || !rough.is_finite() {
        return (1.0, Vec::new());
    }
    let power = 10_f64.powf(rough.log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= rough).unwrap_or(rough);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (step, (first..=last).map(|i| i as f64 * step).collect())
}

/// Round times in view, at most about `count`: clock steps from a second on, decimal ones below.
fn time_ticks(view: View, count: usize) -> Vec<f64> {
    const STEPS_S: [f64; 12] = [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0];
    let rough = view.span_s() / count.max(1) as f64;
    match STEPS_S.into_iter().find(|step| *step >= rough) {
        Some(step) if rough > 0.5 => {
            let (first, last) = ((view.start_s / step).ceil() as i64, (view.end_s / step).floor() as i64);
            (first..=last).map(|i| i as f64 * step).collect()
        }
        _ => ticks(view.start_s, view.end_s, count).1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 200.0, 2), (100.0, vec![0.0, 100.0, 200.0]));
        assert_eq!(ticks(-3.1, 4.9, 4), (2.0, vec![-2.0, 0.0, 2.0, 4.0]));
        assert_eq!(ticks(80.2, 83.9, 2).1, [82.0]);
        assert!(ticks(1.0, 1.0, 4).1.is_empty());
        assert_eq!(time_ticks(View { start_s: 74.2, end_s: 273.4 }, 4), [120.0, 180.0, 240.0]);
        assert_eq!(time_ticks(View { start_s: 10.0, end_s: 10.5 }, 5).len(), 6);
    }
}
