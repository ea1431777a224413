//! Times written as text: `m:ss.sss`, `h:mm:ss.sss`, and ISO 8601.

/// A time read from text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Clock {
    /// Minutes and seconds, as s; an hour hand may be missing, so it may start over every hour.
    Minutes(f64),
    /// Hours, minutes and seconds, as s: elapsed, or the time of day.
    Hours(f64),
    /// Date and time as Unix time, s; without a zone it is taken as UTC.
    Date { unix_s: f64, zoned: bool },
}

impl Clock {
    /// Seconds on this clock's own scale.
    pub(super) fn seconds(self) -> f64 {
        match self {
            Self::Minutes(s) | Self::Hours(s) => s,
            Self::Date { unix_s, .. } => unix_s,
        }
    }
}

/// Reads `m:ss[.s]`, `h:mm:ss[.s]` (with AM or PM), ISO 8601 with `T` or a space and an optional
/// zone, and the common `31.12.2026 23:59:59`, `31/12/2026 ...`, `2026/12/31 ...`.
///
/// A date with slashes and the year last is read as day/month unless that is impossible.
pub(super) fn read(text: &[u8]) -> Option<Clock> {
    let text = text.trim_ascii();
    // The longest of these, with nanoseconds and zone, has 35 characters.
    if text.len() > 40 || !text.contains(&b':') {
        return None;
    }
    match text.iter().position(|byte| matches!(byte, b'T' | b't' | b' ')) {
        Some(gap) if text[..gap].iter().all(|byte| byte.is_ascii_digit() || b"-/.".contains(byte)) => {
            let days = date(&text[..gap])?;
            let (time, zone_s) = split_zone(text[gap + 1..].trim_ascii_start());
            let unix_s = days as f64 * 86_400.0 - zone_s.unwrap_or(0.0) + time_of_day(time)?.seconds();
            Some(Clock::Date { unix_s, zoned: zone_s.is_some() })
        }
        _ => time_of_day(text),
    }
}

fn digits(text: &[u8]) -> Option<i64> {
    let fits = !text.is_empty() && text.len() <= 9 && text.iter().all(u8::is_ascii_digit);
    fits.then(|| text.iter().fold(0, |sum, digit| sum * 10 + i64::from(digit - b'0')))
}

/// Days since 1970-01-01.
fn date(text: &[u8]) -> Option<i64> {
    let mut parts = text.split(|byte| b"-/.".contains(byte));
    let (a, b, c) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    let (year, month, day) = match (a.len(), c.len()) {
        (4, _) => (digits(a)?, digits(b)?, digits(c)?),
        (_, 4) => {
            let (first, second) = (digits(a)?, digits(b)?);
            let american = text.contains(&b'/') && second > 12;
            let (month, day) = if american { (first, second) } else { (second, first) };
            (digits(c)?, month, day)
        }
        _ => return None,
    };
    ((1..=12).contains(&month) && (1..=31).contains(&day)).then(|| days_from_civil(year, month, day))
}

/// Days from 1970-01-01 in the proleptic Gregorian calendar (H. Hinnant, "chrono-compatible
/// low-level date algorithms", `days_from_civil`).
pub(super) fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = year - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
}

/// Takes `Z`, `+hh`, `+hhmm`, `+hh:mm` or ` UTC` off the end; gives its offset east of UTC, s.
fn split_zone(text: &[u8]) -> (&[u8], Option<f64>) {
    for utc in [&b"Z"[..], b"z", b" UTC", b" GMT"] {
        if let Some(time) = text.strip_suffix(utc) {
            return (time, Some(0.0));
        }
    }
    let Some(sign) = text.iter().rposition(|byte| matches!(byte, b'+' | b'-')) else { return (text, None) };
    let zone = &text[sign + 1..];
    let (hours, minutes) = match zone {
        [h1, h2] => (digits(&[*h1, *h2]), Some(0)),
        [h1, h2, b':', m1, m2] | [h1, h2, m1, m2] => (digits(&[*h1, *h2]), digits(&[*m1, *m2])),
        _ => (None, None),
    };
    let (Some(hours), Some(minutes)) = (hours, minutes) else { return (text, None) };
    let east_s = (hours * 3600 + minutes * 60) as f64;
    (text[..sign].trim_ascii_end(), Some(if text[sign] == b'-' { -east_s } else { east_s }))
}

fn time_of_day(text: &[u8]) -> Option<Clock> {
    let (text, noon) = match text {
        [time @ .., b'A' | b'a', b'M' | b'm'] => (time.trim_ascii_end(), Some(false)),
        [time @ .., b'P' | b'p', b'M' | b'm'] => (time.trim_ascii_end(), Some(true)),
        _ => (text, None),
    };
    let (text, sign) = match text {
        [b'-', rest @ ..] => (rest, -1.0),
        _ => (text, 1.0),
    };
    let mut parts = text.split(|&byte| byte == b':');
    let (first, second, third, fourth) = (parts.next()?, parts.next()?, parts.next(), parts.next());
    if parts.next().is_some() {
        return None;
    }
    let sixty =
        |text: &[u8]| digits(text).filter(|&value| text.len() == 2 && value < 60).map(|value| value as f64);
    let Some(third) = third else {
        let s = digits(first)? as f64 * 60.0 + seconds(second)?;
        return Some(Clock::Minutes(sign * s));
    };
    let mut hours = digits(first)? as f64;
    if let Some(afternoon) = noon {
        hours = hours % 12.0 + if afternoon { 12.0 } else { 0.0 };
    }
    let fraction = match fourth {
        // `hh:mm:ss:mmm`
        Some(ms) if ms.len() == 3 => digits(ms)? as f64 * 1e-3,
        Some(_) => return None,
        None => 0.0,
    };
    let s = seconds(third)?;
    if fourth.is_some() && s.fract() != 0.0 {
        return None;
    }
    Some(Clock::Hours(sign * (hours * 3600.0 + sixty(second)? * 60.0 + s + fraction)))
}

/// `ss`, `ss.sss` or `ss,sss`, below 61 (ISO 8601 has the leap second).
fn seconds(text: &[u8]) -> Option<f64> {
    let mark = text.iter().position(|byte| matches!(byte, b'.' | b',')).unwrap_or(text.len());
    let whole = digits(&text[..mark]).filter(|&value| mark <= 2 && value < 61)? as f64;
    let fraction = text.get(mark + 1..).unwrap_or_default();
    if fraction.is_empty() {
        return Some(whole);
    }
    let fraction = &fraction[..fraction.len().min(9)];
    Some(whole + digits(fraction)? as f64 / 10_f64.powi(fraction.len() as i32))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unix(text: &str) -> f64 {
        match read(text.as_bytes()) {
            Some(Clock::Date { unix_s, .. }) => unix_s,
            other => panic!("{text}: {other:?}"),
        }
    }

    /// RFC 3339, section 5.8: the first two name one instant, so do the next two; the Unix
    /// times are those of Python's `datetime.fromisoformat(...).timestamp()`.
    #[test]
    fn published_instants() {
        assert_eq!(unix("1985-04-12T23:20:50.52Z"), 482_196_050.52);
        assert_eq!(unix("1996-12-19T16:39:57-08:00"), 851_042_397.0);
        assert_eq!(unix("1996-12-20T00:39:57Z"), 851_042_397.0);
        assert_eq!(unix("1937-01-01T12:00:27.87+00:20"), -1_041_337_172.13);
        assert_eq!(unix("1970-01-01 00:00:00"), 0.0);
        assert_eq!(unix("31.12.1969 23:59:59,5 UTC"), -0.5);
    }

    #[test]
    fn clocks_as_people_write_them() {
        assert_eq!(read(b"1:02.5"), Some(Clock::Minutes(62.5)));
        assert_eq!(read(b"0:01:02,250"), Some(Clock::Hours(62.25)));
        assert_eq!(read(b"14:00:00:125"), Some(Clock::Hours(50_400.125)));
        assert_eq!(read(b"02:00:00 PM"), Some(Clock::Hours(50_400.0)));
        for text in ["12", "1:2:3:4:5", "1:99", "a:b", ":", "1:60:00", "2026-13-01 00:00:00", "1:02.x"] {
            assert_eq!(read(text.as_bytes()), None, "{text}");
        }
    }
}
