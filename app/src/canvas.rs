//! Drawing on a canvas: inks of the theme, envelopes that lose no peak, gaps that stay gaps.

use std::ops::Range;

use js_sys::Array;
use leptos::prelude::{document, window};
use wasm_bindgen::{JsCast, JsValue};
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

/// What a line belongs to; its colour comes from the style sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Front: solid.
    Front,
    /// Rear: dashed, and hollow where it is dense.
    Rear,
    Frame,
    Bar,
}

impl Ink {
    /// The custom property that holds its colour.
    pub fn variable(self) -> &'static str {
        match self {
            Self::Front => "--front",
            Self::Rear => "--rear",
            Self::Frame => "--frame",
            Self::Bar => "--bar",
        }
    }
}

/// A custom property of the theme in force.
pub fn theme(variable: &str) -> String {
    let root = document().document_element();
    let style = root.and_then(|root| window().get_computed_style(&root).ok().flatten());
    style.and_then(|style| style.get_property_value(variable).ok()).unwrap_or_default().trim().to_owned()
}

/// A canvas made as sharp as the screen; its size is given in CSS pixels.
pub fn sharp(canvas: &HtmlCanvasElement, width: f64, height: f64) -> Option<CanvasRenderingContext2d> {
    let ratio = window().device_pixel_ratio();
    let (w, h) = ((width * ratio).round() as u32, (height * ratio).round() as u32);
    if (canvas.width(), canvas.height()) != (w, h) {
        canvas.set_width(w);
        canvas.set_height(h);
    }
    let context: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.dyn_into().ok()?;
    context.set_transform(ratio, 0.0, 0.0, ratio, 0.0, 0.0).ok()?;
    context.clear_rect(0.0, 0.0, width, height);
    Some(context)
}

/// Minimum and maximum of the samples under each pixel column; `None` where all are missing.
///
/// `first` is the place of pixel column 0 in samples, `per_pixel` how many a column covers. Neighbouring
/// columns share their border sample, so that a line between them is never broken by the cut.
pub fn envelope(samples: &[f32], first: f64, per_pixel: f64, columns: usize) -> Vec<Option<[f32; 2]>> {
    (0..columns)
        .map(|column| {
            let from = first + column as f64 * per_pixel;
            let range = clamp(from.floor()..(from + per_pixel).floor() + 1.0, samples.len());
            samples[range].iter().filter(|v| !v.is_nan()).fold(None, |found: Option<[f32; 2]>, &v| {
                let [low, high] = found.unwrap_or([v, v]);
                Some([low.min(v), high.max(v)])
            })
        })
        .collect()
}

fn clamp(range: Range<f64>, len: usize) -> Range<usize> {
    let end = range.end.clamp(0.0, len as f64) as usize;
    (range.start.clamp(0.0, len as f64) as usize).min(end)..end
}

/// Strokes a trace across `width` pixels. `y` turns a sample into a pixel row.
pub fn stroke_trace(
    context: &CanvasRenderingContext2d,
    samples: &[f32],
    first: f64,
    per_pixel: f64,
    width: f64,
    ink: Ink,
    y: impl Fn(f32) -> f64,
) {
    context.set_stroke_style_str(&theme(ink.variable()));
    context.set_line_width(1.5);
    context.begin_path();
    let dense = per_pixel > 1.5;
    if dense {
        let columns = envelope(samples, first, per_pixel, width.ceil() as usize);
        let edges: &[usize] = &[0, 1];
        if ink == Ink::Rear {
            // Hollow: its two edges only.
            for &edge in edges {
                polyline(context, columns.iter().enumerate().map(|(x, v)| v.map(|v| (x as f64, y(v[edge])))));
            }
        } else {
            let both = columns
                .iter()
                .enumerate()
                .flat_map(|(x, v)| edges.iter().map(move |&edge| v.map(|v| (x as f64, v[edge]))));
            polyline(context, both.map(|point| point.map(|(x, v)| (x, y(v)))));
        }
    } else {
        let range = clamp((first - 1.0).floor()..(first + width * per_pixel).ceil() + 2.0, samples.len());
        let start = range.start;
        polyline(
            context,
            samples[range]
                .iter()
                .enumerate()
                .map(|(i, &v)| (!v.is_nan()).then(|| (((start + i) as f64 - first) / per_pixel, y(v)))),
        );
    }
    let dashes = if ink == Ink::Rear { Array::of2(&6.into(), &3.into()) } else { Array::new() };
    let _ = context.set_line_dash(&dashes);
    context.stroke();
    let _ = context.set_line_dash(&Array::new() as &JsValue);
}

/// Joins points; `None` breaks the line.
fn polyline(context: &CanvasRenderingContext2d, points: impl Iterator<Item = Option<(f64, f64)>>) {
    let mut joined = false;
    for point in points {
        match point {
            Some((x, y)) if joined => context.line_to(x, y),
            Some((x, y)) => {
                context.move_to(x, y);
                // A sample alone between two gaps is still to be seen.
                context.line_to(x + 0.5, y);
            }
            None => {}
        }
        joined = point.is_some();
    }
}

/// Fills a canvas with an envelope of (minimum, maximum) pairs.
pub fn small_picture(canvas: &HtmlCanvasElement, envelope: &[f32], ink: Ink) {
    let (width, height) = (f64::from(canvas.client_width()), f64::from(canvas.client_height()));
    let Some(context) = sharp(canvas, width, height) else { return };
    let finite = envelope.iter().filter(|v| v.is_finite());
    let Some((low, high)) = finite.fold(None, |found: Option<(f32, f32)>, &v| {
        let (low, high) = found.unwrap_or((v, v));
        Some((low.min(v), high.max(v)))
    }) else {
        return;
    };
    let span = f64::from(high - low).max(f64::MIN_POSITIVE);
    let y = |v: f32| {
        if high == low { height / 2.0 } else { height - 3.0 - f64::from(v - low) / span * (height - 6.0) }
    };
    let steps = (envelope.len() / 2).max(1) as f64;
    context.set_stroke_style_str(&theme(ink.variable()));
    context.set_line_width(1.0);
    context.begin_path();
    let points = envelope
        .iter()
        .enumerate()
        .map(|(i, &v)| v.is_finite().then(|| ((i / 2) as f64 / steps * width, y(v))));
    polyline(&context, points);
    context.stroke();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_peak_is_lost_at_any_zoom() {
        let mut samples = vec![0.0_f32; 10_000];
        samples[7331] = 9.0;
        for columns in [37, 500, 999, 5000] {
            let per_pixel = samples.len() as f64 / columns as f64;
            let drawn = envelope(&samples, 0.0, per_pixel, columns);
            assert!(drawn.iter().flatten().any(|v| v[1] == 9.0), "{columns} columns");
        }
    }

    #[test]
    fn a_gap_is_a_gap_and_beyond_the_ends_is_nothing() {
        let samples = [1.0, 2.0, f32::NAN, f32::NAN, f32::NAN, 3.0];
        let drawn = envelope(&samples, -2.0, 1.0, 10);
        assert_eq!(drawn[0], None);
        assert_eq!(drawn[2], Some([1.0, 2.0]));
        assert_eq!(drawn[5], None);
        assert_eq!(drawn[9], None);
    }
}
