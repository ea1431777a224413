//! The picture of the traces: rules, grid and lines, painted as pixels.

use std::sync::Arc;

use evenkeel_plot::{Color, Columns, Dash, Line, Raster, Stroke};
use js_sys::{Object, Reflect};
use leptos::prelude::{document, window};
use wasm_bindgen::{Clamped, JsCast, JsValue};
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement, ImageData};

use super::rows::Strip;
use super::scales::{AXIS_PX, Band, bands, draw_times, grid_times};
use super::view::View;
use crate::canvas::{Ink, theme};
use crate::store::RideView;

/// Thickness of a line, CSS px.
const LINE_PX: f64 = 1.5;
/// Dashes of a rear line and the gaps between them, CSS px.
const DASH_PX: [f64; 2] = [6.0, 3.0];

/// Two scales that differ by less are the same but for rounding.
const SAME_SCALE: f64 = 1e-9;

/// Paints the traces; keeps what the next picture can use again.
#[derive(Default)]
pub struct Painter {
    raster: Raster,
    columns: Columns,
    /// Colours of the dark theme or the light one.
    palette: Option<(bool, Palette)>,
    /// What the picture shows.
    painted: Option<Picture>,
    /// The showing of a run of which the first picture stands.
    marked: Option<u32>,
}

/// What must be the same for a picture to be shifted instead of being painted anew.
struct Picture {
    ride: Arc<RideView>,
    strips: Arc<Vec<Strip>>,
    size: (usize, usize, f64),
    dark: bool,
    /// Samples a column of pixels.
    per_pixel: f64,
    /// The left column, counted from the first sample.
    first: i64,
}

impl Picture {
    /// By how many columns the next picture lies to the right of this, if it is the same otherwise.
    fn way_to(&self, next: &Self) -> Option<i64> {
        let same = Arc::ptr_eq(&self.ride, &next.ride)
            && Arc::ptr_eq(&self.strips, &next.strips)
            && (self.size, self.dark, self.per_pixel) == (next.size, next.dark, next.per_pixel);
        same.then(|| next.first - self.first)
    }
}

#[derive(Clone)]
struct Palette {
    /// What is written, as the theme writes it.
    words: String,
    ground: Color,
    rule: Color,
    grid: Color,
    lines: [Color; 4],
}

const INKS: [Ink; 4] = [Ink::Front, Ink::Rear, Ink::Frame, Ink::Bar];

impl Painter {
    /// Paints what is in view, and the times below it; `size` is that of the plot, axis included, CSS px.
    pub fn paint(
        &mut self,
        [canvas, times]: [&HtmlCanvasElement; 2],
        ride: Arc<RideView>,
        strips: Arc<Vec<Strip>>,
        view: View,
        (width, height): (f64, f64),
        dark: bool,
    ) {
        let ratio = window().device_pixel_ratio();
        let [w, h] = [width, height - AXIS_PX].map(|length| (length * ratio).round().max(0.0) as usize);
        let Some(palette) = self.palette(dark) else { return };
        if w == 0 || h == 0 {
            return;
        }
        draw_times(times, view, width, &palette.words);
        let mut per_pixel = view.span_s() * ride.rate_hz / w as f64;
        if let Some(before) = &self.painted
            && (before.per_pixel / per_pixel - 1.0).abs() < SAME_SCALE
        {
            per_pixel = before.per_pixel;
        }
        // The picture begins with a whole column, so that what is painted once stays right while it moves along.
        let place = |t_s: f64| (t_s - ride.start_s) * ride.rate_hz / per_pixel;
        let first = place(view.start_s).round() as i64;
        let next = Picture { ride: Arc::clone(&ride), strips, size: (w, h, ratio), dark, per_pixel, first };
        let moved = self.painted.as_ref().and_then(|painted| painted.way_to(&next));
        if moved.and_then(|by| self.raster.shift(by, palette.ground)).is_none() {
            self.raster.clear(w, h, palette.ground);
        }
        let painted = self.raster.dirty();
        let hair = ratio.round().max(1.0) as usize;
        for t_s in grid_times(view, width) {
            let x = usize::try_from(place(t_s).round() as i64 - first).unwrap_or(w);
            self.raster.fill(x..x + hair, 0..h, palette.grid);
        }
        let [on, off] = DASH_PX.map(|length| (length * ratio).round() as usize);
        let thick = (LINE_PX * ratio) as f32;
        for (strip, band) in next.strips.iter().zip(bands(&next.strips, height)) {
            for tick in band.ticks().1 {
                let y = (band.y(tick) * ratio).round() as usize;
                self.raster.fill(0..w, y..y + hair, palette.grid);
            }
            let rule = (band.bottom() * ratio).round() as usize;
            self.raster.fill(0..w, rule.saturating_sub(hair)..rule, palette.rule);
            for line in &strip.row.lines {
                let Some(samples) = ride.samples(line.trace) else { continue };
                let color = INKS.iter().zip(palette.lines).find(|(ink, _)| **ink == line.ink);
                let mut stroke =
                    Stroke { color: color.map_or(palette.rule, |(_, color)| color), thick, dashed: None };
                if line.ink == Ink::Rear {
                    stroke.dashed = Some(Dash { on, off, origin: 0 });
                }
                let reach = stroke.reach();
                let at = painted.start as i64 - reach as i64;
                if let Some(dash) = &mut stroke.dashed {
                    dash.origin = first + at;
                }
                let from = (first + at) as f64 * per_pixel;
                let count = painted.len() + 2 * reach;
                self.columns.cut(samples.values(), samples.pyramid(), from, per_pixel, count);
                let line = along(&self.columns, at, band, strip.row.unit, ratio);
                self.raster.line(line, stroke);
            }
        }
        self.painted = Some(next);
        if put(canvas, &self.raster).is_ok() && self.marked.replace(ride.showing) != Some(ride.showing) {
            crate::timing::mark("evenkeel:drawn");
        }
    }

    /// The theme's colours, read when it changes.
    fn palette(&mut self, dark: bool) -> Option<Palette> {
        if self.palette.as_ref().is_none_or(|(of, _)| *of != dark) {
            let colors = Colors::new()?;
            let [ground, rule, grid] = ["--ground", "--rule", "--grid"].map(|name| colors.of(name));
            let lines = INKS.map(|ink| colors.of(ink.variable()));
            self.palette = Some((dark, Palette { words: theme("--quiet"), ground, rule, grid, lines }));
        }
        self.palette.as_ref().map(|(_, palette)| palette.clone())
    }
}

/// A line in its row: a sample is in SI, the row in its unit, of which both are straight in the other.
fn along(columns: &Columns, at: i64, band: Band, unit: evenkeel_core::Unit, ratio: f64) -> Line<'_> {
    let zero = band.y(unit.from_si(0.0)) * ratio;
    let scale = zero - band.y(unit.from_si(1.0)) * ratio;
    Line {
        columns,
        at,
        top: ((band.top + 1.0) * ratio) as f32,
        bottom: ((band.bottom() - 2.0) * ratio) as f32,
        zero: zero as f32,
        scale: scale as f32,
    }
}

/// Shows what was painted.
pub fn put(canvas: &HtmlCanvasElement, raster: &Raster) -> Result<(), JsValue> {
    let (width, height) = (raster.width() as u32, raster.height() as u32);
    if (canvas.width(), canvas.height()) != (width, height) {
        canvas.set_width(width);
        canvas.set_height(height);
    }
    // Opaque, and kept where pixels are put: in main memory.
    let context = context(canvas, &[("alpha", false), ("willReadFrequently", true)])?;
    let image = ImageData::new_with_u8_clamped_array_and_sh(Clamped(raster.bytes()), width, height)?;
    context.put_image_data(&image, 0.0, 0.0)
}

fn context(canvas: &HtmlCanvasElement, wishes: &[(&str, bool)]) -> Result<CanvasRenderingContext2d, JsValue> {
    let options = Object::new();
    for (wish, value) in wishes {
        Reflect::set(&options, &(*wish).into(), &(*value).into())?;
    }
    let context = canvas.get_context_with_context_options("2d", &options)?;
    Ok(context.ok_or("this browser draws no pictures")?.unchecked_into())
}

/// Turns the theme's colours, however they are written, into numbers: by painting with them.
pub struct Colors(CanvasRenderingContext2d);

impl Colors {
    pub fn new() -> Option<Self> {
        let canvas: HtmlCanvasElement = document().create_element("canvas").ok()?.dyn_into().ok()?;
        context(&canvas, &[("willReadFrequently", true)]).ok().map(Self)
    }

    pub fn of(&self, variable: &str) -> Color {
        self.0.set_fill_style_str(&theme(variable));
        self.0.fill_rect(0.0, 0.0, 1.0, 1.0);
        let pixel = self.0.get_image_data(0.0, 0.0, 1.0, 1.0).map(|image| image.data().0);
        pixel.ok().and_then(|pixel| pixel.try_into().ok()).unwrap_or([128, 128, 128, 255])
    }
}
