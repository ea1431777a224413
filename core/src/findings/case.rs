//! One run as the rules see it.

use super::{
    Baseline, Certainty, Confidence, Evidence, FindingSettings, Judged, Limit, Limits, Measure, Moment,
    Origin,
};
use crate::bike::Bike;
use crate::measured::Measured;
use crate::readout::{EndReadout, RunReadout, SectionReadout};
use crate::ride::BrakeReadout;
use crate::role::{End, Role};

/// So many times as far from the usual as the limit is beyond doubt (own default).
const CLEAR_TIMES: f64 = 1.5;
/// More is said to be this.
const MOST_TIMES: f64 = 1e3;
/// Fewer events than this leave room for chance (own default).
const FEW_EVENTS: usize = 5;

/// A run with what it is judged by.
pub struct Case<'a> {
    pub run: &'a RunReadout,
    /// The whole run.
    pub whole: &'a SectionReadout,
    pub bike: &'a Bike,
    limits: &'a Limits,
    usual: Baseline,
}

impl<'a> Case<'a> {
    /// `None` for a run that was not read at all.
    pub fn new(run: &'a RunReadout, bike: &'a Bike, settings: &'a FindingSettings) -> Option<Self> {
        let whole = run.sections.first()?;
        Some(Self { run, whole, bike, limits: &settings.limits, usual: settings.baseline.like(run) })
    }

    pub fn limit(&self, limit: Limit) -> f64 {
        self.limits.get(limit)
    }

    /// What earlier runs show for the whole run.
    pub fn usual(&self, key: &str) -> Option<f64> {
        self.usual.usual(0, &self.whole.name, key)
    }

    /// The named sections with what earlier runs show there.
    pub fn sections(&self, key: &str) -> impl Iterator<Item = (&'a SectionReadout, Option<f64>)> {
        let named = self.run.sections.iter().enumerate().skip(1);
        named.map(move |(place, section)| (section, self.usual.usual(place, &section.name, key)))
    }

    /// The section with the highest score, as a moment to jump to.
    pub fn worst(
        &self,
        key: &str,
        score: impl Fn(&SectionReadout, Option<f64>) -> Option<f64>,
    ) -> Vec<Moment> {
        let scored =
            self.sections(key).filter_map(|(section, usual)| Some((section, score(section, usual)?)));
        let worst = scored.max_by(|a, b| a.1.total_cmp(&b.1));
        worst
            .map(|(section, _)| Moment { start_s: section.start_s, end_s: section.end_s })
            .into_iter()
            .collect()
    }

    /// Name of the section in which something begins; the whole run's where it lies in none.
    pub fn section_at(&self, time_s: f64) -> String {
        let named = self.run.sections.iter().skip(1);
        let here = named.filter(|section| (section.start_s..section.end_s).contains(&time_s));
        // The shortest says most.
        let shortest = here.min_by(|a, b| a.time_s.total_cmp(&b.time_s));
        shortest.unwrap_or(self.whole).name.clone()
    }

    /// How sure a finding is, by its deciding number: `times_limit`, see [`Confidence::times_limit`]; `read` are the
    /// channels that it was read from.
    pub fn confidence(&self, deciding: &Evidence, times_limit: f64, read: &[Role]) -> Confidence {
        // What has no usual, or a limit of nothing, is any number of times beyond it.
        let times_limit =
            if times_limit.is_finite() { times_limit.clamp(0.0, MOST_TIMES) } else { MOST_TIMES };
        let limit = deciding.limit;
        let interval_beyond = deciding.interval.zip(limit).map(|([low, high], limit)| {
            if deciding.value >= limit.at { low >= limit.at } else { high <= limit.at }
        });
        let compared = deciding.usual.is_some();
        let sensors = self.doubts_about(read);
        let few = deciding.n.is_some_and(|n| n < FEW_EVENTS);
        let borrowed = !compared && limit.is_some_and(|limit| limit.by.origin() == Origin::Model);
        let doubtful = interval_beyond == Some(false) || few || !sensors.is_empty();
        let level = match (doubtful, times_limit >= CLEAR_TIMES && !borrowed) {
            (false, true) => Certainty::Clear,
            (true, false) if borrowed => Certainty::Hint,
            _ => Certainty::Likely,
        };
        let names = self.usual.names().map(str::to_owned);
        Confidence {
            level,
            times_limit,
            interval_beyond,
            events: deciding.n,
            compared_with: if compared { names.collect() } else { Vec::new() },
            sensors,
        }
    }

    fn doubts_about(&self, roles: &[Role]) -> Vec<String> {
        let read = self.run.channels.iter().filter(|channel| roles.contains(&channel.role.as_read()));
        read.flat_map(|channel| channel.flags.iter().map(move |doubt| (channel, doubt)))
            .map(|(channel, doubt)| format!("{} {doubt}", channel.role.words()))
            .collect()
    }
}

/// One end of a section.
pub fn end(section: &SectionReadout, end: End) -> &EndReadout {
    match end {
        End::Front => &section.front,
        End::Rear => &section.rear,
    }
}

/// One brake of a section.
pub fn brake(section: &SectionReadout, end: End) -> &BrakeReadout {
    match end {
        End::Front => &section.brakes.front,
        End::Rear => &section.brakes.rear,
    }
}

/// Key of a number of one end.
pub fn key(end: End, number: &str) -> String {
    format!("{}.{number}", end.name())
}

impl Evidence {
    /// A number without interval.
    pub fn of(what: impl Into<String>, measure: Measure, value: f64) -> Self {
        Self {
            what: what.into(),
            meaning: None,
            measure,
            value,
            interval: None,
            n: None,
            usual: None,
            limit: None,
        }
    }

    /// A measured number, if it is.
    pub fn measured(what: impl Into<String>, measure: Measure, measured: &Measured) -> Option<Self> {
        let value = *measured.get().ok()?;
        Some(Self {
            interval: measured.interval().copied(),
            n: measured.n(),
            ..Self::of(what, measure, value)
        })
    }

    /// A count, if it is measured.
    pub fn count(what: impl Into<String>, measured: &Measured<usize>) -> Option<Self> {
        let value = *measured.get().ok()?;
        Some(Self { n: measured.n(), ..Self::of(what, Measure::Count, value as f64) })
    }

    /// What it means.
    pub fn meaning(self, words: &str) -> Self {
        Self { meaning: Some(words.to_owned()), ..self }
    }

    /// What earlier runs show.
    pub fn with_usual(self, usual: Option<f64>) -> Self {
        Self { usual, ..self }
    }

    /// What it was judged by.
    pub fn judged(self, by: Limit, at: f64) -> Self {
        Self { limit: Some(Judged { by, at }), ..self }
    }
}
