//! NMEA 0183 sentences RMC, GGA and VTG of any talker, as many receivers and loggers store them.
//!
//! A sentence counts only with its checksum: the exclusive or of all characters between `$` and `*`, in two
//! hexadecimal digits. Sentences of the same time of day make one row.

use super::ImportError;
use super::clock::{Clock, days_from_civil};
use super::rows::Rows;
use super::stamps::Tally;
use crate::unit::Unit;

/// A time of day that goes back by more than this, s, has passed midnight.
const HALF_A_DAY_S: f64 = 43_200.0;
const DAY_S: f64 = 86_400.0;

/// True for the head of a file of sentences: most of its lines are, and one at least is whole.
pub(super) fn is_nmea(head: &str) -> bool {
    let lines: Vec<&str> = head.lines().map(str::trim).filter(|line| !line.is_empty()).take(200).collect();
    let sentences = lines.iter().filter(|line| line.starts_with(['$', '!'])).count();
    2 * sentences > lines.len() && lines.iter().any(|line| checked(line.as_bytes()).is_some())
}

/// Sentences while they arrive.
#[derive(Debug, Default)]
pub(super) struct Nmea {
    epochs: Vec<Epoch>,
    /// Lines with a wrong checksum or without one.
    damaged: Tally,
    /// Sentences of a receiver without a fix.
    no_fix: Tally,
}

/// What the sentences of one moment say.
#[derive(Clone, Copy, Debug)]
struct Epoch {
    line: usize,
    time_of_day_s: f64,
    /// Days since 1970-01-01.
    day: Option<i64>,
    latitude_deg: f64,
    longitude_deg: f64,
    height_m: f64,
    speed_mps: f64,
    course_deg: f64,
}

impl Epoch {
    fn new(line: usize, time_of_day_s: f64) -> Self {
        let no = f64::NAN;
        Self {
            line,
            time_of_day_s,
            day: None,
            latitude_deg: no,
            longitude_deg: no,
            height_m: no,
            speed_mps: no,
            course_deg: no,
        }
    }
}

impl Nmea {
    /// Takes one line in, without its end.
    pub(super) fn line(&mut self, number: usize, line: &[u8]) {
        if line.trim_ascii().is_empty() {
            return;
        }
        // Of a line with a NUL in it, more or less is here, as the file came in pieces.
        let whole = Some(line).filter(|line| !line.contains(&0));
        let Some(body) = whole.and_then(checked) else { return self.damaged.add(number) };
        let fields: Vec<&str> = body.split(',').map(str::trim).collect();
        let Some(address) = fields.first().filter(|address| address.len() == 5) else { return };
        match &address[2..] {
            "RMC" => self.rmc(number, &fields),
            "GGA" => self.gga(number, &fields),
            "VTG" => self.vtg(&fields),
            _ => {}
        }
    }

    /// The row of a time of day.
    fn epoch(&mut self, line: usize, time: &str) -> Option<&mut Epoch> {
        let time_of_day_s = time_of_day_s(time)?;
        let same = |epoch: &Epoch| (epoch.time_of_day_s - time_of_day_s).abs() < 1e-4;
        if !self.epochs.last().is_some_and(same) {
            self.epochs.push(Epoch::new(line, time_of_day_s));
        }
        self.epochs.last_mut()
    }

    /// `xxRMC,hhmmss.ss,A,llll.ll,a,yyyyy.yy,a,knots,course,ddmmyy,...`: A is a fix, V a warning.
    fn rmc(&mut self, line: usize, fields: &[&str]) {
        let field = |k: usize| fields.get(k).copied().unwrap_or_default();
        if field(2) != "A" {
            return self.no_fix.add(line);
        }
        let Some(epoch) = self.epoch(line, field(1)) else { return };
        (epoch.latitude_deg, epoch.longitude_deg) = position(field(3), field(4), field(5), field(6));
        epoch.speed_mps = Unit::Knot.to_si(number(field(7)));
        epoch.course_deg = number(field(8));
        epoch.day = day(field(9));
    }

    /// `xxGGA,hhmmss.ss,llll.ll,a,yyyyy.yy,a,quality,satellites,dilution,height,M,...`: quality 0 is no fix.
    fn gga(&mut self, line: usize, fields: &[&str]) {
        let field = |k: usize| fields.get(k).copied().unwrap_or_default();
        if matches!(field(6), "0" | "") {
            return self.no_fix.add(line);
        }
        let Some(epoch) = self.epoch(line, field(1)) else { return };
        if epoch.latitude_deg.is_nan() {
            (epoch.latitude_deg, epoch.longitude_deg) = position(field(2), field(3), field(4), field(5));
        }
        epoch.height_m = number(field(9));
    }

    /// `xxVTG,course,T,course,M,knots,N,km/h,K,mode`, of the moment of the sentence before; what RMC said
    /// stands.
    fn vtg(&mut self, fields: &[&str]) {
        let field = |k: usize| fields.get(k).copied().unwrap_or_default();
        let Some(epoch) = self.epochs.last_mut().filter(|_| field(9) != "N") else { return };
        let [knots, kmh] = [number(field(5)), number(field(7))];
        if epoch.speed_mps.is_nan() {
            let knots_mps = Unit::Knot.to_si(knots);
            epoch.speed_mps = if knots_mps.is_nan() { Unit::KilometrePerHour.to_si(kmh) } else { knots_mps };
        }
        if epoch.course_deg.is_nan() {
            epoch.course_deg = number(field(1));
        }
    }

    /// Reads what is left and puts the rows in order of sentences, dated by RMC where one tells the date.
    pub(super) fn finish(
        mut self,
        rest: Option<(usize, Vec<u8>)>,
        rows: &mut Rows,
    ) -> Result<(), ImportError> {
        if let Some((number, line)) = rest {
            self.line(number, &line);
        }
        if self.epochs.is_empty() {
            let (problem, remedy) = match (self.no_fix.count, self.damaged.count) {
                (1.., _) => ("the receiver had no fix all through", "let it find satellites before the run"),
                (_, 1..) => ("no sentence has a right checksum", "copy the file again from the receiver"),
                _ => ("there is no RMC or GGA sentence", "let the receiver write RMC, GGA and VTG"),
            };
            return Err(ImportError::at(rows.name(), 1, problem, remedy));
        }
        let mut tell = |tally: Tally, what: &str| {
            if tally.count > 0 {
                let lines = if tally.count == 1 { "line is" } else { "lines are" };
                rows.warnings.push(format!("line {}: {} {lines} dropped: {what}", tally.first, tally.count));
            }
        };
        tell(self.damaged, "the checksum is wrong or missing");
        tell(self.no_fix, "the receiver had no fix");
        rows.text_rows = self.damaged;
        let dated = date(&mut self.epochs);
        if !dated {
            rows.warnings.push("no RMC sentence tells the date; the time is that of the day".into());
        }
        for epoch in &self.epochs {
            let clock = match epoch.day {
                Some(day) => Clock::Date { unix_s: day as f64 * DAY_S + epoch.time_of_day_s, zoned: true },
                None => Clock::Hours(epoch.time_of_day_s),
            };
            let values =
                [epoch.latitude_deg, epoch.longitude_deg, epoch.height_m, epoch.speed_mps, epoch.course_deg];
            rows.point(epoch.line, Some(clock), &values);
        }
        Ok(())
    }
}

/// Carries the date from the rows that have it to those that have none, over midnight; false if none has it.
fn date(epochs: &mut [Epoch]) -> bool {
    let Some(first) = epochs.iter().position(|epoch| epoch.day.is_some()) else { return false };
    let leap = |from: f64, to: f64| i64::from(from - to > HALF_A_DAY_S) - i64::from(to - from > HALF_A_DAY_S);
    for k in (0..first).rev() {
        let next = epochs[k + 1];
        epochs[k].day = next.day.map(|day| day - leap(epochs[k].time_of_day_s, next.time_of_day_s));
    }
    for k in first + 1..epochs.len() {
        let before = epochs[k - 1];
        let carried = before.day.map(|day| day + leap(before.time_of_day_s, epochs[k].time_of_day_s));
        epochs[k].day = epochs[k].day.or(carried);
    }
    true
}

/// What stands between `$` and `*` of a line whose checksum is right.
fn checked(line: &[u8]) -> Option<&str> {
    // What another sentence cut short left before this one does not matter.
    let start = line.iter().rposition(|byte| matches!(byte, b'$' | b'!'))?;
    let (body, checksum) = std::str::from_utf8(&line[start + 1..]).ok()?.trim_end().split_once('*')?;
    let told = checksum.get(..2).filter(|_| checksum.len() == 2)?;
    let told = u8::from_str_radix(told, 16).ok()?;
    (body.is_ascii() && body.bytes().fold(0, |sum, byte| sum ^ byte) == told).then_some(body)
}

fn number(text: &str) -> f64 {
    text.parse().ok().filter(|value: &f64| value.is_finite()).unwrap_or(f64::NAN)
}

/// `hhmmss` or `hhmmss.ss` in s.
fn time_of_day_s(text: &str) -> Option<f64> {
    let (h, m, s) = (text.get(..2)?, text.get(2..4)?, text.get(4..)?);
    let whole = |digits: &str, limit: u32| digits.parse::<u32>().ok().filter(|&value| value < limit);
    let s = s.parse::<f64>().ok().filter(|s| (0.0..61.0).contains(s))?;
    Some(f64::from(3600 * whole(h, 24)? + 60 * whole(m, 60)?) + s)
}

/// `ddmmyy` as days since 1970; years below 80 are those after 2000.
fn day(text: &str) -> Option<i64> {
    let two = |k: usize| text.get(k..k + 2)?.parse::<i64>().ok();
    let (day, month, year) = (two(0)?, two(2)?, two(4)?);
    let year = year + if year < 80 { 2000 } else { 1900 };
    let real = text.len() == 6 && (1..=31).contains(&day) && (1..=12).contains(&month);
    real.then(|| days_from_civil(year, month, day))
}

/// `ddmm.mmmm,N,dddmm.mmmm,E` in degrees; both NaN where one is no angle.
fn position(latitude: &str, north: &str, longitude: &str, east: &str) -> (f64, f64) {
    let degrees = |text: &str, sign: &str, [positive, negative]: [&str; 2], largest: f64| {
        let value = number(text);
        let whole = (value / 100.0).trunc();
        let minutes = value - 100.0 * whole;
        let degrees = whole + minutes / 60.0;
        let fine = value >= 0.0 && minutes < 60.0 && degrees <= largest;
        match sign {
            _ if !fine => None,
            sign if sign == positive => Some(degrees),
            sign if sign == negative => Some(-degrees),
            _ => None,
        }
    };
    let latitude = degrees(latitude, north, ["N", "S"], 90.0);
    let longitude = degrees(longitude, east, ["E", "W"], 180.0);
    latitude.zip(longitude).unwrap_or((f64::NAN, f64::NAN))
}
