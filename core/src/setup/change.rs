//! What changed on the bike between two runs.

use std::fmt;

use super::{Entry, Item, Part, SetupSheet, Typed};

/// Numbers in two units that differ by less are the same number, as a share: 60 psi is 4.1 bar on any gauge
/// (common practice: gauges are read to about 1 %).
pub const SAME_SHARE: f64 = 0.01;

/// One difference between two sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The line; none for one that its owner named.
    pub item: Option<Item>,
    /// What it is called.
    pub name: String,
    /// How it stood, in words.
    pub before: Option<String>,
    /// How it stands now, in words.
    pub after: Option<String>,
    /// What that does, in words, where it can be said.
    pub meaning: Option<&'static str>,
    /// Whether it is an adjustment.
    pub kind: ChangeKind,
}

/// What a difference between two sheets amounts to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChangeKind {
    /// Something was adjusted.
    Adjusted,
    /// Sag that moved with the spring of its end: measured, no change of its own.
    Follows,
    /// Written for the first time, or no longer: nobody can tell whether it changed.
    Noted,
}

impl fmt::Display for Change {
    /// `front rebound 8 → 10 clicks from closed (faster: comes back out sooner)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.before, &self.after) {
            (Some(before), Some(after)) => write!(f, "{} {before} → {after}", self.name)?,
            (None, Some(after)) => write!(f, "{} {after}, not noted before", self.name)?,
            (Some(before), None) => write!(f, "{} no longer noted, was {before}", self.name)?,
            (None, None) => f.write_str(&self.name)?,
        }
        match self.meaning {
            Some(meaning) => write!(f, " ({meaning})"),
            None => Ok(()),
        }
    }
}

/// What changed from one run's sheet to another's, in the order of the sheet.
pub fn changes(before: &SetupSheet, after: &SetupSheet) -> Vec<Change> {
    let mut found: Vec<Change> =
        Item::all().filter_map(|item| of_item(item, before.get(item), after.get(item))).collect();
    let adjusted: Vec<Item> = found
        .iter()
        .filter(|change| change.kind == ChangeKind::Adjusted)
        .filter_map(|change| change.item)
        .collect();
    for change in &mut found {
        if let Some(Item::At(end, Part::Sag)) = change.item
            && [Part::Spring, Part::VolumeSpacers].iter().any(|&part| adjusted.contains(&Item::At(end, part)))
        {
            change.kind = ChangeKind::Follows;
        }
    }
    found.extend(of_lines(before, after));
    found
}

fn of_item(item: Item, before: Option<&Entry>, after: Option<&Entry>) -> Option<Change> {
    let larger = match (before, after) {
        (Some(Entry::Number(before)), Some(Entry::Number(after))) if before.unit.is_like(after.unit) => {
            if are_same(*before, *after) {
                return None;
            }
            Some(after.to_si() > before.to_si())
        }
        _ if before == after => return None,
        _ => None,
    };
    let (before_words, after_words) = in_words(before, after);
    let kind = if before.is_some() && after.is_some() { ChangeKind::Adjusted } else { ChangeKind::Noted };
    Some(Change {
        item: Some(item),
        name: item.name(),
        before: before_words,
        after: after_words,
        meaning: larger.map(|larger| item.meaning(larger)),
        kind,
    })
}

fn are_same(before: Typed, after: Typed) -> bool {
    if before.unit == after.unit {
        return before.value == after.value;
    }
    let [before, after] = [before, after].map(Typed::to_si);
    (after - before).abs() <= SAME_SHARE * before.abs()
}

/// The unit once, behind the second number, where both share it; clicks say from where they are counted.
fn in_words(before: Option<&Entry>, after: Option<&Entry>) -> (Option<String>, Option<String>) {
    let whole = |entry: &Entry| match entry.number() {
        Some(number) if number.unit == super::SheetUnit::Click => format!("{number} from closed"),
        _ => entry.to_string(),
    };
    let before_words = match (before, after) {
        (Some(Entry::Number(before)), Some(Entry::Number(after))) if before.unit == after.unit => {
            Some(before.value.to_string())
        }
        _ => before.map(whole),
    };
    (before_words, after.map(whole))
}

/// The owner's own lines, met again by name; of lines with one name the first meets the first.
fn of_lines(before: &SetupSheet, after: &SetupSheet) -> Vec<Change> {
    let mut unmet: Vec<_> = before.lines.iter().collect();
    let mut found = Vec::new();
    let words = |value: &str, unit: &str| format!("{} {}", value.trim(), unit.trim()).trim().to_owned();
    let change = |name: &str, before: Option<String>, after: Option<String>| {
        let kind = if before.is_some() && after.is_some() { ChangeKind::Adjusted } else { ChangeKind::Noted };
        Change { item: None, name: name.trim().to_owned(), before, after, meaning: None, kind }
    };
    for line in &after.lines {
        let now = words(&line.value, &line.unit);
        let same_name =
            |other: &&super::FreeLine| other.name.trim().to_lowercase() == line.name.trim().to_lowercase();
        let Some(known) = unmet.iter().position(same_name) else {
            found.push(change(&line.name, None, Some(now)));
            continue;
        };
        let known = unmet.remove(known);
        let then = words(&known.value, &known.unit);
        if then != now {
            found.push(change(&line.name, Some(then), Some(now)));
        }
    }
    found
        .extend(unmet.into_iter().map(|line| change(&line.name, Some(words(&line.value, &line.unit)), None)));
    // A line that is being made says nothing yet.
    found.retain(|change| !change.name.is_empty());
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::role::End;
    use crate::setup::FreeLine;

    fn sheet(lines: &[(Item, &str)]) -> SetupSheet {
        let mut sheet = SetupSheet::default();
        for (item, text) in lines {
            sheet.set(*item, Entry::read(text, sheet.unit(*item), item.units()));
        }
        sheet
    }

    fn told(before: &SetupSheet, after: &SetupSheet) -> Vec<String> {
        changes(before, after).iter().map(|change| change.to_string().replace('\u{a0}', " ")).collect()
    }

    const REBOUND: Item = Item::At(End::Front, Part::Rebound);
    const FORK: Item = Item::At(End::Front, Part::Spring);
    const SAG: Item = Item::At(End::Front, Part::Sag);

    #[test]
    fn a_change_says_what_it_does() {
        let told = |item, before, after| told(&sheet(&[(item, before)]), &sheet(&[(item, after)])).join(";");
        assert_eq!(
            told(REBOUND, "8", "10"),
            "front rebound 8 → 10 clicks from closed (faster: comes back out sooner)"
        );
        assert_eq!(
            told(REBOUND, "10", "8"),
            "front rebound 10 → 8 clicks from closed (slower: comes back out later)"
        );
        assert_eq!(told(FORK, "4.0", "4.2"), "front spring 4 → 4.2 bar (firmer)");
        assert_eq!(told(FORK, "4.2", "60 psi"), "front spring 4.2 bar → 60 psi (softer)");
        assert_eq!(told(FORK, "4.14", "60 psi"), "", "the same on any gauge");
        assert_eq!(told(FORK, "4", "7 N/mm"), "front spring 4 bar → 7 N/mm");
        assert_eq!(told(REBOUND, "8", "open"), "front rebound 8 clicks from closed → “open”");
        assert_eq!(told(REBOUND, "", "8"), "front rebound 8 clicks from closed, not noted before");
        assert_eq!(told(REBOUND, "8", ""), "front rebound no longer noted, was 8 clicks from closed");
        let tyre = Item::At(End::Rear, Part::TyrePressure);
        assert_eq!(told(tyre, "1.7", "1.6"), "rear tyre pressure 1.7 → 1.6 bar (softer tyre)");
        assert_eq!(
            told(Item::BarHeight, "1050", "1060"),
            "bar height 1050 → 1060 mm (bars higher, less weight on the front)"
        );
    }

    #[test]
    fn sag_follows_its_spring() {
        let before = sheet(&[(FORK, "4"), (SAG, "20")]);
        let kinds =
            |after: &SetupSheet| changes(&before, after).iter().map(|change| change.kind).collect::<Vec<_>>();
        assert_eq!(kinds(&sheet(&[(FORK, "4.4"), (SAG, "17")])), [ChangeKind::Adjusted, ChangeKind::Follows]);
        // Nothing else was written that could have moved it.
        assert_eq!(kinds(&sheet(&[(FORK, "4"), (SAG, "17")])), [ChangeKind::Adjusted]);
        assert_eq!(kinds(&sheet(&[(FORK, "4")])), [ChangeKind::Noted]);
    }

    #[test]
    fn lines_of_ones_own_are_met_by_name() {
        let with = |lines: &[[&str; 3]]| {
            let line = |words: &[&str; 3]| {
                let [name, value, unit] = words.map(str::to_owned);
                FreeLine { name, value, unit }
            };
            let mut sheet = SetupSheet::default();
            sheet.lines = lines.iter().map(line).collect();
            sheet
        };
        let before = with(&[["preload", "2", "turns"], ["pads", "old", ""]]);
        let after = with(&[["Preload ", "3", "turns"], ["grips", "thick", ""], ["", "7", ""]]);
        assert_eq!(
            told(&before, &after),
            ["Preload 2 turns → 3 turns", "grips thick, not noted before", "pads no longer noted, was old"]
        );
        assert!(told(&before, &before).is_empty());
    }
}
