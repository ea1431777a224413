//! From columns as read to sources: time made of the stamps, parts cut, warnings worded.

use std::ops::Range;

use super::clock::Clock;
use super::rows::{Rows, Sink};
use super::stamps::{self, NoTime, Part, Start, Tally};
use super::steps::rhythm;
use super::time_column::UNIX_S;
use super::{ImportError, TimeBase};
use crate::source::{Column, Report, Source};
use crate::unit::Unit;

/// More columns with unreadable cells than this are summed up.
const MAX_BAD_COLUMNS: usize = 12;
/// A clock that starts beyond this, s, but is no Unix time, is set back to 0.
const LARGE_S: f64 = 1e8;
/// No stamp of any clock is as large, s.
const NO_TIME_S: f64 = 1e13;

/// One source per part.
pub(super) fn sources(mut rows: Rows) -> Result<Vec<Source>, ImportError> {
    if rows.stamps.is_empty() {
        let remedy = "check that the logger recorded and that the copy is complete";
        return Err(ImportError::at(
            &rows.name,
            rows.layout.skip_lines + 1,
            "there are no rows of numbers",
            remedy,
        ));
    }
    let periods = periods(&rows);
    stamps_to_seconds(&mut rows)?;
    let parts = stamps::clean(&rows.stamps, &periods).map_err(|why| no_time(&rows, &why))?;
    let rows_read = std::mem::take(&mut rows.stamps).len();
    let file_warnings = file_warnings(&rows);
    let (several, last) = (parts.len() > 1, parts.len() - 1);
    let mut sources = Vec::with_capacity(parts.len());
    for (index, mut part) in parts.into_iter().enumerate() {
        let Some(rhythm) = rhythm(&part.time_s) else { continue };
        let mut report = Report {
            rows: part.time_s.len(),
            rate_hz: rhythm.rate_hz,
            jitter_s: rhythm.jitter_s,
            gaps: rhythm.gaps,
            dropped: part.doubles.count + part.wild.count + part.unreadable.count,
            warnings: Vec::new(),
        };
        if index == 0 {
            report.warnings.clone_from(&file_warnings);
            report.dropped += rows.text_rows.count;
        }
        if index == last {
            report.dropped += rows.cut_rows;
        }
        report.warnings.extend(part_warnings(&part, &rows));
        let epoch_unix_s = start_at_zero(&mut part, &rows, &mut report.warnings);
        let columns = rows.layout.data_columns().map(|column| Column {
            header: rows.layout.headers[column].clone(),
            unit_text: rows.layout.units.get(column).cloned().unwrap_or_default(),
            origin: rows.sinks[column].origin,
            values: gather(&mut rows.sinks[column], &part.runs, rows_read),
        });
        let columns = columns.collect();
        sources.push(Source {
            name: if several { format!("{} (part {})", rows.name, index + 1) } else { rows.name.clone() },
            time_s: part.time_s,
            epoch_unix_s,
            columns,
            layout: rows.layout.clone(),
            report,
        });
    }
    Ok(sources)
}

/// Turns the stamps into s, not yet cleaned.
fn stamps_to_seconds(rows: &mut Rows) -> Result<(), ImportError> {
    let seconds: &dyn Fn(usize, f64) -> f64 = match rows.layout.time {
        TimeBase::Number { unit, .. } => &move |_, stamp| unit.to_si(stamp),
        TimeBase::Clock { .. } => &|_, stamp| stamp,
        TimeBase::Index { rate_hz, .. } => &move |_, stamp| stamp / rate_hz,
        TimeBase::Rate { rate_hz } => &move |row, _| row as f64 / rate_hz,
        TimeBase::Unknown => {
            return Err(ImportError::at(
                &rows.name,
                1,
                "the file has no time column and names no sample rate",
                "type the rate in Hz, or say which column is the time",
            ));
        }
    };
    let sane = |t: f64| if t.abs() < NO_TIME_S { t } else { f64::NAN };
    let stamps = rows.stamps.iter_mut().enumerate();
    stamps.for_each(|(row, stamp)| *stamp = sane(seconds(row, *stamp)));
    Ok(())
}

/// After which times, s, this kind of clock may start over.
fn periods(rows: &Rows) -> Vec<f64> {
    const COUNTER_16: f64 = 65_536.0;
    const COUNTER_32: f64 = 4_294_967_296.0;
    let mut periods = match (rows.layout.time, rows.last_clock) {
        (TimeBase::Clock { .. }, Some(Clock::Date { .. })) => vec![],
        (TimeBase::Clock { .. }, _) if rows.has_hours => vec![86_400.0],
        (TimeBase::Clock { .. }, _) => vec![3600.0],
        (TimeBase::Index { rate_hz, .. }, _) => vec![COUNTER_16 / rate_hz, COUNTER_32 / rate_hz],
        (TimeBase::Number { unit, .. }, _) => {
            // A 32-bit counter of microseconds is often written in ms or s.
            let mut periods = vec![COUNTER_32 * Unit::Microsecond.to_si(1.0)];
            let whole = rows.stamps.iter().all(|stamp| stamp.is_nan() || stamp.fract() == 0.0);
            if whole && unit != Unit::Second && unit != Unit::Minute {
                periods.extend([COUNTER_16 * unit.to_si(1.0), COUNTER_32 * unit.to_si(1.0)]);
            }
            periods
        }
        _ => vec![],
    };
    periods.sort_by(f64::total_cmp);
    periods.dedup();
    periods
}

fn no_time(rows: &Rows, why: &NoTime) -> ImportError {
    let column = rows.layout.time.column().unwrap_or(0);
    let header = &rows.layout.headers[column];
    let (problem, remedy) = match why {
        NoTime::Still if rows.stamps.len() < 2 => (
            "there are fewer than two rows".to_owned(),
            "check that the logger recorded and that the copy is complete",
        ),
        NoTime::Still => (
            format!("the time in column \"{header}\" does not advance or cannot be read"),
            "choose another time column, or type the sample rate in Hz",
        ),
        NoTime::Backward => (
            format!("the time in column \"{header}\" runs backward"),
            "sort the rows by time, or choose another time column",
        ),
        NoTime::Jumpy => (
            format!("the values of column \"{header}\" jump about too much to be a time"),
            "choose another time column, or type the sample rate in Hz",
        ),
    };
    ImportError::at(&rows.name, rows.line_of_row.get(0), problem, remedy).in_column(column)
}

/// Moves absolute times to start at 0; gives the Unix time of that 0 where it is known.
fn start_at_zero(part: &mut Part, rows: &Rows, warnings: &mut Vec<String>) -> Option<f64> {
    let start = *part.time_s.first()?;
    let is_date = matches!(rows.last_clock, Some(Clock::Date { .. }));
    let is_unix = is_date || matches!(rows.layout.time, TimeBase::Number { .. }) && UNIX_S.contains(&start);
    if !is_unix && start.abs() < LARGE_S {
        return None;
    }
    part.time_s.iter_mut().for_each(|t| *t -= start);
    if !is_unix {
        warnings.push(format!("the time starts at {start} s, which is no date; it is counted from 0 here"));
    }
    is_unix.then_some(start)
}

fn gather(sink: &mut Sink, runs: &[Range<usize>], rows: usize) -> Vec<f32> {
    if let [run] = runs
        && *run == (0..rows)
    {
        let mut values = std::mem::take(&mut sink.values);
        values.shrink_to_fit();
        return values;
    }
    let mut values = Vec::with_capacity(runs.iter().map(Range::len).sum());
    runs.iter().for_each(|run| values.extend_from_slice(&sink.values[run.clone()]));
    values
}

fn counted(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

fn part_warnings(part: &Part, rows: &Rows) -> Vec<String> {
    let line = |row: usize| rows.line_of_row.get(row);
    let mut warnings = Vec::new();
    match part.start {
        Start::First => {}
        Start::Back(row, s) => warnings.push(format!(
            "line {}: the time goes back by {s:.3} s and stays: the logger restarted; a new part begins here",
            line(row)
        )),
        Start::Ahead(row, s) => warnings.push(format!(
            "line {}: the time leaps ahead by {s:.0} s: the clock was set or the logger slept; a new part begins here",
            line(row)
        )),
    }
    let mut dropped = |tally: Tally, why: &str| {
        if tally.count > 0 {
            let rows = counted(tally.count, "row is", "rows are");
            warnings.push(format!("line {}: {rows} dropped: {why}", line(tally.first)));
        }
    };
    dropped(part.doubles, "the time stamp is that of the row before");
    dropped(part.wild, "the time stamp is wild, its neighbours go on");
    dropped(part.unreadable, "the time stamp is missing or unreadable");
    if part.doubles.count > part.time_s.len() / 2 {
        warnings.push(
            "the clock is coarser than the rate of the rows; type the rate instead to keep them all".into(),
        );
    }
    if let Some(&(row, period)) = part.rollovers.first() {
        let what = match (period, rows.layout.time) {
            (86_400.0, TimeBase::Clock { .. }) => "the clock passes midnight".to_owned(),
            (3600.0, TimeBase::Clock { .. }) => "the clock passes the full hour".to_owned(),
            _ => format!("the time counter rolls over after {period} s"),
        };
        let times =
            if part.rollovers.len() > 1 { format!(" {} times", part.rollovers.len()) } else { String::new() };
        warnings.push(format!("line {}: {what}{times}; unwrapped", line(row)));
    }
    warnings
}

fn file_warnings(rows: &Rows) -> Vec<String> {
    let mut warnings = rows.layout.doubts.clone();
    let mut tell = |tally: Tally, what: &str| {
        if tally.count > 0 {
            warnings.push(format!("line {}: {} {what}", tally.first, counted(tally.count, "row", "rows")));
        }
    };
    tell(rows.text_rows, "without any number, dropped");
    tell(rows.short_rows, "with fewer cells than columns; the rest is missing");
    tell(rows.long_rows, "with more cells than columns; the rest is ignored");
    if rows.unzoned {
        warnings.push("the dates name no time zone and are taken as UTC".into());
    }
    let bad: Vec<usize> =
        rows.layout.data_columns().filter(|&column| rows.sinks[column].bad.count > 0).collect();
    for &column in bad.iter().take(MAX_BAD_COLUMNS) {
        let (header, sink) = (&rows.layout.headers[column], &rows.sinks[column]);
        let readable = sink.values.iter().filter(|value| !value.is_nan()).count();
        let (count, line, sample) = (sink.bad.count, sink.bad.first, &sink.sample);
        warnings.push(if readable == 0 {
            format!(
                "line {line}: column \"{header}\" holds text (\"{sample}\"), not numbers; kept as missing"
            )
        } else {
            let cells = counted(count, "unreadable cell", "unreadable cells");
            format!("line {line}: column \"{header}\" has {cells} (\"{sample}\"); kept as missing")
        });
    }
    if bad.len() > MAX_BAD_COLUMNS {
        warnings.push(format!("{} more columns have unreadable cells", bad.len() - MAX_BAD_COLUMNS));
    }
    warnings.extend(rows.warnings.iter().cloned());
    warnings
}
