//! Gentle doubts about what was typed, and the cautions that stand beside it. Nothing is refused.

use super::{Entry, Item, Part, SheetUnit, Typed};
use crate::role::End;

/// What stands beside every sheet.
pub const CAUTIONS: [&str; 5] = [
    "Change one thing at a time, by the smallest step, and try it at low speed first.",
    "Stay between the smallest and the largest pressure that the maker of fork, shock, tyre and rim names.",
    "Tighten what you loosened to the maker's torque, with a torque wrench.",
    "Brakes, and any doubt about a part that carries load, go to a qualified mechanic.",
    "The event's rules and local law come first.",
];

/// What to heed when this line is changed, where there is more to say than [`CAUTIONS`].
pub fn caution(item: Item) -> Option<&'static str> {
    Some(match item {
        Item::At(_, Part::Spring) => {
            "Air: let the end move through its travel a few times, then read the gauge again. Coil: the maker says which rates fit, and how much preload."
        }
        Item::At(_, Part::VolumeSpacers) => "Let out all the air before you open an air spring.",
        Item::At(_, Part::TyrePressure) => {
            "Tyre and rim each have a largest pressure; the smaller one counts."
        }
        Item::BarHeight => {
            "Stem and bar carry the rider: the maker's torque, and no more spacers than the fork allows."
        }
        _ => return None,
    })
}

/// The usual range of a line in one unit of its kind. Common practice with downhill bikes, from memory: wide,
/// because it is only to catch a slip of the pen or of the unit.
fn usual(item: Item) -> &'static [(SheetUnit, [f64; 2])] {
    match item {
        Item::At(End::Front, Part::Spring) => {
            &[(SheetUnit::Bar, [2.0, 14.0]), (SheetUnit::NewtonPerMillimetre, [3.0, 15.0])]
        }
        Item::At(End::Rear, Part::Spring) => {
            &[(SheetUnit::Bar, [4.0, 25.0]), (SheetUnit::NewtonPerMillimetre, [30.0, 150.0])]
        }
        Item::At(_, Part::VolumeSpacers) => &[(SheetUnit::Piece, [0.0, 12.0])],
        Item::At(_, Part::TyrePressure) => &[(SheetUnit::Bar, [0.8, 3.5])],
        Item::At(_, Part::Sag) => {
            &[(SheetUnit::Percent, [8.0, 45.0]), (SheetUnit::Millimetre, [10.0, 100.0])]
        }
        Item::At(..) => &[(SheetUnit::Click, [0.0, 40.0])],
        Item::BarHeight => &[(SheetUnit::Millimetre, [0.0, 1400.0])],
    }
}

/// What may be wrong with a line, in a sentence; it is kept as typed all the same.
pub fn doubt(item: Item, entry: &Entry) -> Option<String> {
    let Some(number) = entry.number() else {
        return Some("Not a number: kept as words, and compared as words.".to_owned());
    };
    let clicks = number.unit == SheetUnit::Click;
    if clicks && number.value < 0.0 {
        return Some("Clicks are counted from fully closed, so they begin at 0.".to_owned());
    }
    if clicks && number.value.fract() != 0.0 {
        return Some("Part of a click: adjusters rest on whole ones.".to_owned());
    }
    let (unit, range) = usual(item).iter().find(|(unit, _)| unit.is_like(number.unit))?;
    if lies_in(number, *unit, *range) {
        return None;
    }
    if clicks {
        return Some(format!("{number} from fully closed is a lot: were they counted from there?"));
    }
    let meant = item.units().iter().map(|&unit| Typed { unit, ..number }).find(|other| {
        other.unit != number.unit
            && usual(item)
                .iter()
                .any(|(unit, range)| unit.is_like(other.unit) && lies_in(*other, *unit, *range))
    });
    Some(match meant {
        Some(other) => format!("{number} is unusual here: is it {other}?"),
        None => format!("{number} is unusual here: is it right?"),
    })
}

fn lies_in(number: Typed, unit: SheetUnit, [low, high]: [f64; 2]) -> bool {
    (unit.to_si(low)..=unit.to_si(high)).contains(&number.to_si())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn doubted(item: Item, text: &str) -> Option<String> {
        let entry = Entry::read(text, item.units()[0], item.units()).unwrap();
        doubt(item, &entry).map(|words| words.replace('\u{a0}', " "))
    }

    #[test]
    fn a_slip_is_doubted_and_the_usual_is_not() {
        let [fork, shock] = [End::Front, End::Rear].map(|end| Item::At(end, Part::Spring));
        let tyre = Item::At(End::Front, Part::TyrePressure);
        let rebound = Item::At(End::Rear, Part::Rebound);
        for (item, text) in [
            (fork, "4"),
            (fork, "60 psi"),
            (shock, "60 N/mm"),
            (shock, "350 lbf/in"),
            (shock, "180 psi"),
            (tyre, "1.5"),
            (tyre, "22 psi"),
            (rebound, "0"),
            (rebound, "8"),
            (Item::At(End::Front, Part::Sag), "20"),
            (Item::At(End::Front, Part::Sag), "38 mm"),
            (Item::BarHeight, "41 in"),
        ] {
            assert_eq!(doubted(item, text), None, "{} {text}", item.name());
        }
        assert_eq!(doubted(fork, "60").unwrap(), "60 bar is unusual here: is it 60 psi?");
        assert_eq!(doubted(tyre, "22").unwrap(), "22 bar is unusual here: is it 22 psi?");
        assert_eq!(doubted(tyre, "9").unwrap(), "9 bar is unusual here: is it right?");
        assert!(doubted(rebound, "-2").unwrap().contains("from fully closed"));
        assert!(doubted(rebound, "60").unwrap().contains("counted from there"));
        assert!(doubted(rebound, "8.5").unwrap().contains("whole"));
        assert!(doubted(rebound, "open").unwrap().contains("kept as words"));
    }
}
