//! Drawing on a canvas: inks of the theme, and small pictures of a channel.

use leptos::prelude::{document, window};
use wasm_bindgen::JsCast;
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
