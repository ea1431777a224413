//! Split lists: where each section ends, one a line, as text.

use super::{Mark, RunTrack, Section};
use crate::align::moment;
use crate::import::ImportError;
use crate::measured::NotMeasured;

/// More lines than any track has sections.
const MAX_SPLITS: usize = 500;
/// No list is longer, bytes.
const MAX_BYTES: usize = 1 << 20;

/// One line of a split list: the end of a section that began where the one before ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// Name of the section.
    pub name: String,
    /// Where it ends.
    pub place: SplitPlace,
    /// Its line, from 1.
    pub line: usize,
}

/// Where a section ends, counted from the start of the run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SplitPlace {
    /// Distance, m.
    DistanceM(f64),
    /// Time, s.
    TimeS(f64),
}

/// Reads a split list: `name, metres` or `name, m:ss.sss` a line; `;` or a tab part the two as well. The name
/// may hold the separator itself. Blank lines, lines that begin with `#`, and a first line without a number are
/// left out.
///
/// # Errors
/// A line without a name or a place, places that do not rise, metres and times mixed, no line at all.
pub fn read_splits(file: &str, text: &str) -> Result<Vec<Split>, ImportError> {
    let mut splits: Vec<Split> = Vec::new();
    if text.len() > MAX_BYTES {
        return Err(ImportError::at(file, 1, "the file is too long for a split list", "check the file"));
    }
    let text = text.trim_start_matches('\u{FEFF}');
    let mut heading_may_come = true;
    for (line, row) in (1..).zip(text.lines()) {
        let row = row.trim();
        if row.is_empty() || row.starts_with('#') {
            continue;
        }
        let refuse = |problem: String, remedy: &str| Err(ImportError::at(file, line, problem, remedy));
        let heading = std::mem::take(&mut heading_may_come);
        // A decimal comma must not be taken for the separator.
        let separator = ['\t', ';', ','].into_iter().find(|&c| row.contains(c));
        let Some((name, place)) = separator.and_then(|separator| row.rsplit_once(separator)) else {
            return refuse(
                format!("\"{}\" has no place", shown(row)),
                "write a name, a comma, and metres or m:ss.sss",
            );
        };
        let (name, text) = (name.trim().trim_matches('"').trim(), place.trim().trim_matches('"').trim());
        let Some(place) = place_of(text) else {
            if heading && !text.contains(|c: char| c.is_ascii_digit()) {
                continue;
            }
            return refuse(
                format!("\"{}\" is neither metres nor a time", shown(text)),
                "write metres (1234.5) or m:ss.sss",
            );
        };
        if name.is_empty() {
            return refuse("the section has no name".to_owned(), "write its name before the comma");
        }
        let follows = match (splits.last().map(|split| split.place), place) {
            (None, SplitPlace::DistanceM(now) | SplitPlace::TimeS(now)) => now > 0.0,
            (Some(SplitPlace::DistanceM(before)), SplitPlace::DistanceM(now))
            | (Some(SplitPlace::TimeS(before)), SplitPlace::TimeS(now)) => now > before,
            _ => {
                return refuse("metres and times are mixed".to_owned(), "write all places in one of the two");
            }
        };
        if !follows {
            return refuse(
                format!("{} does not come after the place before", shown(text)),
                "sort the lines by where the sections end",
            );
        }
        if splits.len() == MAX_SPLITS {
            return refuse(
                format!("there are more than {MAX_SPLITS} sections"),
                "check that this is a split list",
            );
        }
        splits.push(Split { name: name.to_owned(), place, line });
    }
    if splits.is_empty() {
        return Err(ImportError::at(file, 1, "there is no split", "write lines such as: Rock garden, 760"));
    }
    Ok(splits)
}

fn place_of(text: &str) -> Option<SplitPlace> {
    if text.contains(':') {
        return moment::parse(text, None).ok().map(|moment| SplitPlace::TimeS(moment.seconds));
    }
    let metres = text.strip_suffix('m').unwrap_or(text).trim();
    let plain = metres.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    metres.parse().ok().filter(|_| plain).map(SplitPlace::DistanceM)
}

/// As much of a text as fits into a message.
fn shown(text: &str) -> String {
    text.chars().take(40).collect()
}

/// The sections that a split list makes, its times taken in this run, its metres along the course; the first
/// begins at the start.
///
/// # Errors
/// Where a split lies beyond the end of the run, or the run is elsewhere than the course.
pub fn sections_from_splits(splits: &[Split], run: &RunTrack) -> Result<Vec<Section>, NotMeasured> {
    let distance = &run.distance;
    let start_s = distance.grid.time_s(distance.range.start);
    let mut start_m = 0.0;
    let mut sections = Vec::with_capacity(splits.len());
    for split in splits {
        let mark = match split.place {
            SplitPlace::DistanceM(distance_m) => Mark::DistanceM(distance_m),
            SplitPlace::TimeS(time_s) => Mark::LogS(start_s + time_s),
        };
        let end_m = run.place_m(mark, None).ok().filter(|end_m| *end_m > start_m).ok_or_else(|| {
            NotMeasured::because(format!("line {}: the run ends before \"{}\" does", split.line, split.name))
        })?;
        sections.push(Section { name: split.name.clone(), start_m, end_m, no_braking: false });
        start_m = end_m;
    }
    Ok(sections)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::Grid;
    use crate::track::{Course, RunDistance};

    fn places(text: &str) -> Vec<(String, SplitPlace)> {
        let read = read_splits("splits.csv", text).unwrap_or_else(|error| panic!("{error}"));
        read.into_iter().map(|split| (split.name, split.place)).collect()
    }

    #[test]
    fn metres_and_times_with_any_separator() {
        use SplitPlace::{DistanceM, TimeS};
        let expected = |places: [SplitPlace; 2]| {
            vec![("Start".to_owned(), places[0]), ("Rocks, upper".to_owned(), places[1])]
        };
        for text in ["Start, 180\nRocks, upper, 480.5\n", "section;end\n\nStart;180 m\nRocks, upper;480.5m"] {
            assert_eq!(places(text), expected([DistanceM(180.0), DistanceM(480.5)]), "{text}");
        }
        for text in [
            "# best\nStart,0:14.250\r\n\"Rocks, upper\",1:02.5\r\n",
            "name\ttime\nStart\t0:14,250\nRocks, upper\t1:02,5",
        ] {
            assert_eq!(places(text), expected([TimeS(14.25), TimeS(62.5)]), "{text}");
        }
    }

    #[test]
    fn a_line_that_cannot_be_read_says_where_and_what_to_do() {
        let error = |text: &str| read_splits("s.csv", text).unwrap_err().to_string();
        assert_eq!(
            error("Start,180\nRocks"),
            "s.csv:2:1: \"Rocks\" has no place; write a name, a comma, and metres or m:ss.sss"
        );
        assert!(error("Start,180\nRocks,far").contains("neither metres nor a time"));
        assert!(error("Start,180\nRocks,1e9").contains("neither metres nor a time"));
        assert!(error("Start,180\nRocks,90").starts_with("s.csv:2:1: 90 does not come after"));
        assert!(error("Start,180\nRocks,0:30").contains("mixed"));
        assert!(error("Start,180\n,190").contains("no name"));
        assert!(error("Start,-4").contains("neither"));
        assert!(error("Start,0:75.2").contains("neither"));
        assert!(error("").contains("there is no split"));
        assert!(error(&"x".repeat(2 << 20)).contains("too long"));
    }

    #[test]
    fn sections_follow_each_other_from_the_start() {
        // Stands for 2 s, then 5 m/s for 20 s.
        let grid = Grid { start_s: 100.0, rate_hz: 10.0, len: 221 };
        let distance_m = (0..grid.len).map(|k| 0.5 * k.saturating_sub(20) as f64).collect();
        let distance = RunDistance { grid, distance_m, range: 20..221 };
        let run = RunTrack::reference(distance.clone(), &Course::along(&distance, None));
        let sections = |text: &str| sections_from_splits(&read_splits("s", text).unwrap(), &run);
        let by_metres = sections("a,30\nb,80").unwrap();
        assert_eq!((by_metres[0].start_m, by_metres[0].end_m, by_metres[1].start_m), (0.0, 30.0, 30.0));
        assert_eq!(sections("a,0:06\nb,0:16").unwrap(), by_metres);
        assert!(sections("a,30\nb,200").unwrap_err().0.contains("line 2"));
    }
}
