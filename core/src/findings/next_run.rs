//! From an adjustment to a planned run that shows whether it was right.

use super::{Adjuster, Adjustment, Direction, Finding, FindingKind};
use crate::day::Day;
use crate::decide::Metric;
use crate::role::End;
use crate::setup::{Descent, Entry, Item, Part, SetupSheet, SheetUnit, Typed};

impl Adjustment {
    /// The line of the sheet that it changes.
    pub fn item(&self) -> Item {
        let part = match self.adjuster {
            Adjuster::Rebound => Part::Rebound,
            Adjuster::SlowCompression => Part::SlowCompression,
            Adjuster::Spring => Part::Spring,
        };
        Item::At(self.end, part)
    }

    /// Turns it by one click where the sheet counts clicks from closed: more damping is one click less. Every other
    /// step depends on pump, coil and bike, so its owner writes it.
    pub fn turn(&self, sheet: &mut SetupSheet) {
        let clicks =
            sheet.get(self.item()).and_then(Entry::number).filter(|now| now.unit == SheetUnit::Click);
        if let Some(Typed { value, unit }) = clicks {
            let step = if self.direction == Direction::More { -1.0 } else { 1.0 };
            let value = (value + step).max(0.0);
            sheet.set(self.item(), Some(Entry::Number(Typed { value, unit })));
        }
    }
}

impl Finding {
    /// The number of the read-out in which the next run shows whether an adjustment was right.
    pub fn shown_by(&self) -> Option<&'static Metric> {
        let front = self.end == Some(End::Front);
        let at = |front_key, rear_key| if front { front_key } else { rear_key };
        let key = match self.kind {
            FindingKind::ReboundTooFast => at("front.early_top_outs", "rear.early_top_outs"),
            FindingKind::ReboundTooSlow => at("front.not_recovered_share", "rear.not_recovered_share"),
            FindingKind::TooSoft => at("front.ride_height_m", "rear.ride_height_m"),
            FindingKind::TooFirm => at("front.travel_p95_m", "rear.travel_p95_m"),
            FindingKind::EndsUneven | FindingKind::UnevenHit => "level.pitch_rate_rms_radps",
            FindingKind::Dives => "dive.rise_m",
            FindingKind::Shakes => "lateral.shake_rms_mps2",
            FindingKind::BrakeDragged => at("brakes.front.drag_s", "brakes.rear.drag_s"),
            FindingKind::RearLocks => "rear_wheel.lockup_s",
            FindingKind::SensorDoubt
            | FindingKind::BrakeResidual
            | FindingKind::BrakeInNoBrakeSection
            | FindingKind::RideHeightDrifts => return None,
        };
        Metric::of(key)
    }
}

impl Day {
    /// Plans the next run with one adjustment, and asks in it for the number that shows whether it was right.
    pub fn plan_adjustment(&mut self, finding: &Finding, adjustment: &Adjustment) -> Descent {
        let run = self.plan_next();
        let mut sections: Vec<String> = self.sections.iter().map(|section| section.name.clone()).collect();
        if sections.is_empty() {
            sections.push("run".to_owned());
        }
        if let Some(sheet) = self.sheet_mut(run) {
            adjustment.turn(&mut sheet.setup);
            sheet.setup.words = adjustment.words();
            sheet.name_plan(finding.shown_by().map(|metric| metric.usual_plan(sections)));
        }
        run
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(unit: SheetUnit, value: f64) -> SetupSheet {
        let mut sheet = SetupSheet::default();
        sheet.set(Item::At(End::Rear, Part::Rebound), Some(Entry::Number(Typed { value, unit })));
        sheet
    }

    /// Clicks are counted from closed (common practice): one click slower is one less.
    #[test]
    fn slower_rebound_is_one_click_nearer_to_closed() {
        let rebound = |direction| Adjustment { adjuster: Adjuster::Rebound, end: End::Rear, direction };
        let clicks = |direction, from: f64| {
            let mut sheet = sheet(SheetUnit::Click, from);
            rebound(direction).turn(&mut sheet);
            sheet.get(Item::At(End::Rear, Part::Rebound)).and_then(Entry::number).unwrap().value
        };
        assert_eq!(clicks(Direction::More, 8.0), 7.0);
        assert_eq!(clicks(Direction::Less, 8.0), 9.0);
        assert_eq!(clicks(Direction::More, 0.0), 0.0);
        // What is not counted in clicks, or not known, is left to its owner.
        let mut spring = sheet(SheetUnit::Bar, 4.0);
        rebound(Direction::More).turn(&mut spring);
        assert_eq!(spring, sheet(SheetUnit::Bar, 4.0));
    }
}
