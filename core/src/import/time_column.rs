//! Which column holds the time, and in which unit.

use super::cell::{self, Cell};
use super::steps::median_step;
use super::{TimeBase, clock, header};
use crate::unit::{Quantity, Unit};

/// Unix time, s, between 1998 and 2128: what a number must be to be taken for it.
pub(super) const UNIX_S: std::ops::Range<f64> = 0.9e9..5e9;

/// The values of one column in the head of a file.
pub(super) struct Samples {
    values: Vec<f64>,
    clocks: usize,
    texts: usize,
}

impl Samples {
    pub(super) fn new<'c>(cells: impl Iterator<Item = &'c str>, decimal: u8) -> Self {
        let mut samples = Self { values: Vec::new(), clocks: 0, texts: 0 };
        for text in cells {
            if let Some(clock) = clock::read(text.as_bytes()) {
                samples.clocks += 1;
                samples.values.push(clock.seconds());
                continue;
            }
            match cell::read(text.as_bytes(), decimal) {
                Cell::Number(value) => samples.values.push(value),
                Cell::Missing => {}
                Cell::Text => samples.texts += 1,
            }
        }
        samples
    }

    fn is_clock(&self) -> bool {
        self.clocks * 2 > self.values.len()
    }

    /// Share of steps that go forward; `None` for values that run back too often to be a time.
    fn advancing(&self) -> Option<f64> {
        let steps = self.values.len().checked_sub(1)?;
        if self.texts * 2 > self.values.len() {
            return None;
        }
        let count = |is: fn(f64) -> bool| self.values.windows(2).filter(|pair| is(pair[1] - pair[0])).count();
        let (forward, back) = (count(|step| step > 0.0), count(|step| step < 0.0));
        match steps {
            0 => Some(1.0),
            _ if forward == 0 || back * 3 > steps => None,
            _ => Some(forward as f64 / steps as f64),
        }
    }

    fn counts_by_one(&self) -> bool {
        let ones = self.values.windows(2).filter(|pair| pair[1] - pair[0] == 1.0).count();
        self.are_whole() && ones * 10 >= (self.values.len().max(1) - 1) * 9
    }

    fn are_whole(&self) -> bool {
        self.values.iter().all(|value| value.fract() == 0.0)
    }
}

/// The best time column, with what had to be guessed. `before` are the lines above the numbers,
/// where a sample rate may stand.
pub(super) fn find<'l>(
    headers: &[String],
    units: &[String],
    samples: &[Samples],
    before: impl Iterator<Item = &'l str>,
) -> (TimeBase, Vec<String>) {
    let mut best: Option<(f64, usize)> = None;
    for (column, samples) in samples.iter().enumerate() {
        let unnamed = headers[column] == format!("column {}", column + 1);
        let named = header::is_time(&headers[column]);
        let in_time = Unit::parse(&units[column]).is_some_and(|unit| unit.quantity() == Quantity::Time);
        let Some(advancing) = samples.advancing() else { continue };
        let rank = match (named, in_time, samples.is_clock()) {
            (true, ..) => 3.0,
            (_, true, _) | (.., true) => 2.0,
            _ if unnamed
                && column == 0
                && advancing == 1.0
                && samples.values.len() > 2
                && !samples.counts_by_one() =>
            {
                1.0
            }
            _ => continue,
        };
        if best.is_none_or(|(score, _)| rank + advancing > score) {
            best = Some((rank + advancing, column));
        }
    }
    let Some((_, column)) = best else { return (without_column(headers, before), Vec::new()) };
    let samples = &samples[column];
    if samples.is_clock() {
        return (TimeBase::Clock { column }, Vec::new());
    }
    let text = units[column].trim();
    let named = Unit::parse_as(text, Quantity::Time).filter(|unit| unit.quantity() == Quantity::Time);
    let header = &headers[column];
    match (named, unix_unit(samples)) {
        (Some(unit), Some(unix)) if unit != unix && !is_unix(samples, unit) && is_too_long(samples, unit) => {
            let doubt =
                format!("time column \"{header}\" says {unit}, but its values are Unix time in {unix}");
            (TimeBase::Number { column, unit: unix }, vec![doubt])
        }
        (Some(unit), _) => (TimeBase::Number { column, unit }, Vec::new()),
        (None, Some(unit)) => (TimeBase::Number { column, unit }, Vec::new()),
        (None, None) => {
            let unit = likely_unit(samples);
            let doubt = format!("time column \"{header}\" names no unit; {unit} is guessed from its steps");
            (TimeBase::Number { column, unit }, vec![doubt])
        }
    }
}

fn is_unix(samples: &Samples, unit: Unit) -> bool {
    let last = samples.values.last().is_some_and(|&value| UNIX_S.contains(&unit.to_si(value)));
    last && median_step(samples.values.iter().copied()).is_none_or(|step| unit.to_si(step) <= 10.0)
}

fn is_too_long(samples: &Samples, unit: Unit) -> bool {
    samples.values.last().is_some_and(|&value| unit.to_si(value) >= UNIX_S.end)
}

/// The unit in which the values are Unix time, told by their size.
fn unix_unit(samples: &Samples) -> Option<Unit> {
    [Unit::Second, Unit::Millisecond, Unit::Microsecond, Unit::Nanosecond]
        .into_iter()
        .find(|&unit| is_unix(samples, unit))
}

/// The unit that makes the usual step one of a logger: 0.5 Hz to about 20 kHz.
fn likely_unit(samples: &Samples) -> Unit {
    let step = median_step(samples.values.iter().copied()).unwrap_or(1.0);
    match step {
        _ if step <= 2.0 && !samples.are_whole() => Unit::Second,
        _ if step < 900.0 => Unit::Millisecond,
        _ if step < 4e5 => Unit::Microsecond,
        _ => Unit::Nanosecond,
    }
}

fn without_column<'l>(headers: &[String], mut before: impl Iterator<Item = &'l str>) -> TimeBase {
    let Some(rate_hz) = before.find_map(stated_rate) else { return TimeBase::Unknown };
    match headers.iter().position(|header| header::is_index(header)) {
        Some(column) => TimeBase::Index { column, rate_hz },
        None => TimeBase::Rate { rate_hz },
    }
}

/// The rate in a line such as `Sample rate: 500 Hz` or `Abtastrate [kHz];1`, Hz.
fn stated_rate(line: &str) -> Option<f64> {
    const SAYS: &[&str] =
        &["sampl", "rate", "abtast", "chantillonnage", "muestreo", "campionamento", "logging"];
    const SAYS_NOT: &[&str] = &["filter", "pass", "cutoff", "cut-off", "baud"];
    let line = line.to_lowercase();
    let says = |words: &[&str]| words.iter().any(|word| line.contains(word));
    if !says(SAYS) || says(SAYS_NOT) || !line.contains("hz") {
        return None;
    }
    let (before, after) = line.split_once("hz")?;
    let (before, scale) = before.strip_suffix('k').map_or((before, 1.0), |before| (before, 1e3));
    let is_digit = |c: char| c.is_ascii_digit() || c == '.';
    // The number stands before its unit, or the unit stands in brackets before the number.
    let number = match before.trim_end().rsplit(|c| !is_digit(c)).next() {
        Some(number) if !number.is_empty() => number,
        _ => after.split(|c| !is_digit(c)).find(|number| !number.is_empty())?,
    };
    number.parse().ok().map(|rate: f64| rate * scale).filter(|rate| (0.1..=1e6).contains(rate))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(header: &str, unit: &str, cells: &[&str]) -> TimeBase {
        let samples = [Samples::new(cells.iter().copied(), b'.')];
        find(&[header.to_owned()], &[unit.to_owned()], &samples, std::iter::empty()).0
    }

    #[test]
    fn the_unit_by_name_by_size_or_by_step() {
        let number = |unit| TimeBase::Number { column: 0, unit };
        for (header, unit, cells, expected) in [
            ("Time", "s", ["0", "0.01", "0.02"], number(Unit::Second)),
            ("Time", "", ["0.00", "0.01", "0.02"], number(Unit::Second)),
            ("t", "", ["0", "10", "20"], number(Unit::Millisecond)),
            ("t", "", ["0", "1000", "2004"], number(Unit::Microsecond)),
            ("t", "", ["0", "1000000", "2000000"], number(Unit::Nanosecond)),
            ("t", "", ["1780000000.1", "1780000000.2", "1780000000.3"], number(Unit::Second)),
            ("t", "", ["1780000000100", "1780000000110", "1780000000120"], number(Unit::Millisecond)),
            ("t", "us", ["1780000000", "1780001000", "1780002000"], number(Unit::Microsecond)),
            ("Time", "s", ["1780000000100", "1780000000110", "1780000000120"], number(Unit::Millisecond)),
            ("Uhrzeit", "", ["14:00:00.1", "14:00:00.2", "14:00:00.3"], TimeBase::Clock { column: 0 }),
            ("column 1", "", ["0.5", "0.6", "0.7"], number(Unit::Second)),
            ("column 1", "", ["1", "2", "3"], TimeBase::Unknown),
            ("sample", "", ["1", "2", "3"], TimeBase::Unknown),
            ("time", "s", ["3", "2", "1"], TimeBase::Unknown),
        ] {
            assert_eq!(found(header, unit, &cells), expected, "{header} [{unit}] {cells:?}");
        }
    }

    #[test]
    fn a_rate_stated_above_the_numbers() {
        assert_eq!(stated_rate("# Sample rate: 500 Hz"), Some(500.0));
        assert_eq!(stated_rate("500 Hz sample rate, 16 bit"), Some(500.0));
        assert_eq!(stated_rate("Abtastrate [kHz];1"), Some(1000.0));
        assert_eq!(stated_rate("low-pass filter 20 Hz"), None);
        assert_eq!(stated_rate("gyro rate 2000 dps"), None);
    }
}
