//! The day's tables as text for a spreadsheet.

use serde_json::{Map, Value};

use super::csv::{Cell, csv};
use crate::day::Day;
use crate::readout::RunReadout;
use crate::setup::Descent;

impl Day {
    /// A row for each run that was ridden: when, what the rider said, how the bike was set up, its files.
    pub fn runs_as_csv(&self) -> String {
        let rows = self.runs.iter().enumerate().map(|(index, run)| {
            let logs: Vec<&str> = run.logs.iter().map(|log| log.file.as_str()).collect();
            vec![
                Cell::from((index + 1) as f64),
                self.run_name(Descent::Ridden(index)).as_str().into(),
                run.time_of_day.as_str().into(),
                run.words.as_str().into(),
                run.setup.words.as_str().into(),
                run.setup.in_brief().as_str().into(),
                logs.join("; ").as_str().into(),
            ]
        });
        let heading = ["number", "run", "ridden at", "rider said", "changed before", "set-up", "files"];
        csv(&heading, &rows.collect::<Vec<_>>())
    }
}

/// Every number of some read-outs, a row each, under the names of their runs: run, section, the number's key in the
/// read-out (its SI unit at the end), value, 95 % interval, count, and why it is not measured where it is not.
pub fn numbers_as_csv<'a>(runs: impl IntoIterator<Item = (&'a str, &'a RunReadout)>) -> String {
    let mut rows = Vec::new();
    for (run, readout) in runs {
        for section in &readout.sections {
            // A read-out is plain data: it always has a JSON form.
            if let Ok(Value::Object(fields)) = serde_json::to_value(section) {
                numbers(&mut rows, [run, &section.name], "", &fields);
            }
        }
    }
    csv(&["run", "section", "number", "value", "from", "to", "n", "not measured because"], &rows)
}

fn numbers(rows: &mut Vec<Vec<Cell>>, place: [&str; 2], above: &str, fields: &Map<String, Value>) {
    for (field, value) in fields {
        let key = if above.is_empty() { field.clone() } else { format!("{above}.{field}") };
        let row = |evidence: [Cell; 5]| {
            [place[0], place[1], &key].into_iter().map(Cell::from).chain(evidence).collect::<Vec<_>>()
        };
        match value {
            Value::Number(number) => {
                rows.push(row([number.as_f64().into(), Cell::Blank, Cell::Blank, Cell::Blank, Cell::Blank]));
            }
            Value::Object(inner) => match inner.get("value") {
                None => numbers(rows, place, &key, inner),
                // A list has a table of its own on the screen.
                Some(Value::Array(_) | Value::Object(_)) => {}
                Some(measured) => {
                    let end = |end: usize| inner.get("interval").and_then(|ends| ends.get(end)?.as_f64());
                    rows.push(row([
                        measured.as_f64().into(),
                        end(0).into(),
                        end(1).into(),
                        inner.get("n").and_then(Value::as_f64).into(),
                        inner.get("reason").and_then(Value::as_str).into(),
                    ]));
                }
            },
            _ => {}
        }
    }
}
