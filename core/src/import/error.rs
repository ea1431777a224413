//! Why a file could not be read, where, and what to do about it.

use std::fmt;

/// A refusal that a person can act on. Displays as one line:
/// `file:line:column: problem; what to do`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportError {
    /// File name as given.
    pub file: String,
    /// Line in the file, from 1; 1 where the whole file is meant.
    pub line: usize,
    /// Cell within the line, from 1, where one cell is meant.
    pub column: Option<usize>,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

impl ImportError {
    /// A refusal at a line (1 for the whole file).
    pub(crate) fn at(file: &str, line: usize, problem: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line, column: None, problem: problem.into(), remedy: remedy.into() }
    }

    /// The same refusal, pointing at one cell (index from 0).
    pub(super) fn in_column(self, index: usize) -> Self {
        Self { column: Some(index + 1), ..self }
    }
}

impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let line = format!(
            "{}:{}:{}: {}; {}",
            self.file,
            self.line,
            self.column.unwrap_or(1),
            self.problem,
            self.remedy
        );
        // File names and quoted cells may hold line ends; the message stays on one line.
        line.chars().try_for_each(|c| fmt::Write::write_char(f, if c.is_control() { ' ' } else { c }))
    }
}

impl std::error::Error for ImportError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_one_line_whatever_the_file_is_called() {
        let error = ImportError::at("run\n1.csv", 7, "no time column", "name one").in_column(2);
        assert_eq!(error.to_string(), "run 1.csv:7:3: no time column; name one");
    }
}
