//! The numbers of the read-out that a plan can be about, in plain words.

use serde::Serialize;

use super::{Direction, Plan, Scale};

/// One number of the read-out as a question about it is asked.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Metric {
    /// Its key in the read-out, as a [`RunSummary`](super::RunSummary) has it.
    pub key: &'static str,
    /// In plain words, without its unit.
    pub name: &'static str,
    /// The unit it is shown in.
    pub unit: &'static str,
    /// How many of that unit make one in SI.
    pub shown_per_si: f64,
    /// Which way is usually better.
    pub direction: Direction,
    /// Whether it is always over 0, so that a difference can be told as a share of it.
    pub is_positive: bool,
    /// The smallest difference that is usually worth having, in the unit shown (common practice, from memory; its
    /// owner says otherwise).
    pub worth_having: f64,
}

const fn metric(
    key: &'static str,
    name: &'static str,
    (unit, shown_per_si): (&'static str, f64),
    direction: Direction,
    is_positive: bool,
    worth_having: f64,
) -> Metric {
    Metric { key, name, unit, shown_per_si, direction, is_positive, worth_having }
}

const SECONDS: (&str, f64) = ("s", 1.0);
const MILLISECONDS: (&str, f64) = ("ms", 1e3);
const MILLIMETRES: (&str, f64) = ("mm", 1e3);
const PERCENT: (&str, f64) = ("%", 1e2);
const BARE: (&str, f64) = ("", 1.0);
const TIMES: (&str, f64) = ("times", 1.0);
const ACCELERATION: (&str, f64) = ("m/s²", 1.0);
const TURN_RATE: (&str, f64) = ("°/s", 180.0 / std::f64::consts::PI);
const ANGLE: (&str, f64) = ("°", 180.0 / std::f64::consts::PI);
const PER_SECOND: (&str, f64) = ("1/s", 1.0);
const DIVE: (&str, f64) = ("mm/bar", 1e8);

use Direction::{Less, More};

/// What can be asked about, in the order of the read-out's tables.
pub const METRICS: [Metric; 36] = [
    metric("time_s", "time", SECONDS, Less, true, 0.2),
    metric("level.pitch_rate_rms_radps", "pitching of the frame", TURN_RATE, Less, true, 3.0),
    metric("level.pitch_chord_rms_rad", "pitch against the ground", ANGLE, Less, true, 0.1),
    metric("level.heave_rms_m", "heave", MILLIMETRES, Less, true, 1.0),
    metric("level.evenness_share", "evenness (0 same, 1 opposite)", BARE, Less, false, 0.05),
    metric("level.kick_p95_radps", "hardest kicks of the rear", TURN_RATE, Less, true, 30.0),
    metric("front.not_recovered_share", "hits not recovered, front", PERCENT, Less, false, 5.0),
    metric("rear.not_recovered_share", "hits not recovered, rear", PERCENT, Less, false, 5.0),
    metric("front.recovery_p50_s", "recovery time, front", MILLISECONDS, Less, true, 10.0),
    metric("rear.recovery_p50_s", "recovery time, rear", MILLISECONDS, Less, true, 10.0),
    metric("front.sink_m", "sink in a train of hits, front", MILLIMETRES, Less, false, 4.0),
    metric("rear.sink_m", "sink in a train of hits, rear", MILLIMETRES, Less, false, 4.0),
    metric("front.rebound_rate_per_s", "rebound rate, front", PER_SECOND, More, true, 1.0),
    metric("rear.rebound_rate_per_s", "rebound rate, rear", PER_SECOND, More, true, 1.0),
    metric("front.early_top_outs", "early top-outs, front", TIMES, Less, false, 2.0),
    metric("rear.early_top_outs", "early top-outs, rear", TIMES, Less, false, 2.0),
    metric("front.ride_height_m", "ride height (travel used), front", MILLIMETRES, Less, true, 4.0),
    metric("rear.ride_height_m", "ride height (travel used), rear", MILLIMETRES, Less, true, 4.0),
    metric("front.travel_p95_m", "travel used 95 % of the time, front", MILLIMETRES, More, true, 10.0),
    metric("rear.travel_p95_m", "travel used 95 % of the time, rear", MILLIMETRES, More, true, 10.0),
    metric("front.bottom_outs", "bottom-outs, front", TIMES, Less, false, 2.0),
    metric("rear.bottom_outs", "bottom-outs, rear", TIMES, Less, false, 2.0),
    metric("front.unweighted_s", "time unweighted, front", SECONDS, Less, false, 0.5),
    metric("rear.unweighted_s", "time unweighted, rear", SECONDS, Less, false, 0.5),
    metric("front.harshness_per_s", "harshness, front", PER_SECOND, Less, true, 2.0),
    metric("rear.harshness_per_s", "harshness, rear", PER_SECOND, Less, true, 2.0),
    metric("lateral.shake_rms_mps2", "lateral shake, median", ACCELERATION, Less, true, 0.1),
    metric("dive.rise_m", "dive, median", MILLIMETRES, Less, false, 5.0),
    metric("dive.gain_m_per_pa", "dive for pressure", DIVE, Less, false, 0.5),
    metric("brakes.front.drag_s", "front brake dragged", SECONDS, Less, false, 0.5),
    metric("brakes.rear.drag_s", "rear brake dragged", SECONDS, Less, false, 0.5),
    metric("brakes.overlap_s", "both brakes at once", SECONDS, Less, false, 1.0),
    metric("rear_wheel.lockup_s", "time the rear wheel was locked", SECONDS, Less, false, 0.3),
    metric("vibration.hand_arm_rms_mps2", "vibration at the hands", ACCELERATION, Less, true, 1.0),
    metric("vibration.whole_run_rms_mps2", "vibration of the frame", ACCELERATION, Less, true, 0.5),
    metric("rider.hand_load_rms_mps2", "hands on the front", ACCELERATION, Less, true, 0.1),
];

impl Metric {
    /// The metric of a key.
    pub fn of(key: &str) -> Option<&'static Self> {
        METRICS.iter().find(|metric| metric.key == key)
    }

    /// A difference as a plan's scale tells it, in words with its unit: `5 %` of its value, or `10 mm`.
    pub fn difference_in_words(&self, difference: f64, scale: Scale) -> String {
        let (number, unit) = match scale {
            Scale::Logarithmic => (1e2 * difference, "% of its value"),
            Scale::Plain if self.unit == "%" => (1e2 * difference, "percentage points"),
            Scale::Plain => (self.shown_per_si * difference, self.unit),
        };
        format!("{}\u{a0}{unit}", significant(number)).trim_end().to_owned()
    }

    /// The plan that asks about it in the usual way.
    pub fn usual_plan(&self, sections: Vec<String>) -> Plan {
        Plan {
            metric: self.key.to_owned(),
            direction: self.direction,
            scale: Scale::Plain,
            sections,
            worth_having: self.worth_having / self.shown_per_si,
        }
    }
}

impl Plan {
    /// The question in words: `hits not recovered, rear: less is better, by 5 percentage points or more, on Rock
    /// garden`.
    pub fn in_words(&self) -> String {
        let better = match self.direction {
            Direction::More => "more is better",
            Direction::Less => "less is better",
        };
        let (name, worth) = match Metric::of(&self.metric) {
            Some(metric) => (metric.name, metric.difference_in_words(self.worth_having, self.scale)),
            None => (self.metric.as_str(), significant(self.worth_having)),
        };
        let on = match self.sections.as_slice() {
            [] => "nowhere yet".to_owned(),
            [only] if only == "run" => "the whole run".to_owned(),
            sections => sections.join(", "),
        };
        format!("{name}: {better}, by {worth} or more, on {on}")
    }
}

/// With four digits that count at most: what was typed survives the way through SI and back.
fn significant(number: f64) -> String {
    if number == 0.0 || !number.is_finite() {
        return number.to_string();
    }
    let digits = (3 - number.abs().log10().floor() as i32).clamp(0, 12);
    let scale = 10_f64.powi(digits);
    ((number * scale).round() / scale).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_is_told_in_plain_words() {
        let metric = Metric::of("rear.not_recovered_share").unwrap();
        let mut plan = metric.usual_plan(vec!["Rock garden".to_owned(), "Roots".to_owned()]);
        let told = |plan: &Plan| plan.in_words().replace('\u{a0}', " ");
        assert_eq!(
            told(&plan),
            "hits not recovered, rear: less is better, by 5 percentage points or more, on Rock garden, Roots"
        );
        plan = Metric::of("front.travel_p95_m").unwrap().usual_plan(vec!["run".to_owned()]);
        assert_eq!(
            told(&plan),
            "travel used 95 % of the time, front: more is better, by 10 mm or more, on the whole run"
        );
        plan.scale = Scale::Logarithmic;
        plan.worth_having = 0.05;
        assert!(told(&plan).contains("by 5 % of its value or more"), "{}", told(&plan));
        plan.metric = "of.a.later.version".to_owned();
        plan.sections.clear();
        assert_eq!(told(&plan), "of.a.later.version: more is better, by 0.05 or more, on nowhere yet");
    }

    #[test]
    fn every_usual_plan_can_be_decided() {
        for (k, metric) in METRICS.iter().enumerate() {
            let plan = metric.usual_plan(vec!["run".to_owned()]);
            plan.check().unwrap_or_else(|reason| panic!("{}: {reason}", metric.key));
            assert!(METRICS[..k].iter().all(|other| other.key != metric.key && other.name != metric.name));
            let told = metric.difference_in_words(plan.worth_having, plan.scale);
            assert!(told.starts_with(&metric.worth_having.to_string()), "{told}");
        }
    }
}
