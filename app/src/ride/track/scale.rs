//! What the colours of the track mean.

use std::sync::Arc;

use leptos::prelude::*;

use super::channel::Channel;
use super::colours::gradient;
use super::ground::Values;
use crate::words::{fixed, symbol};

/// A strip of the colours with the values of its ends and its middle.
#[component]
pub fn ColourScale(channel: Channel, values: Arc<Values>) -> impl IntoView {
    let [low, high] = values.range;
    let digits =
        ((2.0 - (high - low).max(1e-9).log10().floor()).max(0.0) as usize).clamp(0, 3).saturating_sub(1);
    let tick = move |value: f64| fixed(value, digits);
    let beyond = |there: bool, sign: &'static str| there.then_some(sign);
    view! {
        <div class="colour-scale">
            <i style:background=gradient()></i>
            <span>{beyond(values.extremes[0] < low, "≤\u{a0}")}{tick(low)}</span>
            <span>{tick((low + high) / 2.0)}</span>
            <span>{beyond(values.extremes[1] > high, "≥\u{a0}")}{tick(high)}" "{symbol(channel.unit)}</span>
        </div>
    }
}
