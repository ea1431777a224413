//! One run's set-up sheet.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{Entry, Item, Part, SheetUnit};
use crate::role::End;

/// The written state of the bike for one run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(remote = "Self", default)]
pub struct SetupSheet {
    /// What was changed before the run, in its owner's words.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub words: String,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    front: BTreeMap<Part, Entry>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    rear: BTreeMap<Part, Entry>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bar_height: Option<Entry>,
    /// Whatever else its owner notes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<FreeLine>,
}

/// A line of the sheet that its owner named.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct FreeLine {
    /// What it is.
    pub name: String,
    /// How it is set.
    pub value: String,
    /// Unit of that; may be empty.
    pub unit: String,
}

impl Serialize for SetupSheet {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, serializer)
    }
}

impl<'de> Deserialize<'de> for SetupSheet {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        /// Days of the first version had words alone.
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Written {
            Words(String),
            #[serde(with = "SetupSheet")]
            Sheet(SetupSheet),
        }
        if !deserializer.is_human_readable() {
            return Self::deserialize(deserializer);
        }
        Ok(match Written::deserialize(deserializer)? {
            Written::Words(words) => Self { words, ..Self::default() },
            Written::Sheet(sheet) => sheet,
        })
    }
}

impl SetupSheet {
    /// What stands at a line, if something does.
    pub fn get(&self, item: Item) -> Option<&Entry> {
        match item {
            Item::At(End::Front, part) => self.front.get(&part),
            Item::At(End::Rear, part) => self.rear.get(&part),
            Item::BarHeight => self.bar_height.as_ref(),
        }
    }

    /// Writes a line, or clears it.
    pub fn set(&mut self, item: Item, entry: Option<Entry>) {
        let (end, part) = match item {
            Item::At(End::Front, part) => (&mut self.front, part),
            Item::At(End::Rear, part) => (&mut self.rear, part),
            Item::BarHeight => return self.bar_height = entry,
        };
        match entry {
            Some(entry) => drop(end.insert(part, entry)),
            None => drop(end.remove(&part)),
        }
    }

    /// The unit of a line: the one it was typed in; else the other end's, where that is free to choose; else the
    /// usual one.
    pub fn unit(&self, item: Item) -> SheetUnit {
        let typed = |item| self.get(item).and_then(Entry::number).map(|number: super::Typed| number.unit);
        let other = match item {
            Item::At(End::Front, part) if part != Part::Spring => typed(Item::At(End::Rear, part)),
            Item::At(End::Rear, part) if part != Part::Spring => typed(Item::At(End::Front, part)),
            _ => None,
        };
        typed(item).or(other).or_else(|| item.units().first().copied()).unwrap_or(SheetUnit::Piece)
    }

    /// Whether nothing is known of the bike; words about a change do not say how it stands.
    pub fn is_blank(&self) -> bool {
        self.front.is_empty() && self.rear.is_empty() && self.bar_height.is_none() && self.lines.is_empty()
    }

    /// Everything in one line: `front: spring 4 bar, rebound 8; rear: spring 60 N/mm, rebound 3`. Clicks are bare.
    pub fn in_brief(&self) -> String {
        let ends = [("front", &self.front), ("rear", &self.rear)].map(|(name, end)| {
            let brief = |(part, entry): (&Part, &Entry)| match entry.number() {
                Some(number) if matches!(number.unit, SheetUnit::Click | SheetUnit::Piece) => {
                    format!("{} {}", part.name(), number.value)
                }
                _ => format!("{} {entry}", part.name()),
            };
            let lines: Vec<String> = end.iter().map(brief).collect();
            if lines.is_empty() { String::new() } else { format!("{name}: {}", lines.join(", ")) }
        });
        let bars = self.bar_height.as_ref().map(|height| format!("bars {height}"));
        let own = self.lines.iter().map(|line| {
            let words = [&line.name, &line.value, &line.unit].map(|words| words.trim());
            words.into_iter().filter(|words| !words.is_empty()).collect::<Vec<_>>().join(" ")
        });
        let all: Vec<String> =
            ends.into_iter().chain(bars).chain(own).filter(|words| !words.is_empty()).collect();
        all.join("; ")
    }

    /// The same bike, with other words about what was changed.
    pub fn with_words(&self, words: impl Into<String>) -> Self {
        Self { words: words.into(), ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_with_words_only_still_reads() {
        let sheet: SetupSheet = serde_json::from_str(r#""rear rebound 5 clicks faster""#).unwrap();
        assert_eq!(sheet.words, "rear rebound 5 clicks faster");
        assert!(sheet.is_blank());
        let again: SetupSheet = serde_json::from_str(&serde_json::to_string(&sheet).unwrap()).unwrap();
        assert_eq!(again, sheet);
        assert_eq!(serde_json::from_str::<SetupSheet>("{}").unwrap(), SetupSheet::default());
    }

    #[test]
    fn every_line_keeps_what_was_written() {
        let mut sheet = SetupSheet { words: "as it came".to_owned(), ..SetupSheet::default() };
        for (value, item) in Item::all().enumerate() {
            assert_eq!(sheet.get(item), None);
            sheet.set(item, Entry::read(&value.to_string(), sheet.unit(item), item.units()));
        }
        sheet.lines.push(FreeLine { name: "preload".into(), value: "2".into(), unit: "turns".into() });
        for (value, item) in Item::all().enumerate() {
            assert_eq!(sheet.get(item).map(Entry::typed), Some(value.to_string()), "{}", item.name());
        }
        let text = serde_json::to_string(&sheet).unwrap();
        assert!(text.contains(r#""front":{"spring":{"value":0.0,"unit":"bar"}"#), "{text}");
        assert_eq!(serde_json::from_str::<SetupSheet>(&text).unwrap(), sheet);
        assert_eq!(sheet.with_words("").words, "");
        Item::all().for_each(|item| sheet.set(item, None));
        sheet.lines.clear();
        assert!(sheet.is_blank());
    }

    #[test]
    fn a_sheet_in_one_line() {
        let mut sheet = SetupSheet::default();
        assert_eq!(sheet.in_brief(), "");
        for (item, text) in [
            (Item::At(End::Front, Part::Spring), "4 bar"),
            (Item::At(End::Front, Part::Rebound), "8"),
            (Item::At(End::Rear, Part::Rebound), "open"),
            (Item::BarHeight, "1050"),
        ] {
            sheet.set(item, Entry::read(text, sheet.unit(item), item.units()));
        }
        sheet.lines.push(FreeLine { name: "preload".into(), value: "2 ".into(), unit: String::new() });
        assert_eq!(
            sheet.in_brief().replace('\u{a0}', " "),
            "front: spring 4 bar, rebound 8; rear: rebound “open”; bars 1050 mm; preload 2"
        );
    }

    #[test]
    fn the_other_end_lends_its_unit() {
        let mut sheet = SetupSheet::default();
        let [front, rear] = [End::Front, End::Rear].map(|end| Item::At(end, Part::TyrePressure));
        assert_eq!(sheet.unit(rear), SheetUnit::Bar);
        sheet.set(front, Entry::read("22 psi", SheetUnit::Bar, front.units()));
        assert_eq!(sheet.unit(rear), SheetUnit::Psi);
        // A coil behind says nothing about the air in front.
        let [fork, shock] = [End::Front, End::Rear].map(|end| Item::At(end, Part::Spring));
        sheet.set(shock, Entry::read("60", SheetUnit::NewtonPerMillimetre, shock.units()));
        assert_eq!(sheet.unit(fork), SheetUnit::Bar);
    }
}
