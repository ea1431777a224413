//! The scales: where each row lies and what its grid lines mean, and the times below.

use evenkeel_core::align::moment;
use evenkeel_plot::{ticks, time_ticks};
use web_sys::HtmlCanvasElement;

use super::rows::Strip;
use super::view::View;
use crate::canvas::{sharp, theme};
use crate::words::fixed;

/// Height of the time axis below the rows, CSS px.
pub const AXIS_PX: f64 = 22.0;
/// Least distance of a row's lines from its borders, CSS px.
const PAD_PX: f64 = 5.0;
const FONT: &str = "11px system-ui, sans-serif";

/// Where a row lies in the plot, CSS px, and the values it spans, in its unit.
#[derive(Clone, Copy)]
pub struct Band {
    pub top: f64,
    height: f64,
    range: [f64; 2],
}

/// The rows' places in a plot of this height, axis included.
pub fn bands(strips: &[Strip], height: f64) -> impl Iterator<Item = Band> {
    let share = (height - AXIS_PX) / strips.iter().map(|strip| strip.weight).sum::<f64>();
    strips.iter().scan(0.0, move |top, strip| {
        let band = Band { top: *top, height: strip.weight * share, range: strip.range };
        *top += band.height;
        Some(band)
    })
}

impl Band {
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Height at which a value is drawn.
    pub fn y(&self, value: f64) -> f64 {
        let [low, high] = self.range;
        self.bottom() - PAD_PX - (value - low) / (high - low) * (self.height - 2.0 * PAD_PX)
    }

    /// Its grid lines: their step and their values.
    pub fn ticks(&self) -> (f64, Vec<f64>) {
        ticks(self.range[0], self.range[1], (self.height / 34.0).clamp(2.0, 6.0) as usize)
    }
}

/// Times that have a grid line, in a plot of this width, CSS px.
pub fn grid_times(view: View, width: f64) -> Vec<f64> {
    time_ticks(view.start_s, view.end_s, (width / 110.0).max(2.0) as usize)
}

/// Writes each row's values beside its grid lines.
pub fn draw_values(canvas: &HtmlCanvasElement, strips: &[Strip], (width, height): (f64, f64)) {
    let Some(context) = sharp(canvas, width.min(VALUES_PX), height - AXIS_PX) else { return };
    context.set_font(FONT);
    context.set_fill_style_str(&theme("--quiet"));
    for band in bands(strips, height) {
        let (step, ticks) = band.ticks();
        let digits = (-step.log10().floor()).max(0.0) as usize;
        for tick in ticks {
            // Above its line, but inside its row.
            let _ = context.fill_text(&fixed(tick, digits), 4.0, (band.y(tick) - 3.0).max(band.top + 11.0));
        }
    }
}

/// Width in which the values are written, CSS px.
const VALUES_PX: f64 = 80.0;

/// Writes the times below the rows.
pub fn draw_times(canvas: &HtmlCanvasElement, view: View, width: f64, color: &str) {
    let Some(context) = sharp(canvas, width, AXIS_PX) else { return };
    let times = grid_times(view, width);
    // Labels as fine as the steps between them.
    let step_s = times.windows(2).map(|pair| pair[1] - pair[0]).next().unwrap_or(view.span_s());
    let resolution_s = if step_s >= 1.0 { 1.0 } else { step_s };
    context.set_font(FONT);
    context.set_fill_style_str(color);
    for t_s in times {
        let x = (view.place(t_s) * width).round();
        context.fill_rect(x, 0.0, 1.0, 4.0);
        if x + 50.0 < width - 52.0 {
            let _ = context.fill_text(&moment::format(t_s, resolution_s), x + 3.0, AXIS_PX - 7.0);
        }
    }
    let _ = context.fill_text("log time", (width - 48.0).max(0.0), AXIS_PX - 7.0);
}
