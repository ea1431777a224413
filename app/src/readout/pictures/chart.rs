//! A small picture with two axes. It is drawn in units of its own, so that it grows with its place.

use evenkeel_core::End;
use evenkeel_plot::ticks;
use leptos::prelude::*;

use crate::words::fixed;

const WIDTH: f64 = 380.0;
const HEIGHT: f64 = 220.0;
const LEFT: f64 = 50.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 38.0;

/// One axis: what it shows, in which unit, from where to where.
#[derive(Clone, Debug)]
pub struct Axis {
    name: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
    logarithmic: bool,
    /// Names of whole numbers, where they stand for kinds.
    kinds: Vec<&'static str>,
}

impl Axis {
    pub fn new(name: &'static str, unit: &'static str, [low, high]: [f64; 2]) -> Self {
        let high = if high > low { high } else { low + 1.0 };
        Self { name, unit, low, high, logarithmic: false, kinds: Vec::new() }
    }

    /// From nothing to the largest of some values.
    pub fn up_to(name: &'static str, unit: &'static str, values: impl IntoIterator<Item = f64>) -> Self {
        let most = values.into_iter().filter(|value| value.is_finite()).fold(0.0, f64::max);
        Self::new(name, unit, [0.0, 1.08 * most])
    }

    /// Each power of ten as wide as the next.
    pub fn logarithmic(name: &'static str, unit: &'static str, range: [f64; 2]) -> Self {
        Self { logarithmic: true, ..Self::new(name, unit, range) }
    }

    /// Kinds side by side, the first around 0.
    pub fn of_kinds(name: &'static str, kinds: &[&'static str]) -> Self {
        let range = [-0.5, kinds.len() as f64 - 0.5];
        Self { kinds: kinds.to_vec(), ..Self::new(name, "", range) }
    }

    /// Place along the axis, 0..1.
    fn share(&self, value: f64) -> f64 {
        let scale = |value: f64| if self.logarithmic { value.max(self.low).ln() } else { value };
        ((scale(value) - scale(self.low)) / (scale(self.high) - scale(self.low))).clamp(0.0, 1.0)
    }

    /// Place of a value across the picture.
    pub fn x(&self, value: f64) -> f64 {
        LEFT + self.share(value) * (WIDTH - LEFT - RIGHT)
    }

    /// Place of a value down the picture.
    pub fn y(&self, value: f64) -> f64 {
        HEIGHT - BOTTOM - self.share(value) * (HEIGHT - TOP - BOTTOM)
    }

    fn ticks(&self, count: usize) -> Vec<(f64, String)> {
        if !self.kinds.is_empty() {
            return self.kinds.iter().enumerate().map(|(i, kind)| (i as f64, (*kind).to_owned())).collect();
        }
        if self.logarithmic {
            let decades = self.low.log10().floor() as i32..=self.high.log10().ceil() as i32;
            let steps = decades.flat_map(|decade| [1.0, 2.0, 5.0].map(|step| step * 10_f64.powi(decade)));
            let inside = steps.filter(|value| (self.low..=self.high).contains(value));
            return inside.map(|value| (value, value.to_string())).collect();
        }
        let (step, values) = ticks(self.low, self.high, count);
        let digits = (-step.log10().floor()).clamp(0.0, 3.0) as usize;
        values.into_iter().map(|value| (value, fixed(value, digits))).collect()
    }

    fn title(&self) -> String {
        if self.unit.is_empty() { self.name.to_owned() } else { format!("{}, {}", self.name, self.unit) }
    }
}

/// The picture: axes with their grid, and what is drawn inside.
pub fn chart(label: &'static str, x: &Axis, y: &Axis, inside: AnyView) -> AnyView {
    let (bottom, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
    let across = x.ticks(7).into_iter().map(|(value, text)| {
        let at = x.x(value);
        view! {
            <line class="grid" x1=at x2=at y1=TOP y2=bottom></line>
            <text class="tick" x=at y=bottom + 14.0 text-anchor="middle">{text}</text>
        }
    });
    let down = y.ticks(5).into_iter().map(|(value, text)| {
        let at = y.y(value);
        view! {
            <line class="grid" x1=LEFT x2=right y1=at y2=at></line>
            <text class="tick" x=LEFT - 5.0 y=at + 4.0 text-anchor="end">{text}</text>
        }
    });
    view! {
        <svg class="small-chart" viewBox=format!("0 0 {WIDTH} {HEIGHT}") role="group" aria-label=label>
            {across.collect_view()}
            {down.collect_view()}
            <path class="axes" d=format!("M{LEFT} {TOP}V{bottom}H{right}")></path>
            <text class="tick" x=(LEFT + right) / 2.0 y=HEIGHT - 6.0 text-anchor="middle">{x.title()}</text>
            <text class="tick" x=9.0 y=(TOP + bottom) / 2.0 transform=format!("rotate(-90 9 {})", (TOP + bottom) / 2.0) text-anchor="middle">{y.title()}</text>
            {inside}
        </svg>
    }
    .into_any()
}

/// The line of a histogram: `heights` over equal steps from `from`.
pub fn steps(x: &Axis, y: &Axis, (from, step): (f64, f64), heights: &[f64], class: &'static str) -> AnyView {
    let mut path = format!("M{:.1} {:.1}", x.x(from), y.y(y.low));
    for (i, height) in heights.iter().enumerate() {
        let (left, right) = (from + i as f64 * step, from + (i + 1) as f64 * step);
        path += &format!("L{:.1} {2:.1}L{:.1} {2:.1}", x.x(left), x.x(right), y.y(*height));
    }
    path += &format!("V{:.1}", y.y(y.low));
    view! { <path class=class d=path></path> }.into_any()
}

/// A line through points.
pub fn line(
    x: &Axis,
    y: &Axis,
    points: impl IntoIterator<Item = (f64, f64)>,
    class: &'static str,
) -> AnyView {
    let path: Vec<String> = points.into_iter().map(|(a, b)| format!("{:.1} {:.1}", x.x(a), y.y(b))).collect();
    if path.is_empty() {
        return ().into_any();
    }
    view! { <path class=class d=format!("M{}", path.join("L"))></path> }.into_any()
}

/// A value with its interval, drawn a little beside its place so that both ends can be seen.
pub fn interval(x: &Axis, y: &Axis, at: f64, end: End, value: f64, interval: Option<[f64; 2]>) -> AnyView {
    let at = x.x(at) + if end == End::Front { -7.0 } else { 7.0 };
    let whisker = interval.map(|[low, high]| {
        let (low, high) = (y.y(low), y.y(high));
        let path = format!("M{at} {low}V{high}M{} {low}h8M{} {high}h8", at - 4.0, at - 4.0);
        view! { <path class=format!("whisker {}", end.name()) d=path></path> }
    });
    view! { {whisker}<circle class=format!("dot {}", end.name()) cx=at cy=y.y(value) r="4"></circle> }
        .into_any()
}

/// A dot that goes to its moment in Ride when it is clicked; its table does the same by keyboard.
pub fn dot(x: f64, y: f64, class: String, told: String, go: impl Fn() + Send + Sync + 'static) -> AnyView {
    view! {
        <circle class=format!("dot {class}") cx=x cy=y r="3.5" on:click=move |_| go()>
            <title>{told}</title>
        </circle>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_runs_from_its_low_to_its_high_end() {
        let plain = Axis::new("time", "s", [0.0, 10.0]);
        assert_eq!((plain.x(0.0), plain.x(10.0)), (LEFT, WIDTH - RIGHT));
        assert_eq!((plain.y(0.0), plain.y(10.0)), (HEIGHT - BOTTOM, TOP));
        assert_eq!(plain.x(99.0), WIDTH - RIGHT);
        let octaves = Axis::logarithmic("frequency", "Hz", [1.0, 100.0]);
        assert!((octaves.x(10.0) - (LEFT + WIDTH - RIGHT) / 2.0).abs() < 1e-9);
        let names: Vec<_> = octaves.ticks(5).into_iter().map(|(_, name)| name).collect();
        assert_eq!(names, ["1", "2", "5", "10", "20", "50", "100"]);
        assert_eq!(Axis::up_to("n", "", [f64::NAN, 0.0]).high, 1.0);
    }
}
