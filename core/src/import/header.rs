//! A header taken apart: words, and the unit that many loggers put at its end.

use super::roles;
use crate::unit::{Quantity, Unit};

/// The words of a header in lower case without accents: cut at anything but letters and digits,
/// between letters and digits, and at the humps of `camelCase`.
pub(super) fn words(header: &str) -> Vec<String> {
    let chars: Vec<char> = header.chars().take(256).collect();
    let mut words = vec![String::new()];
    for (i, &c) in chars.iter().enumerate() {
        let before = i.checked_sub(1).map(|i| chars[i]);
        let after = chars.get(i + 1).copied();
        let hump = before.is_some_and(|before| {
            before.is_numeric() != c.is_numeric()
                || before.is_lowercase() && c.is_uppercase()
                || before.is_uppercase() && c.is_uppercase() && after.is_some_and(char::is_lowercase)
        });
        if !c.is_alphanumeric() || hump {
            words.push(String::new());
        }
        if c.is_alphanumeric()
            && let Some(word) = words.last_mut()
        {
            word.extend(c.to_lowercase().map(without_accent));
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

fn without_accent(c: char) -> char {
    match c {
        'à' | 'á' | 'â' | 'ä' | 'ã' | 'å' => 'a',
        'è' | 'é' | 'ê' | 'ë' => 'e',
        'ì' | 'í' | 'î' | 'ï' => 'i',
        'ò' | 'ó' | 'ô' | 'ö' | 'õ' => 'o',
        'ù' | 'ú' | 'û' | 'ü' => 'u',
        'ç' => 'c',
        'ñ' => 'n',
        c => c,
    }
}

/// Splits `Acc X [g]`, `Gyro Z (deg/s)`, `Zeit / s`, `front_travel_mm`, `Speed, km/h` into name and
/// unit text. What only might be a unit (`handle_bar`) stays in the name.
pub(super) fn split(header: &str) -> (String, String) {
    let header = header.split_whitespace().collect::<Vec<_>>().join(" ");
    let header = header.trim_matches(|c: char| c == '"' || c == '\'' || c == ' ');
    bracketed(header)
        .or_else(|| after_slash(header))
        .or_else(|| trailing(header))
        .or_else(|| itself(header))
        .unwrap_or_else(|| (header.to_owned(), String::new()))
}

/// True for text that stands for a unit, known to [`Unit`] or not.
pub(super) fn is_unit(text: &str) -> bool {
    const OTHERS: &[&str] =
        &["hz", "khz", "n", "nm", "kn", "w", "a", "ma", "ohm", "j", "kg", "rev", "h", "°n", "°e"];
    let text = text.trim();
    !text.is_empty()
        && text.len() <= 16
        && !text.bytes().all(|byte| byte.is_ascii_digit())
        && (Unit::parse(text).is_some()
            || OTHERS.contains(&text.to_lowercase().as_str())
            || text.chars().any(|c| "/°²%µμ".contains(c)) && !text.contains(' '))
}

/// The text in brackets, where that is all there is.
pub(super) fn unbracketed(text: &str) -> &str {
    let text = text.trim();
    let inner = [('[', ']'), ('(', ')'), ('{', '}'), ('<', '>')]
        .iter()
        .find_map(|&(open, close)| text.strip_prefix(open)?.strip_suffix(close));
    inner.unwrap_or(text).trim()
}

fn bracketed(header: &str) -> Option<(String, String)> {
    [('[', ']'), ('(', ')'), ('{', '}'), ('<', '>')].iter().find_map(|&(open, close)| {
        let start = header.rfind(open)?;
        let end = start + header[start..].find(close)?;
        let (before, unit, after) = (&header[..start], &header[start + 1..end], &header[end + 1..]);
        let name = format!("{} {}", before.trim_end_matches([' ', '_']), after.trim());
        (is_unit(unit) && !name.trim().is_empty()).then(|| (name.trim().to_owned(), unit.trim().to_owned()))
    })
}

/// The way of ISO 80000-1: quantity / unit.
fn after_slash(header: &str) -> Option<(String, String)> {
    let (name, unit) = header.split_once('/')?;
    let spaced = name.ends_with(' ') || !name.contains([' ', '_']);
    (spaced && name.trim().len() > 2 && is_unit(unit))
        .then(|| (name.trim().to_owned(), unit.trim().to_owned()))
}

fn trailing(header: &str) -> Option<(String, String)> {
    let cuts: Vec<usize> =
        header.rmatch_indices([' ', '_', ',', '-', ':', '.']).map(|(at, _)| at).take(2).collect();
    let two = cuts.get(1).map(|&at| (at, header[at + 1..].replace(['_', ' '], "/")));
    let one = cuts.first().map(|&at| (at, header[at + 1..].to_owned()));
    [two, one].into_iter().flatten().find_map(|(at, text)| {
        let name = header[..at].trim_end_matches([' ', '_', ',', '-', ':', '.']);
        let name = name.strip_suffix(" in").unwrap_or(name);
        let unit = Unit::parse(&text)?;
        let digits = text.bytes().all(|byte| byte.is_ascii_digit());
        (!name.is_empty() && !digits && belongs(name, &text, unit)).then(|| (name.to_owned(), text))
    })
}

/// Whether a last word is the unit of what stands before it.
fn belongs(name: &str, text: &str, unit: Unit) -> bool {
    const ALSO_WORDS: &[&str] =
        &["in", "min", "bar", "rad", "count", "counts", "pulse", "pulses", "raw", "ticks", "grad"];
    if unit.quantity() == Quantity::Time {
        return is_time(name);
    }
    let quantity = roles::quantity(name);
    match quantity {
        Some(Quantity::Speed) => matches!(unit.quantity(), Quantity::Speed | Quantity::AngularRate),
        Some(quantity) => {
            let unit = Unit::parse_as(text, quantity).unwrap_or(unit);
            unit.quantity() == quantity || unit.quantity() == Quantity::Other && text.len() > 1
        }
        None => text.chars().count() > 1 && !ALSO_WORDS.contains(&text.to_lowercase().as_str()),
    }
}

/// `millis`, `us`, `seconds`: a header that is nothing but its unit.
fn itself(header: &str) -> Option<(String, String)> {
    let unit = Unit::parse(header)?;
    (unit.quantity() == Quantity::Time).then(|| (header.to_owned(), unit.symbol().to_owned()))
}

/// True for a header that names a time.
pub(super) fn is_time(header: &str) -> bool {
    const NAMES: &[&str] = &[
        "time",
        "t",
        "timestamp",
        "timestamps",
        "stamp",
        "elapsed",
        "clock",
        "timer",
        "utc",
        "datetime",
        "millis",
        "micros",
        "ms",
        "us",
        "ns",
        "s",
        "sec",
        "secs",
        "seconds",
        "uptime",
        "tick",
        "ticks",
        "epoch",
        "unix",
        "zeit",
        "zeitstempel",
        "uhrzeit",
        "laufzeit",
        "sekunden",
        "temps",
        "heure",
        "horodatage",
        "secondes",
        "tiempo",
        "hora",
        "segundos",
        "tempo",
        "ora",
        "orario",
        "secondi",
    ];
    let words = words(header);
    words.iter().any(|word| NAMES.contains(&word.as_str()) || word.starts_with("timestamp"))
        && !words.iter().any(|word| ["lap", "split", "section", "recovery", "runde"].contains(&word.as_str()))
}

/// True for a header that names a running sample index.
pub(super) fn is_index(header: &str) -> bool {
    const NAMES: &[&str] = &[
        "sample",
        "samples",
        "index",
        "idx",
        "row",
        "frame",
        "record",
        "scan",
        "i",
        "n",
        "nr",
        "no",
        "messpunkt",
        "zeile",
        "echantillon",
        "muestra",
        "campione",
        "indice",
        "indeks",
    ];
    let words = words(header);
    header.trim() == "#"
        || !words.is_empty() && words.iter().any(|word| NAMES.contains(&word.as_str())) && words.len() <= 2
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_many_spellings() {
        assert_eq!(words("front_travel_mm"), ["front", "travel", "mm"]);
        assert_eq!(words("GPSSpeed"), ["gps", "speed"]);
        assert_eq!(words("accX2"), ["acc", "x", "2"]);
        assert_eq!(words("Höhe über NN"), ["hohe", "uber", "nn"]);
        assert_eq!(words("FORK"), ["fork"]);
    }

    #[test]
    fn units_where_loggers_put_them() {
        for (header, name, unit) in [
            ("Acc X [g]", "Acc X", "g"),
            ("Gyro Z (deg/s)", "Gyro Z", "deg/s"),
            ("Acc [m/s²] Y", "Acc Y", "m/s²"),
            ("front_travel_mm", "front_travel", "mm"),
            ("P_front_bar", "P_front", "bar"),
            ("speed_km_h", "speed", "km/h"),
            ("acc_x_m_s2", "acc_x", "m/s2"),
            ("Zeit / s", "Zeit", "s"),
            ("Speed, km/h", "Speed", "km/h"),
            ("Geschwindigkeit in km/h", "Geschwindigkeit", "km/h"),
            ("time_ms", "time", "ms"),
            ("acc_z_g", "acc_z", "g"),
            ("temp_C", "temp", "C"),
            ("millis", "millis", "ms"),
            ("Travel (front)", "Travel (front)", ""),
            ("acc[0]", "acc[0]", ""),
            ("imu_on_bar", "imu_on_bar", ""),
            ("speed_min", "speed_min", ""),
            ("brake_1", "brake_1", ""),
            ("Flow [l/min]", "Flow", "l/min"),
        ] {
            assert_eq!(split(header), (name.to_owned(), unit.to_owned()), "{header}");
        }
    }
}
