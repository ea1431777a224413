//! The pictures along the track, painted as pixels: A as dashes, hollow where it is dense, over B in full.

use evenkeel_plot::{Columns, Dash, Line, Raster, Stroke, ticks};
use leptos::prelude::window;
use web_sys::HtmlCanvasElement;

use crate::canvas::{sharp, theme};
use crate::ride::{Colors, put};
use crate::ride_view::Samples;
use crate::words::fixed;

/// Thickness of the lines of A and B, CSS px.
const LINE_PX: [f64; 2] = [1.3, 1.8];
/// Dashes of A and the gaps between them, CSS px.
const DASH_PX: [f64; 2] = [5.0, 3.0];
/// Least distance of a line from the picture's borders, CSS px.
const PAD_PX: f64 = 6.0;

/// One line by distance.
pub struct Drawn<'a> {
    pub samples: &'a Samples,
    pub step_m: f64,
    /// 0 is A, 1 is B.
    pub side: usize,
}

/// What a picture shows.
pub struct Picture<'a> {
    /// An area between two lines, painted first.
    pub between: Option<([&'a Samples; 2], f64)>,
    pub lines: Vec<Drawn<'a>>,
    /// From its left to its right border, m.
    pub stretch_m: [f64; 2],
    /// Lowest and highest value, in the unit shown.
    pub range: [f64; 2],
    /// From SI to that unit: `value = offset + scale * si`.
    pub straight: [f64; 2],
    /// Places where a section begins, m.
    pub edges_m: Vec<f64>,
}

/// Paints a picture of this size, CSS px.
pub fn paint(canvas: &HtmlCanvasElement, picture: &Picture<'_>, (width, height): (f64, f64)) {
    let ratio = window().device_pixel_ratio();
    let [w, h] = [width, height].map(|length| (length * ratio).round().max(0.0) as usize);
    let Some(colors) = Colors::new().filter(|_| w > 0 && h > 0) else { return };
    let [ground, grid, rule, ink, accent] =
        ["--ground", "--grid", "--rule", "--ink", "--accent"].map(|name| colors.of(name));
    let mut raster = Raster::default();
    raster.clear(w, h, ground);
    let hair = ratio.round().max(1.0) as usize;
    let [low, high] = picture.range;
    let y = |value: f64| height - PAD_PX - (value - low) / (high - low) * (height - 2.0 * PAD_PX);
    let [from_m, to_m] = picture.stretch_m;
    let across = |place_m: f64| ((place_m - from_m) / (to_m - from_m) * w as f64).round() as usize;
    for tick in ticks(low, high, value_ticks(height)).1 {
        let y = (y(tick) * ratio).round().max(0.0) as usize;
        raster.fill(0..w, y..y + hair, if tick == 0.0 { rule } else { grid });
    }
    for &edge_m in picture.edges_m.iter().filter(|edge_m| (from_m..to_m).contains(*edge_m)) {
        let x = across(edge_m);
        raster.fill(x..x + hair, 0..h, rule);
    }
    let [offset, scale] = picture.straight;
    let zero = y(offset) * ratio;
    let one = (y(offset) - y(offset + scale)) * ratio;
    let per_pixel_m = (to_m - from_m) / w as f64;
    let mut found = Columns::default();
    let cut = |samples: &Samples, step_m: f64, out: &mut Columns, reach: usize| {
        let from = (from_m - reach as f64 * per_pixel_m) / step_m;
        out.cut(samples.values(), samples.pyramid(), from, per_pixel_m / step_m, w + 2 * reach);
    };
    if let Some(([below, above], step_m)) = picture.between {
        let y = |value: &f32| (zero - f64::from(*value) * one) as f32;
        cut(above, step_m, &mut found, 0);
        let tops: Vec<f32> = found.high.iter().map(y).collect();
        cut(below, step_m, &mut found, 0);
        let bottoms: Vec<f32> = found.low.iter().map(y).collect();
        raster.spans(0, &tops, &bottoms, grid);
    }
    // B in full below, A over it.
    for side in [1, 0] {
        for line in picture.lines.iter().filter(|line| line.side == side) {
            let mut stroke =
                Stroke { color: [ink, accent][side], thick: (LINE_PX[side] * ratio) as f32, dashed: None };
            if side == 0 {
                let [on, off] = DASH_PX.map(|length| (length * ratio).round() as usize);
                stroke.dashed = Some(Dash { on, off, origin: 0 });
            }
            let reach = stroke.reach();
            cut(line.samples, line.step_m, &mut found, reach);
            let line = Line {
                columns: &found,
                at: -(reach as i64),
                top: 0.0,
                bottom: (height * ratio) as f32,
                zero: zero as f32,
                scale: one as f32,
            };
            raster.line(line, stroke);
        }
    }
    let _ = put(canvas, &raster);
}

/// About so many values stand at a picture's side.
fn value_ticks(height: f64) -> usize {
    (height / 34.0).clamp(2.0, 6.0) as usize
}

/// Writes the values beside the grid lines.
pub fn write_values(canvas: &HtmlCanvasElement, [low, high]: [f64; 2], (width, height): (f64, f64)) {
    let Some(context) = sharp(canvas, width, height) else { return };
    context.set_font("11px system-ui, sans-serif");
    context.set_fill_style_str(&theme("--quiet"));
    let (step, values) = ticks(low, high, value_ticks(height));
    let digits = (-step.log10().floor()).max(0.0) as usize;
    for value in values {
        let y = height - PAD_PX - (value - low) / (high - low) * (height - 2.0 * PAD_PX);
        let _ = context.fill_text(&fixed(value, digits).replace('-', "−"), 3.0, (y - 3.0).max(10.0));
    }
}
