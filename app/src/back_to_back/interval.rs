//! A difference with its interval, against no difference and against what is worth having.

use evenkeel_core::decide::{Comparison, Direction, Evidence};
use evenkeel_plot::ticks;
use leptos::prelude::*;

use super::words::Told;
use crate::save_picture::SavePicture;
use crate::words::fixed;

/// Share of the picture's width that is left free on either side, %.
const MARGIN: f64 = 5.0;

/// From values as they are told to places across the picture, in %.
#[derive(Clone, Copy)]
struct Across {
    low: f64,
    high: f64,
}

impl Across {
    /// Everything in the picture, no difference in it.
    fn of(values: &[f64]) -> Self {
        let low = values.iter().copied().fold(0.0, f64::min);
        let high = values.iter().copied().fold(0.0, f64::max);
        if high > low { Self { low, high } } else { Self { low: -1.0, high: 1.0 } }
    }

    fn at(self, value: f64) -> f64 {
        MARGIN + (value - self.low) / (self.high - self.low) * (100.0 - 2.0 * MARGIN)
    }

    fn percent(self, value: f64) -> String {
        format!("{:.2}%", self.at(value))
    }
}

#[component]
pub fn Interval(comparison: Comparison, evidence: Evidence, told: Told) -> impl IntoView {
    let plan = &comparison.plan;
    let worth = plan.scale.untold(plan.worth_having);
    // A share D to the one side lies at less than D to the other.
    let zone = [plan.scale.told(-worth), plan.scale.told(worth)];
    let estimate = comparison.contrast.difference;
    let (wide, narrow) = (evidence.interval, evidence.interval_90);
    let across = Across::of(&[zone[0], zone[1], wide[0], wide[1], estimate]);
    let x = move |value: f64| across.percent(value);
    let width = move |[from, to]: [f64; 2]| format!("{:.2}%", across.at(to) - across.at(from));
    let factor = told.factor();
    let (step, values) = ticks(across.low * factor, across.high * factor, 6);
    let digits = (-step.log10().floor()).max(0.0) as usize;
    let tick = move |value: f64| {
        let at = x(value / factor);
        let words = fixed(value, digits).replace('-', "−");
        view! {
            <line class="tick-mark" x1=at.clone() x2=at.clone() y1="70" y2="75"/>
            <text x=at y="89" text-anchor="middle">{words}</text>
        }
    };
    let [left, right] = match plan.direction {
        Direction::Less => ["← better", "worse →"],
        Direction::More => ["← worse", "better →"],
    };
    let spoken = format!(
        "Difference {}, 95 % interval {}; worth having from {}.",
        told.signed(estimate),
        told.range(wide),
        told.amount(plan.worth_having),
    );
    view! {
        <figure class="interval pictured">
            <div data-picture>
            <svg role="img" aria-label=spoken width="100%" height="96">
                <rect class="zone" x=x(zone[0]) y="18" width=width(zone) height="52"/>
                <line class="axis" x1="0" x2="100%" y1="70" y2="70"/>
                <line class="none" x1=x(0.0) x2=x(0.0) y1="14" y2="70"/>
                <text class="side" x="0" y="11">{left}</text>
                <text class="side" x="100%" y="11" text-anchor="end">{right}</text>
                <line class="wide" x1=x(wide[0]) x2=x(wide[1]) y1="44" y2="44"/>
                {wide.map(|end| view! { <line class="wide" x1=x(end) x2=x(end) y1="37" y2="51"/> })}
                <line class="narrow" x1=x(narrow[0]) x2=x(narrow[1]) y1="44" y2="44"/>
                <circle class="estimate" cx=x(estimate) cy="44" r="6"/>
                {values.into_iter().map(tick).collect_view()}
            </svg>
            </div>
            <figcaption>
                <span><i class="key zone"></i>"too little to be worth having"</span>
                <span><i class="key wide"></i>"95 % interval"</span>
                <span><i class="key narrow"></i>"90 %"</span>
                <span>{told.unit()}</span>
                <SavePicture name="difference"/>
            </figcaption>
        </figure>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_difference_is_always_in_the_picture() {
        let across = Across::of(&[-0.4, -0.2]);
        assert_eq!((across.at(-0.4), across.at(0.0)), (MARGIN, 100.0 - MARGIN));
        assert!((Across::of(&[-1.0, 3.0]).at(1.0) - 50.0).abs() < 1e-9);
        assert!(Across::of(&[0.0, 0.0]).at(0.0).is_finite());
    }
}
