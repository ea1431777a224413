//! Which rows are shown, in which order, how tall: as their reader has arranged them.

use serde::{Deserialize, Serialize};

use super::Row;
use crate::complaints::Complaint;

/// Heights that a row steps through, beside 1 for an ordinary one.
const WEIGHTS: [f64; 7] = [0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0];

/// A set of rows to begin with.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RowSet {
    /// What belongs together in one row.
    #[default]
    Usual,
    /// Every logged channel in its own row.
    Apart,
    /// What can show what the rider said.
    For(Complaint),
}

/// A row's place in an arrangement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Arranged {
    key: String,
    shown: bool,
    weight: f64,
}

/// The set in view, and each set as its reader has arranged it; another set loses nothing of the first.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RowChoice {
    pub set: RowSet,
    #[serde(default)]
    arranged: Vec<(RowSet, Vec<Arranged>)>,
}

/// A row of the run in view, shown or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    pub row: Row,
    pub shown: bool,
    pub weight: f64,
}

impl RowChoice {
    /// The rows of a run as they stand in the set in view.
    pub fn place(&self, mut rows: Vec<Row>) -> Vec<Placed> {
        let order = self.order(&rows);
        order
            .into_iter()
            .filter_map(|Arranged { key, shown, weight }| {
                let row = rows.iter().position(|row| row.key == key)?;
                Some(Placed { row: rows.swap_remove(row), shown, weight })
            })
            .collect()
    }

    /// Shows or hides a row.
    pub fn show(&mut self, rows: &[Placed], key: &str, shown: bool) {
        self.change(rows, key, |row| row.shown = shown);
    }

    /// Makes a row taller or flatter by one step.
    pub fn grow(&mut self, rows: &[Placed], key: &str, taller: bool) {
        self.change(rows, key, |row| {
            let now = WEIGHTS.iter().position(|weight| *weight >= row.weight).unwrap_or(WEIGHTS.len() - 1);
            let next = if taller { now + 1 } else { now.saturating_sub(1) };
            row.weight = WEIGHTS[next.min(WEIGHTS.len() - 1)];
        });
    }

    /// Moves a row above or below its neighbour among the rows of the run.
    pub fn shift(&mut self, rows: &[Placed], key: &str, up: bool) {
        let Some(at) = rows.iter().position(|placed| placed.row.key == key) else { return };
        let to = if up { at.checked_sub(1) } else { Some(at + 1) };
        let Some(neighbour) = to.and_then(|to| rows.get(to)) else { return };
        let order = self.edited(rows);
        let place = |key: &str| order.iter().position(|row| row.key == key);
        if let (Some(from), Some(to)) = (place(key), place(&neighbour.row.key)) {
            order.swap(from, to);
        }
    }

    /// The set in view as it was before anything was arranged.
    pub fn reset(&mut self) {
        self.arranged.retain(|(set, _)| *set != self.set);
    }

    fn change(&mut self, rows: &[Placed], key: &str, change: impl FnOnce(&mut Arranged)) {
        if let Some(row) = self.edited(rows).iter_mut().find(|row| row.key == key) {
            change(row);
        }
    }

    /// The order of the set in view to be changed; rows that other runs have keep their place in it.
    fn edited(&mut self, rows: &[Placed]) -> &mut Vec<Arranged> {
        let order = self.order(&rows.iter().map(|placed| placed.row.clone()).collect::<Vec<_>>());
        self.arranged.retain(|(set, _)| *set != self.set);
        self.arranged.push((self.set, order));
        let last = self.arranged.len() - 1;
        &mut self.arranged[last].1
    }

    /// What was arranged, then the rows that were not there yet as their set has them.
    fn order(&self, rows: &[Row]) -> Vec<Arranged> {
        let kept = self.arranged.iter().find(|(set, _)| *set == self.set);
        let mut order = kept.map(|(_, order)| order.clone()).unwrap_or_default();
        let wanted: &[&str] = if let RowSet::For(complaint) = self.set { complaint.rows() } else { &[] };
        let new = |row: &Row| Arranged {
            key: row.key.to_string(),
            shown: match self.set {
                RowSet::Usual => row.usual,
                RowSet::Apart => true,
                RowSet::For(_) => wanted.contains(&row.key.as_ref()),
            },
            weight: 1.0,
        };
        let mut first: Vec<&Row> = rows.iter().collect();
        // The rows that are wanted come first, as the reason for them reads.
        first.sort_by_key(|row| wanted.iter().position(|key| *key == row.key).unwrap_or(wanted.len()));
        for row in first {
            if order.iter().all(|known| known.key != row.key) {
                order.push(new(row));
            }
        }
        order
    }
}

#[cfg(test)]
mod tests {
    use evenkeel_core::End;
    use evenkeel_core::ride::Trace;

    use super::super::joined_rows;
    use super::*;

    fn all() -> Vec<Row> {
        joined_rows(|_| true)
    }

    fn shown(choice: &RowChoice, rows: Vec<Row>) -> Vec<String> {
        let placed = choice.place(rows);
        placed.into_iter().filter(|placed| placed.shown).map(|placed| placed.row.key.to_string()).collect()
    }

    #[test]
    fn rows_hide_move_and_grow_and_go_back_to_what_is_usual() {
        let mut choice = RowChoice::default();
        let usual = shown(&choice, all());
        let now = |choice: &RowChoice| choice.place(all());
        choice.show(&now(&choice), "pitch", false);
        choice.shift(&now(&choice), "axle_speed", true);
        choice.shift(&now(&choice), "axle_speed", true);
        choice.grow(&now(&choice), "travel", true);
        assert_eq!(shown(&choice, all())[..3], ["axle_speed", "travel", "lean"]);
        assert_eq!(now(&choice)[1].weight, 1.5);
        for _ in 0..20 {
            choice.grow(&now(&choice), "travel", false);
        }
        assert_eq!(now(&choice)[1].weight, 0.5);
        choice.reset();
        assert_eq!(shown(&choice, all()), usual);
    }

    #[test]
    fn an_arrangement_survives_a_run_without_its_rows_and_another_set() {
        let mut choice = RowChoice::default();
        choice.shift(&choice.place(all()), "speed", true);
        let arranged = shown(&choice, all());
        // A run with nothing but travel in between, in which that row is hidden and shown again.
        let short = || joined_rows(|trace| trace == Trace::travel(End::Front));
        choice.show(&choice.place(short()), "travel", false);
        assert!(shown(&choice, short()).is_empty());
        choice.show(&choice.place(short()), "travel", true);
        choice.set = RowSet::Apart;
        choice.show(&choice.place(all()), "pitch", false);
        choice.set = RowSet::Usual;
        assert_eq!(shown(&choice, all()), arranged);
        let kept: RowChoice = serde_json::from_str(&serde_json::to_string(&choice).unwrap()).unwrap();
        assert_eq!(kept, choice);
    }

    #[test]
    fn what_matters_for_a_complaint_comes_first() {
        for complaint in Complaint::ALL {
            let choice = RowChoice { set: RowSet::For(complaint), ..RowChoice::default() };
            assert_eq!(shown(&choice, all()), complaint.rows(), "{complaint:?}");
        }
    }
}
