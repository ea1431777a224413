//! Days that nobody would make, and that nothing may lose: drawn from a seed, so that each can be made again.

use std::sync::Arc;

use evenkeel_core::handover::{DayFile, Remark, RemarkAt, RemarkPlace, Remarks, RunName};
use evenkeel_core::import::{Encoding, Format, Layout, TimeBase};
use evenkeel_core::setup::SetupSheet;
use evenkeel_core::{Column, Day, Log, MarkedMoment, Report, RunSheet, Source, Unit};

/// Draws odd things from a seed (xorshift64*, Vigna 2016).
pub struct Odd(u64);

/// Names that have broken programs: paths, markup, formulas, control characters, nothing at all.
const NAMES: [&str; 16] = [
    "",
    "Run 1",
    "../../etc/passwd",
    "/absolute",
    "C:\\logs\\run.csv",
    "a/b\\c:d*e?f|g",
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "=HYPERLINK(\"http://example.invalid\")",
    "+1-1@SUM(A1)",
    "line\nend\r\ttab\0nul\u{1b}[31m",
    "\u{202e}drawkcab\u{200b}",
    "Ünï\u{308}cödé 山 🚵",
    "-",
    "day.json",
    "logs/0/time.f64",
];

impl Odd {
    /// Draws of one seed.
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// Any 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `end`, 0 where that is 0.
    pub fn below(&mut self, end: usize) -> usize {
        (self.bits() >> 11) as usize % end.max(1)
    }

    /// One in so many.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    /// Anything that an `f32` can hold, and often enough what is special.
    pub fn f32(&mut self) -> f32 {
        match self.below(8) {
            0 => f32::NAN,
            1 => f32::from_bits(self.bits() as u32),
            2 => [0.0, -0.0, f32::INFINITY, f32::NEG_INFINITY, f32::MIN_POSITIVE / 2.0, f32::MAX]
                [self.below(6)],
            _ => (self.bits() >> 40) as f32 / 1e5 - 80.0,
        }
    }

    /// Anything finite that an `f64` can hold.
    pub fn finite(&mut self) -> f64 {
        match f64::from_bits(self.bits()) {
            number if number.is_finite() && self.once_in(2) => number,
            _ => (self.bits() >> 20) as f64 / 1e9 - 5e3,
        }
    }

    /// A name.
    pub fn name(&mut self) -> String {
        let mut name = NAMES[self.below(NAMES.len())].to_owned();
        if self.once_in(12) {
            name = name.repeat(300);
        }
        name
    }

    fn some<T>(&mut self, most: usize, mut draw: impl FnMut(&mut Self) -> T) -> Vec<T> {
        (0..self.below(most + 1)).map(|_| draw(self)).collect()
    }

    /// A source with anything in it, its time strictly rising.
    pub fn source(&mut self) -> Source {
        let rows = if self.once_in(6) { 0 } else { self.below(90) };
        let mut time_s: Vec<f64> = (0..rows).map(|_| self.finite()).collect();
        time_s.sort_by(f64::total_cmp);
        time_s.dedup();
        time_s.dedup_by(|a, b| *a <= *b);
        let columns = self.some(5, |odd| Column {
            header: odd.name(),
            unit_text: odd.name(),
            origin: if odd.once_in(6) { f64::NEG_INFINITY } else { odd.finite() },
            values: time_s.iter().map(|_| odd.f32()).collect(),
        });
        let layout = Layout {
            format: [Format::DelimitedText, Format::Gpx, Format::Nmea][self.below(3)],
            encoding: [Encoding::Utf8, Encoding::Utf16Le, Encoding::Utf16Be, Encoding::Latin1][self.below(4)],
            delimiter: [',', ';', '\t', '|', ' '][self.below(5)],
            decimal: ['.', ','][self.below(2)],
            skip_lines: self.below(1000),
            headers: self.some(6, Self::name),
            units: self.some(6, Self::name),
            time: match self.below(5) {
                0 => TimeBase::Number { column: self.below(9), unit: Unit::Millisecond },
                1 => TimeBase::Clock { column: self.below(9) },
                2 => TimeBase::Index { column: self.below(9), rate_hz: self.finite() },
                3 => TimeBase::Rate { rate_hz: self.finite() },
                _ => TimeBase::Unknown,
            },
            doubts: self.some(2, Self::name),
        };
        let report = Report {
            rows,
            rate_hz: if self.once_in(4) { f64::INFINITY } else { self.finite() },
            jitter_s: self.finite(),
            gaps: self.below(9),
            dropped: self.below(9),
            warnings: self.some(3, Self::name),
        };
        let epoch_unix_s = self.once_in(2).then(|| self.finite());
        Source { name: self.name(), time_s, epoch_unix_s, columns, layout, report }
    }

    /// A remark.
    pub fn remark(&mut self) -> Remark {
        let run = self.once_in(2).then(|| RunName { name: self.name(), log: self.name() });
        let at = match self.below(3) {
            0 => RemarkAt::Whole,
            1 => RemarkAt::TimeUs(self.bits() as i64),
            _ => RemarkAt::Section(self.name()),
        };
        Remark {
            written_ms: self.below(5) as i64,
            id: self.below(50).to_string(),
            author: self.name(),
            words: self.name(),
            place: RemarkPlace { run, at },
        }
    }

    /// Some remarks.
    pub fn remarks(&mut self) -> Remarks {
        self.some(6, Self::remark).into_iter().collect()
    }

    /// A day with sources, of which two may share a name.
    pub fn day_file(&mut self) -> DayFile {
        let mut sources: Vec<Arc<Source>> = self.some(4, |odd| Arc::new(odd.source()));
        if self.once_in(3) {
            sources.extend(sources.first().cloned());
        }
        let runs = self.some(4, |odd| RunSheet {
            name: odd.name(),
            words: odd.name(),
            setup: SetupSheet::default().with_words(odd.name()),
            logs: odd.some(3, |odd| Log { file: odd.name(), ..Log::default() }),
            marks: odd.some(3, |odd| MarkedMoment { time_s: odd.finite(), name: odd.name() }),
            ..RunSheet::default()
        });
        DayFile {
            id: self.name(),
            copy: self.once_in(2),
            day: Day { name: self.name(), runs, ..Day::default() },
            remarks: self.remarks(),
            sources,
        }
    }
}
