//! What the rider had to take.

use evenkeel_core::ride::{
    HAND_ARM_ACTION_MPS2, HAND_ARM_BAND_HZ, HAND_ARM_LIMIT_MPS2, SHOCKS_CREST_FACTOR, VibrationReadout,
    WHOLE_BODY_BAND_HZ,
};
use evenkeel_core::{Measured, Unit};
use leptos::prelude::*;

use super::figure::Figure;
use super::table::{row, single};
use crate::words::fixed;

pub fn vibration(vibration: &VibrationReadout) -> AnyView {
    let exposure = format!(
        "What this stretch adds to the hands' daily exposure A(8) (ISO 5349-1). At work, {HAND_ARM_ACTION_MPS2} \
         m/s² a day calls for action and {HAND_ARM_LIMIT_MPS2} m/s² is the limit (Directive 2002/44/EC)."
    );
    let crest = format!(
        "Largest value over RMS. Above {SHOCKS_CREST_FACTOR}, RMS understates the shocks: look at the dose."
    );
    let rows = [
        row(
            "Hands, RMS",
            "Vibration at the bar, weighted for hands (ISO 5349-1).",
            Figure::quantity(&vibration.hand_arm_rms_mps2, Unit::MetrePerSecondSquared),
        ),
        row(
            "Hands, part of A(8)",
            exposure,
            Figure::of(&vibration.hand_arm_a8_mps2, |a8| format!("{}\u{a0}m/s²", fixed(*a8, 3))),
        ),
        row(
            "Hands, band covered",
            "What the bar sensor's rate lets through; the rest of the standard's band is cut off.",
            band(&vibration.hand_arm_covered_to_hz, HAND_ARM_BAND_HZ),
        ),
        row(
            "Frame, RMS",
            "Vertical vibration of the frame, weighted for the whole body (ISO 2631-1).",
            Figure::quantity(&vibration.whole_run_rms_mps2, Unit::MetrePerSecondSquared),
        ),
        row("Crest factor", crest, Figure::ratio(&vibration.whole_run_crest, 1)),
        row(
            "Vibration dose (VDV)",
            "Counts shocks for more than RMS does and grows with time: compare only stretches of like length \
             (ISO 2631-1).",
            Figure::of(&vibration.whole_run_vdv_mps175, |dose| format!("{}\u{a0}m/s¹·⁷⁵", fixed(*dose, 1))),
        ),
        row(
            "Frame, band covered",
            "What the frame sensor's rate lets through; the rest of the standard's band is cut off.",
            band(&vibration.whole_run_covered_to_hz, WHOLE_BODY_BAND_HZ),
        ),
    ];
    view! {
        <h3>"Vibration"</h3>
        {single(rows)}
        <p class="quiet note">
            "For comparing runs only, not a medical assessment: the standards measure at grip and seat, this is stem and frame."
        </p>
    }
    .into_any()
}

/// The part of a standard's band that is measured.
fn band(covered_to_hz: &Measured, [from_hz, to_hz]: [f64; 2]) -> Figure {
    Figure::of(covered_to_hz, |covered_hz| {
        if *covered_hz >= to_hz {
            format!("{from_hz} to {to_hz:.0}\u{a0}Hz, all of it")
        } else {
            format!("{from_hz} to {covered_hz:.0} of {to_hz:.0}\u{a0}Hz")
        }
    })
}
