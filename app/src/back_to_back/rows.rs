//! The traces that can be laid over each other.

use evenkeel_core::Unit;
use evenkeel_core::ride::Trace;

use crate::ride::catalogue;

/// One trace of two runs.
#[derive(Clone, Debug, PartialEq)]
pub struct OverlaidRow {
    pub key: String,
    /// `Axle travel, front`
    pub title: String,
    pub trace: Trace,
    pub unit: Unit,
}

/// Every trace that Ride joins into rows, each by itself.
pub fn overlaid() -> Vec<OverlaidRow> {
    let mut rows: Vec<OverlaidRow> = Vec::new();
    for row in catalogue() {
        for line in &row.lines {
            if rows.iter().any(|known| known.trace == line.trace) {
                continue;
            }
            let alone = row.lines.len() == 1 || line.name.is_empty();
            let title = if alone { row.title.to_string() } else { format!("{}, {}", row.title, line.name) };
            let title = if row.sign.is_empty() { title } else { format!("{title} ({})", row.sign) };
            let key = format!("{} {}", row.key, line.name).trim_end().to_owned();
            rows.push(OverlaidRow { key, title, trace: line.trace, unit: row.unit });
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_has_a_key_of_its_own() {
        let rows = overlaid();
        for (k, row) in rows.iter().enumerate() {
            assert!(rows[..k].iter().all(|other| other.key != row.key), "{}", row.key);
        }
        assert_eq!(rows[0].key, "travel front");
        assert_eq!(rows[1].title, "Axle travel, rear");
    }
}
