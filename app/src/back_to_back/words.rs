//! What is said of a comparison, in plain words.

use evenkeel_core::decide::{Comparison, Direction, Metric, RunToRun, Scale, Verdict};

use crate::words::fixed;

/// How numbers of one metric are written: differences in the unit of their scale, levels in the metric's own.
#[derive(Clone, Copy)]
pub struct Told {
    metric: Option<&'static Metric>,
    scale: Scale,
    /// Digits of a difference after the decimal point.
    digits: usize,
    /// Short units, for tables that explain them.
    brief: bool,
}

impl Told {
    /// `worth_having` on the scale: what is much smaller is not written.
    pub fn of(key: &str, scale: Scale, worth_having: f64) -> Self {
        let metric = Metric::of(key);
        let digits = match scale {
            Scale::Logarithmic => 1,
            Scale::Plain => digits(worth_having * metric.map_or(1.0, |metric| metric.shown_per_si)),
        };
        Self { metric, scale, digits, brief: false }
    }

    /// For a metric that nobody asked about, by what is usually worth having; in a table.
    pub fn usual(key: &str, scale: Scale) -> Self {
        let worth = Metric::of(key).map_or(0.01, |metric| metric.worth_having / metric.shown_per_si);
        Self { brief: true, ..Self::of(key, scale, worth) }
    }

    /// How many of what is shown make one as it is told.
    pub fn factor(self) -> f64 {
        match self.scale {
            Scale::Logarithmic => 1e2,
            Scale::Plain => self.metric.map_or(1.0, |metric| metric.shown_per_si),
        }
    }

    /// The unit of differences.
    pub fn unit(self) -> &'static str {
        match (self.scale, self.metric.map_or("", |metric| metric.unit), self.brief) {
            (Scale::Logarithmic, _, true) => "%",
            (Scale::Logarithmic, _, false) => "% of its value",
            (Scale::Plain, "%", true) => "points",
            (Scale::Plain, "%", false) => "percentage points",
            (Scale::Plain, unit, _) => unit,
        }
    }

    fn with_unit(self, number: String) -> String {
        match self.unit() {
            "" => number,
            unit => format!("{number}\u{a0}{unit}"),
        }
    }

    /// A difference without its sign.
    pub fn amount(self, difference: f64) -> String {
        self.with_unit(self.bare(difference.abs()))
    }

    /// A difference with its sign, without its unit.
    pub fn bare(self, difference: f64) -> String {
        fixed(difference * self.factor(), self.digits).replace('-', "−")
    }

    /// A difference with sign and unit.
    pub fn signed(self, difference: f64) -> String {
        self.with_unit(self.plus(difference))
    }

    fn plus(self, difference: f64) -> String {
        let number = self.bare(difference);
        if number.starts_with('−') || number.bytes().all(|b| matches!(b, b'0' | b'.')) {
            number
        } else {
            format!("+{number}")
        }
    }

    /// From one difference to another.
    pub fn range(self, [from, to]: [f64; 2]) -> String {
        self.with_unit(format!("{} to {}", self.plus(from), self.plus(to)))
    }

    /// What one set-up has.
    pub fn level(self, value: f64) -> String {
        let (factor, unit, worth) = self
            .metric
            .map_or((1.0, "", 0.01), |metric| (metric.shown_per_si, metric.unit, metric.worth_having));
        let number = fixed(value * factor, digits(worth)).replace('-', "−");
        if unit.is_empty() { number } else { format!("{number}\u{a0}{unit}") }
    }
}

/// Digits after the decimal point that a difference worth having needs: its tenth can be told.
fn digits(worth_having: f64) -> usize {
    (1.0 - worth_having.abs().max(1e-9).log10().floor()).clamp(0.0, 6.0) as usize
}

/// `hits not recovered, rear`
pub fn name_of(key: &str) -> String {
    Metric::of(key).map_or(key, |metric| metric.name).to_owned()
}

/// The verdict in one or two words.
pub fn headline(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Better => "Better",
        Verdict::Worse => "Worse",
        Verdict::NoDifferenceThatMatters => "No difference that matters",
        Verdict::NotDistinguishable => "Not distinguishable",
    }
}

/// By how much, of the two set-ups' names: `Hits not recovered, rear: 24.1 percentage points less with the
/// set-up of Run 2 than with that of Run 1.`
pub fn difference(comparison: &Comparison, told: Told) -> String {
    let name = name_of(&comparison.plan.metric);
    let mut letters = name.chars();
    let name: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    let [a, b] = &comparison.contrast.setups;
    let amount = comparison.contrast.difference;
    if told.bare(amount).bytes().all(|c| matches!(c, b'0' | b'.')) {
        return format!(
            "{name}: the same with the set-up of {b} as with that of {a}, to the digits that count."
        );
    }
    let way = if amount < 0.0 { "less" } else { "more" };
    format!("{name}: {} {way} with the set-up of {b} than with that of {a}.", told.amount(amount))
}

/// Why it is that verdict.
pub fn reason(comparison: &Comparison, verdict: Verdict, told: Told) -> String {
    let Ok(evidence) = comparison.evidence.get() else { return String::new() };
    let worth = told.amount(comparison.plan.worth_having);
    let within = told.range(evidence.interval);
    let better = match comparison.plan.direction {
        Direction::More => "More is better here",
        Direction::Less => "Less is better here",
    };
    match verdict {
        Verdict::Better | Verdict::Worse => format!(
            "{better}. Runs of an unchanged bike would hardly differ by so much: the true difference lies within {within}, and {worth} was worth having."
        ),
        Verdict::NoDifferenceThatMatters => format!(
            "If there is a difference at all, it is smaller than the {worth} that was worth having: it lies within {} (90 % interval).",
            told.range(evidence.interval_90)
        ),
        Verdict::NotDistinguishable => format!(
            "The true difference may be anything within {within}: these runs cannot say whether it is worth having ({worth} or more)."
        ),
    }
}

/// What to do about it.
/// `in_turn`: whether one set-up was ridden before and after the other.
pub fn advice(verdict: Verdict, in_turn: bool) -> &'static str {
    match (verdict, in_turn) {
        (Verdict::Better, true) => "Keep it.",
        (Verdict::Better, false) => {
            "Keep it, and go back once if a run can be spared: until then a track that changes, or a rider who learns it, could pass for it."
        }
        (Verdict::Worse, _) => "Take it back.",
        (Verdict::NoDifferenceThatMatters, _) => {
            "Keep it or take it back as the rider likes: on this number it is not worth a thought."
        }
        (Verdict::NotDistinguishable, _) => {
            "Do not read anything into it. Ride one of the two once more, or try something that should make a larger difference."
        }
    }
}

/// `4 runs of 2 set-ups`
pub fn repeats(scatter: &RunToRun) -> String {
    let s = |count: usize| if count == 1 { "" } else { "s" };
    format!("{} run{} of {} set-up{}", scatter.runs, s(scatter.runs), scatter.setups, s(scatter.setups))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_the_digits_that_count() {
        let shown = |text: String| text.replace('\u{a0}', " ");
        let hits = Told::of("rear.not_recovered_share", Scale::Plain, 0.05);
        assert_eq!(shown(hits.signed(-0.241_3)), "−24.1 percentage points");
        assert_eq!(shown(hits.range([-0.27, 0.011])), "−27.0 to +1.1 percentage points");
        assert_eq!(shown(hits.amount(-0.0004)), "0.0 percentage points");
        assert_eq!(shown(hits.level(0.3)), "30.0 %");
        let time = Told::usual("time_s", Scale::Logarithmic);
        assert_eq!(shown(time.signed(0.0123)), "+1.2 %");
        assert_eq!(shown(time.level(21.5)), "21.50 s");
        assert_eq!([5.0, 10.0, 0.2, 30.0, 1.0].map(digits), [1, 0, 2, 0, 1]);
        assert_eq!(shown(Told::usual("of.a.later.version", Scale::Plain).level(0.5)), "0.500");
    }
}
