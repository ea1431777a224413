//! The stacked traces: one picture for all rows, scales and one cursor line over it, values beside it.

use std::sync::Arc;

use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::prelude::*;
use web_sys::{ResizeObserver, WheelEvent};

use super::cursor_line::CursorLine;
use super::flags::Flags;
use super::history::History;
use super::labels::RowLabel;
use super::painting::Painter;
use super::pointers::Pointers;
use super::rows::{ComplaintNote, RowMenu, Strip, placed_rows, strips};
use super::scales::{AXIS_PX, draw_values};
use super::sections::{SectionBands, SectionEdges};
use super::span::Span;
use super::tools::Tools;
use super::view::View;
use crate::store::{RideView, store};

/// Height below which no row goes, CSS px.
const ROW_PX: f64 = 40.0;

#[component]
pub fn Chart(view: RwSignal<View>, history: History, span: Span) -> impl IntoView {
    let store = store();
    let ride = Memo::new(move |_| store.ride.get());
    let placed = placed_rows(ride);
    let drawn = strips(ride, placed);
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
            painter.update_value(|painter| painter.paint([&traces, &times], ride, drawn, view, size, dark));
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
            (0..drawn.len())
                .map(|i| view! { <RowLabel drawn=Arc::clone(&drawn) row=i ride span/> })
                .collect_view()
        })
    };
    view! {
        <section class="chart pictured" class:valued=move || span.shown.get() aria-label="Traces">
            <header>
                <RowMenu placed/>
                <CursorLine/>
                <Tools view history span/>
            </header>
            <ComplaintNote ride/>
            <div class="pane" data-picture>
            <SectionBands view/>
            <div class="labels" style:min-height=move || least_height(drawn)>{labels}</div>
            <div
                class="plot"
                id="plot"
                node_ref=plot
                tabindex="0"
                role="slider"
                aria-label="Cursor"
                aria-valuemin=move || whole().start_s
                aria-valuemax=move || whole().end_s
                aria-valuenow=move || store.cursor_s.get()
                aria-valuetext=move || format!("{:.3} s", store.cursor_s.get())
                on:pointerdown=move |e| pointers.down(&e)
                on:pointermove=move |e| pointers.moved(&e, whole())
                on:pointerup=move |e| {
                    if let Some(t_s) = pointers.up(&e) {
                        store.cursor_s.set(t_s.clamp(whole().start_s, whole().end_s));
                    }
                }
                on:pointercancel=move |e| pointers.cancelled(&e)
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
                <SectionEdges view/>
                <Flags view/>
            </div>
            </div>
        </section>
    }
}

/// So tall that no row is lower than can be read; taller than the pane, it scrolls.
fn least_height(drawn: Memo<Option<Arc<Vec<Strip>>>>) -> String {
    let weights: Vec<f64> =
        drawn.with(|drawn| drawn.iter().flat_map(|drawn| drawn.iter()).map(|strip| strip.weight).collect());
    let lowest = weights.iter().copied().fold(f64::INFINITY, f64::min);
    let rows_px = if weights.is_empty() { 0.0 } else { weights.iter().sum::<f64>() / lowest * ROW_PX };
    format!("{}px", rows_px + AXIS_PX)
}

pub fn whole_of(ride: Option<&RideView>) -> View {
    ride.map_or(View { start_s: 0.0, end_s: 1.0 }, |ride| View { start_s: ride.start_s, end_s: ride.end_s() })
}

/// Follows the plot's place in the layout.
pub fn watch_size(plot: NodeRef<html::Div>, size: RwSignal<(f64, f64)>) {
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
