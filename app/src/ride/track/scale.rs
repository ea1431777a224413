//! What the colours of the track mean.

use leptos::prelude::*;

use super::channel::Channel;
use super::colours::gradient;
use crate::words::{fixed, symbol};

/// A strip of the colours with the values of its ends and its middle.
#[component]
pub fn ColourScale(channel: Channel, range: [f64; 2]) -> impl IntoView {
    let [low, high] = range;
    let digits =
        ((2.0 - (high - low).max(1e-9).log10().floor()).max(0.0) as usize).clamp(0, 3).saturating_sub(1);
    let tick = move |value: f64| fixed(value, digits);
    view! {
        <div class="colour-scale">
            <i style:background=gradient()></i>
            <span>{tick(low)}</span>
            <span>{tick((low + high) / 2.0)}</span>
            <span>{tick(high)}" "{symbol(channel.unit)}</span>
        </div>
    }
}
