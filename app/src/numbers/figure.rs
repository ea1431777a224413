//! One figure in words: a value with its unit and evidence, or why it is not measured.

use evenkeel_core::{Measured, NotMeasured, Unit};
use leptos::prelude::*;

use crate::words::{fixed, number, symbol};

/// What stands in one cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The value in its unit, or the reason why there is none.
    shown: Result<String, String>,
    /// How sure it is: interval and number of events or samples. Empty where neither is known.
    evidence: String,
}

impl Figure {
    /// Anything that is known for sure.
    pub fn text(text: impl Into<String>) -> Self {
        Self { shown: Ok(text.into()), evidence: String::new() }
    }

    pub fn not(reason: NotMeasured) -> Self {
        Self { shown: Err(reason.0), evidence: String::new() }
    }

    /// A quantity put in words by `words`, its interval alike.
    pub fn of<T>(measured: &Measured<T>, words: impl Fn(&T) -> String) -> Self {
        let shown = match measured.get() {
            Ok(value) => words(value),
            Err(reason) => return Self::not(reason),
        };
        let interval =
            measured.interval().map(|[from, to]| format!("95 % interval {} to {}", words(from), words(to)));
        let n = measured.n().map(|n| format!("n\u{a0}=\u{a0}{n}"));
        let evidence = interval.into_iter().chain(n).collect::<Vec<_>>().join("; ");
        Self { shown: Ok(shown), evidence }
    }

    pub fn quantity(measured: &Measured, unit: Unit) -> Self {
        Self::of(measured, |si| quantity(*si, unit))
    }

    pub fn count(measured: &Measured<usize>) -> Self {
        Self::of(measured, usize::to_string)
    }

    pub fn percent(measured: &Measured) -> Self {
        Self::of(measured, |share| format!("{} %", fixed(share * 100.0, 0)))
    }

    /// A number without a unit.
    pub fn ratio(measured: &Measured, digits: usize) -> Self {
        Self::of(measured, |ratio| fixed(*ratio, digits))
    }

    /// A length of time in seconds.
    pub fn seconds(measured: &Measured, digits: usize) -> Self {
        Self::of(measured, |time_s| format!("{} s", fixed(*time_s, digits)))
    }

    /// A short time.
    pub fn milliseconds(time_s: &Measured) -> Self {
        Self::of(time_s, |time_s| format!("{}\u{a0}ms", fixed(time_s * 1e3, 0)))
    }

    /// How often, and for how long in all.
    pub fn count_and_time(count: &Measured<usize>, time_s: &Measured) -> Self {
        match time_s.get() {
            Ok(time_s) => Self::of(count, |count| often(*count, *time_s)),
            Err(_) => Self::count(count),
        }
    }

    /// A table's cell. The evidence and the reason are told on hover and, where asked for, below.
    pub fn cell(self) -> AnyView {
        self.classed("")
    }

    /// The same, in a column of its own look.
    pub fn classed(self, class: &'static str) -> AnyView {
        let below =
            |text: String| (!text.is_empty()).then(|| view! { <small class="explanation">{text}</small> });
        match self.shown {
            Ok(shown) => {
                let title = (!self.evidence.is_empty()).then(|| self.evidence.clone());
                view! { <td class=(!class.is_empty()).then_some(class)><span class:sure=title.is_some() title=title>{shown}</span>{below(self.evidence)}</td> }
                    .into_any()
            }
            Err(reason) => {
                let why = format!("not measured: {reason}");
                view! {
                    <td class=(!class.is_empty()).then_some(class)>
                        <abbr class="not" tabindex="0" title=why.clone() aria-label=why>"not measured"</abbr>
                        {below(reason)}
                    </td>
                }
                .into_any()
            }
        }
    }
}

/// An SI value with its unit.
pub fn quantity(si: f64, unit: Unit) -> String {
    // A degree sign stands at its number, every other unit behind a space.
    let space = if unit == Unit::Degree { "" } else { "\u{a0}" };
    format!("{}{space}{}", number(si, unit), symbol(unit))
}

/// How often, and for how long in all; nothing has no length.
pub fn often(count: usize, time_s: f64) -> String {
    let time = format!("{}\u{a0}s", fixed(time_s, 2));
    match count {
        0 => "0".to_owned(),
        1 => format!("once, {time}"),
        _ => format!("{count}\u{a0}times, {time}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_tells_its_evidence_in_its_own_unit() {
        let sag = Measured::value(0.0521).with_interval([0.049, 0.055]).with_n(31);
        let figure = Figure::quantity(&sag, Unit::Millimetre);
        assert_eq!(figure.shown, Ok("52.1\u{a0}mm".to_owned()));
        assert_eq!(figure.evidence, "95 % interval 49.0\u{a0}mm to 55.0\u{a0}mm; n\u{a0}=\u{a0}31");
    }

    #[test]
    fn what_is_not_measured_has_a_reason_and_no_number() {
        let missing = Measured::<usize>::not(NotMeasured::because("no travel is logged"));
        let figure = Figure::count_and_time(&missing, &Measured::value(0.0));
        assert_eq!(figure.shown, Err("no travel is logged".to_owned()));
    }

    #[test]
    fn a_count_keeps_its_place_where_its_time_is_not_measured() {
        let no_time = Measured::not(NotMeasured::because("too slow"));
        assert_eq!(Figure::count_and_time(&Measured::value(3), &no_time), Figure::text("3"));
        let both = Figure::count_and_time(&Measured::value(3), &Measured::value(0.414));
        assert_eq!(both, Figure::text("3\u{a0}times, 0.41\u{a0}s"));
    }
}
